package phase

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// kinkFit fits a motion with kinks to some points, by what blocks show of it.
type kinkFit struct {
	first  int // of the points
	p      []Point
	length []float64 // of their blocks
	mean   []float64 // by how much the mean phase of the course over a block exceeds that in its middle
	step   float64   // from one point to the next
	t      []float64 // of the kinks
	bend   *law      // how the motion bends beside the kinks
	bent   []Smooth
	x      []float64 // phase, rate, acceleration at the first point, jumps at the kinks
	miss   float64   // the weighted squares that are left
	known  []float64 // the standard deviations of the moments
}

// newKinkFit returns what fits kinks near some points, nil where it has too few.
func (f *follower) newKinkFit(p []Point, near []int) *kinkFit {
	a, b := near[0], near[len(near)-1]
	first, end := max(0, a-kinkPoints), min(len(p), b+kinkPoints+1)
	for first > 0 && p[first-1].T > p[a].T-kinkSeconds {
		first--
	}
	for end < len(p) && p[end].T < p[b].T+kinkSeconds {
		end++
	}
	if a-first < kinkLeast || end-1-b < kinkLeast {
		return nil
	}
	k := &kinkFit{first: first, p: p[first:end], bend: &law{}}
	k.step = (p[end-1].T - p[first].T) / float64(end-1-first)
	c := f.now.phase()
	for i := range k.p {
		l := f.l.blocks[first+i].Length
		k.length = append(k.length, l)
		k.mean = append(k.mean, hannMean(func(d float64) float64 { return c(k.p[i].T + d) }, l)-c(k.p[i].T))
	}
	for _, i := range near {
		k.t = append(k.t, p[i].T)
	}
	return k
}

// find looks for the moments of the kinks, and reports whether they are found.
func (k *kinkFit) find(bends bool) bool {
	for round := range bendRounds {
		k.bent = k.bend.bends(k.p)
		if !k.solve() {
			return false
		}
		if round == 0 {
			for range 2 {
				for j := range k.t {
					k.look(j, kinkOff*k.step, k.step/4)
				}
			}
		}
		before := slices.Clone(k.t)
		for range mostSteps {
			if !k.improve() {
				break
			}
		}
		if !bends || round > 0 && farthest(before, k.t) < 2e-3*k.step {
			break
		}
		k.bend = k.ratios()
	}
	k.known = k.errors()
	if k.known == nil || slices.Max(k.known) > k.step {
		return false
	}
	return k.miss < mostMissed*k.left() && (k.rounded()-k.miss)/2 > kinkCost*float64(len(k.t))
}

// rounded returns the weighted squares that a motion without kinks leaves, a polynomial
// with as many unknowns.
func (k *kinkFit) rounded() float64 {
	n, first := 3+2*len(k.t), k.p[0].T
	a, b := mat.NewDense(len(k.p), n, nil), mat.NewVecDense(len(k.p), nil)
	half := (k.p[len(k.p)-1].T - first) / 2
	for i, q := range k.p {
		w := 1 / math.Sqrt(q.Var)
		v := w
		for j := range n {
			a.Set(i, j, v)
			v *= (q.T-first)/half - 1
		}
		b.SetVec(i, w*k.seen(i))
	}
	_, miss := leastSquares(a, b)
	return miss
}

// left returns how many more points there are than unknowns.
func (k *kinkFit) left() float64 { return math.Max(1, float64(len(k.p)-3-2*len(k.t))) }

// farthest returns by how much two lists of moments differ at most.
func farthest(a, b []float64) (most float64) {
	for i := range a {
		most = math.Max(most, math.Abs(a[i]-b[i]))
	}
	return most
}

// bounds returns from when to when kinks may lie.
func (k *kinkFit) bounds() (from, to float64) { return k.p[kinkLeast-1].T, k.p[len(k.p)-kinkLeast].T }

// look tries moments of kink j up to reach away, by from one to the next.
func (k *kinkFit) look(j int, reach, by float64) {
	was, best, at := k.t[j], k.miss, k.t[j]
	lo, hi := k.bounds()
	if j > 0 {
		lo = k.t[j-1] + k.step
	}
	if j+1 < len(k.t) {
		hi = k.t[j+1] - k.step
	}
	for d := -reach; d < reach+by/2; d += by {
		if k.t[j] = was + d; k.t[j] < lo || k.t[j] > hi {
			continue
		}
		if k.solve(); k.miss < best {
			best, at = k.miss, k.t[j]
		}
	}
	k.t[j] = at
	k.solve()
}

// improve moves the kinks to where they miss the points the least as far as the slopes
// tell, and reports whether that was any use.
func (k *kinkFit) improve() bool {
	x, _ := leastSquares(k.equations(true))
	if x == nil {
		return false
	}
	was, best, n := slices.Clone(k.t), k.miss, 3+len(k.t)
	first, end := k.bounds()
	for share := 1.0; share > 0.2; share /= 2 {
		lo, hi, most := first, end, 0.0
		for j, t := range was {
			d := math.Max(-k.step, math.Min(k.step, share*x[n+j]))
			k.t[j] = math.Max(lo, math.Min(hi, t+d))
			lo, most = k.t[j]+k.step, math.Max(most, math.Abs(k.t[j]-t))
		}
		if k.solve() && k.miss < best {
			return most > 1e-3*k.step
		}
	}
	copy(k.t, was)
	k.solve()
	return false
}

// errors returns the standard deviations to which the moments of the kinks are known, nil
// where nothing is.
func (k *kinkFit) errors() (sd []float64) {
	a, _ := k.equations(true)
	var square, inverse mat.Dense
	square.Mul(a.T(), a)
	if inverse.Inverse(&square) != nil {
		return nil
	}
	wide := math.Max(1, k.miss/k.left())
	for j := range k.t {
		n := 3 + len(k.t) + j
		sd = append(sd, math.Sqrt(wide*math.Max(0, inverse.At(n, n))))
	}
	return sd
}

// terms fills in what one each of the unknowns gives at point i.
func (k *kinkFit) terms(row []float64, i int) {
	d, l := k.p[i].T-k.p[0].T, k.length[i]
	row[0], row[1], row[2] = 1, d, (d*d+hannSpread*l*l)/2
	for j, t := range k.t {
		row[3+j] = l * l * hannRamp((k.p[i].T-t)/l)
	}
}

// seen returns the mean phase of block i, less the bending and the motion at the first
// point as it was.
func (k *kinkFit) seen(i int) float64 {
	return k.p[i].Phi - k.p[0].Phi + k.mean[i] - k.bent[i].Phi - hannSpread*k.length[i]*k.length[i]*k.bent[i].Alpha/2 -
		(k.p[i].T-k.p[0].T)*k.p[0].Rate
}

// equations returns what the unknowns give at the points, and what is seen there, over the
// noise; and what a later moment of each kink would change, if asked for.
func (k *kinkFit) equations(moments bool) (a *mat.Dense, b *mat.VecDense) {
	n, all := 3+len(k.t), 3+len(k.t)
	if moments {
		all += len(k.t)
	}
	a, b = mat.NewDense(len(k.p), all, nil), mat.NewVecDense(len(k.p), nil)
	for i, q := range k.p {
		row := a.RawRowView(i)
		k.terms(row[:n], i)
		for j := range row[n:] {
			row[n+j] = -k.x[3+j] * k.length[i] * hannSlope((q.T-k.t[j])/k.length[i])
		}
		w := 1 / math.Sqrt(q.Var)
		for j := range row {
			row[j] *= w
		}
		b.SetVec(i, w*k.seen(i))
	}
	return a, b
}

// solve fits the unknowns for the kinks where they are.
func (k *kinkFit) solve() bool {
	var x []float64
	if x, k.miss = leastSquares(k.equations(false)); x == nil {
		return false
	}
	k.x = x
	return true
}

// leastSquares returns the x that brings ax nearest to b, and the squares that are left:
// nil and infinity where there is no such.
func leastSquares(a *mat.Dense, b *mat.VecDense) (x []float64, left float64) {
	var qr mat.QR
	var v, d mat.VecDense
	qr.Factorize(a)
	if qr.SolveVecTo(&v, false, b) != nil {
		return nil, math.Inf(1)
	}
	d.MulVec(a, &v)
	d.SubVec(b, &d)
	return v.RawVector().Data, mat.Dot(&d, &d)
}

// motion returns the motion found at t, behind the kinks before that.
func (k *kinkFit) motion(t float64, bent Smooth, kinks int) (omega, alpha float64) {
	omega, alpha = k.p[0].Rate+k.x[1]+k.x[2]*(t-k.p[0].T)+bent.Omega, k.x[2]+bent.Alpha
	for j, at := range k.t[:kinks] {
		omega, alpha = omega+k.x[3+j]*(t-at), alpha+k.x[3+j]
	}
	return omega, alpha
}

// ratios returns the bending of equal ratios along the motion found.
func (k *kinkFit) ratios() *law {
	l := &law{}
	add := func(t float64, bent Smooth, kinks int) {
		w, a := k.motion(t, bent, kinks)
		l.t, l.jerk = append(l.t, t), append(l.jerk, a*a/w)
	}
	j := 0
	for i, q := range k.p {
		for ; j < len(k.t) && k.t[j] < q.T; j++ {
			bent, h := k.bend.bends([]Point{k.p[i-1], {T: k.t[j]}})[1], k.t[j]-k.p[i-1].T
			bent.Omega += k.bent[i-1].Omega + h*k.bent[i-1].Alpha
			bent.Alpha += k.bent[i-1].Alpha
			add(k.t[j]-1e-9, bent, j)
			add(k.t[j]+1e-9, bent, j+1)
		}
		add(q.T, k.bent[i], j)
	}
	return l
}

// shift adds by how much the points would lie elsewhere.
func (k *kinkFit) shift(by []float64) {
	for i, q := range k.p {
		l := k.length[i]
		d := k.mean[i] - hannSpread*l*l*(k.x[2]+k.bent[i].Alpha)/2
		for j, t := range k.t {
			u := math.Max(0, q.T-t)
			d += k.x[3+j] * (u*u/2 - l*l*hannRamp((q.T-t)/l))
		}
		by[i] += d
	}
}

// hannSpread is the variance of a Hann window over the square of its length.
const hannSpread = 1.0/12 - 1/(2*math.Pi*math.Pi)

// hannRamp returns the mean of (t-a)²/2, where t is after a, under a Hann window of
// length one whose middle lies u behind a.
func hannRamp(u float64) float64 {
	switch {
	case u <= -0.5:
		return 0
	case u >= 0.5:
		return (u*u + hannSpread) / 2
	}
	a := u + 0.5
	return a*a*a/6 - a/(4*math.Pi*math.Pi) - math.Sin(2*math.Pi*u)/(8*math.Pi*math.Pi*math.Pi)
}

// hannSlope is the derivative of hannRamp: the mean of t-a behind a.
func hannSlope(u float64) float64 {
	switch {
	case u <= -0.5:
		return 0
	case u >= 0.5:
		return u
	}
	a := u + 0.5
	return a*a/2 - (1+math.Cos(2*math.Pi*u))/(4*math.Pi*math.Pi)
}

// hannMean returns the mean of y under a Hann window of length l around 0.
func hannMean(y func(d float64) float64, l float64) float64 {
	const looks = 32
	sum := 0.0
	for i := range looks {
		x := (float64(i)+0.5)/looks - 0.5
		sum += (1 + math.Cos(2*math.Pi*x)) / looks * y(x*l)
	}
	return sum
}
