package phase

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// kinkFit fits a motion with kinks to some points, by what blocks show of it: pieces that
// meet at the kinks, straight lines or curves of equal ratios.
type kinkFit struct {
	first  int // of the points
	p      []Point
	length []float64 // of their blocks
	mean   []float64 // by how much the mean phase of the course over a block exceeds that in its middle
	step   float64   // from one point to the next
	near   []float64 // about where the kinks are
	bends  bool
	// the unknowns: the moments of the kinks; the phase at the first point; the rates
	// there, at the kinks and at the last point
	x    []float64
	miss float64   // the weighted squares that are left
	sd   []float64 // the standard deviations of the moments
}

// piece is the motion where one begins, and by how much its acceleration is then higher
// than that of the one before.
type piece struct {
	from float64
	Smooth
	jump float64
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
	k := &kinkFit{first: first, p: p[first:end]}
	c := f.now.phase()
	for i, q := range k.p {
		l := f.l.blocks[first+i].Length
		k.length = append(k.length, l)
		k.mean = append(k.mean, hannMean(func(d float64) float64 { return c(q.T + d) }, l)-c(q.T))
	}
	for _, i := range near {
		k.near = append(k.near, p[i].T)
	}
	return k
}

// kinks returns how many there are.
func (k *kinkFit) kinks() int { return (len(k.x) - 3) / 2 }

// find looks for the moments of the kinks, near those given, without any whose moment is
// not known to a step, and reports whether there are some.
func (k *kinkFit) find(bends bool) bool {
	for kinks := k.near; len(kinks) > 0; {
		if !k.fit(kinks, bends) {
			return false
		}
		worst := 0
		for j, sd := range k.sd {
			if sd > k.sd[worst] {
				worst = j
			}
		}
		if k.sd[worst] < k.step {
			return k.miss < mostMissed*k.left() && (k.rounded()-k.miss)/2/k.wide() > kinkCost*float64(len(kinks))
		}
		kinks = slices.Delete(slices.Clone(kinks), worst, worst+1)
	}
	return false
}

// fit moves kinks from some moments to where the motion misses the points the least, and
// reports whether they are known then.
func (k *kinkFit) fit(kinks []float64, bends bool) bool {
	n := len(k.p)
	k.step = (k.p[n-1].T - k.p[0].T) / float64(n-1)
	k.x = slices.Concat(kinks, make([]float64, len(kinks)+3))
	k.bends = false // which the lines begin with
	if k.miss = k.missed(k.x); math.IsInf(k.miss, 1) {
		return false
	}
	k.improve(len(kinks)) // the rates first, of which nothing is known yet
	k.settle()
	if k.bends = bends; bends {
		if k.miss = k.missed(k.x); math.IsInf(k.miss, 1) {
			return false
		}
		k.settle()
	}
	k.sd = k.errors()
	return k.sd != nil
}

// left returns how many more points there are than unknowns.
func (k *kinkFit) left() float64 { return math.Max(1, float64(len(k.p)-len(k.x))) }

// wide is by how much the variance of the points is larger than by their noise, by what the
// motion misses, at least one.
func (k *kinkFit) wide() float64 { return math.Max(1, k.miss/k.left()) }

// settle moves all unknowns to where the motion misses the points the least: until that
// makes them likelier by no more than a hundredth, which takes four steps or five.
func (k *kinkFit) settle() {
	const most = 10
	for range most {
		if before := k.miss; !k.improve(0) || before-k.miss < 0.02 {
			break
		}
	}
}

// improve moves the unknowns from one on to where they miss the points the least, as far
// as slopes tell (Gauss and Newton), or less far if that is better, and reports whether
// that was any use. No kink moves by more than a step.
func (k *kinkFit) improve(from int) bool {
	d, _ := leastSquares(k.equations(from))
	if d == nil {
		return false
	}
	share := 1.0
	for j := from; j < k.kinks(); j++ {
		share = math.Min(share, k.step/math.Abs(d[j]))
	}
	for range 5 {
		x := slices.Clone(k.x)
		for j, v := range d {
			x[from+j] += share * v
		}
		if miss := k.missed(x); miss < k.miss {
			k.x, k.miss = x, miss
			return true
		}
		share /= 2
	}
	return false
}

// pieces returns the pieces of the motion with some unknowns, nil where that cannot be.
func (k *kinkFit) pieces(x []float64) (all []piece) {
	n := k.kinks()
	first, last := k.p[kinkLeast-1].T, k.p[len(k.p)-kinkLeast].T
	rates := x[n+1:]
	s, from := Smooth{Phi: x[n]}, k.p[0].T
	for j, rate := range rates[:n+1] {
		end := k.p[len(k.p)-1].T
		if j < n {
			if end = x[j]; end < first || end > last || j > 0 && end < from+k.step {
				return nil
			}
		}
		was := s.Alpha
		s.Omega, s.Alpha = rate, (rates[j+1]-rate)/(end-from)
		if k.bends {
			if rate <= 0 || rates[j+1] <= 0 {
				return nil
			}
			s.Alpha = rate * math.Log(rates[j+1]/rate) / (end - from)
		}
		all = append(all, piece{from, s, s.Alpha - was})
		s, from = k.on(s, end-from), end
	}
	return all
}

// on returns a motion h later.
func (k *kinkFit) on(s Smooth, h float64) Smooth {
	if r := s.Alpha / s.Omega; k.bends && r != 0 {
		more := math.Expm1(r * h)
		return Smooth{Phi: s.Phi + s.Omega*more/r, Omega: s.Omega * (1 + more), Alpha: s.Alpha * (1 + more)}
	}
	return Smooth{Phi: s.Phi + h*(s.Omega+h*s.Alpha/2), Omega: s.Omega + h*s.Alpha, Alpha: s.Alpha}
}

// at returns the motion at t.
func (k *kinkFit) at(all []piece, t float64) Smooth {
	j := len(all) - 1
	for j > 0 && all[j].from > t {
		j--
	}
	return k.on(all[j].Smooth, t-all[j].from)
}

// over returns by how much the mean phase over block i exceeds that in its middle, where
// the motion is s: its mean is that of the ramps at the kinks and of a parabola beside.
func (k *kinkFit) over(all []piece, s Smooth, i int) (d float64) {
	l := k.length[i]
	for _, q := range all[1:] {
		u := (k.p[i].T - q.from) / l
		if u >= 0 {
			d -= q.jump * u * u / 2
			s.Alpha -= q.jump
		}
		d += q.jump * hannRamp(u)
	}
	return l * l * (d + hannSpread*s.Alpha/2)
}

// seen returns the mean phase of block i, from the first point on.
func (k *kinkFit) seen(i int) float64 { return k.p[i].Phi - k.p[0].Phi + k.mean[i] }

// misses returns by how much a motion misses the points, over their noise.
func (k *kinkFit) misses(x []float64) (e []float64) {
	all := k.pieces(x)
	if all == nil {
		return nil
	}
	for i, q := range k.p {
		s := k.at(all, q.T)
		e = append(e, (k.seen(i)-s.Phi-k.over(all, s, i))/math.Sqrt(q.Var))
	}
	return e
}

// missed returns the sum of their squares.
func (k *kinkFit) missed(x []float64) (sum float64) {
	e := k.misses(x)
	if e == nil {
		return math.Inf(1)
	}
	for _, v := range e {
		sum += v * v
	}
	return sum
}

// equations returns what the unknowns from one on change at the points, and what is missed
// there, over the noise.
func (k *kinkFit) equations(from int) (a *mat.Dense, b *mat.VecDense) {
	e := k.misses(k.x)
	a, b = mat.NewDense(len(e), len(k.x)-from, nil), mat.NewVecDense(len(e), e)
	for j := from; j < len(k.x); j++ {
		d := 1e-3 // of the phase and the rates, in which it is nearly linear
		if j < k.kinks() {
			d *= k.step
		}
		x := slices.Clone(k.x)
		x[j] += d
		changed := k.misses(x)
		if changed == nil { // beyond what can be
			d = -d
			x[j] = k.x[j] + d
			changed = k.misses(x)
		}
		for i, v := range changed {
			a.Set(i, j-from, (e[i]-v)/d)
		}
	}
	return a, b
}

// errors returns the standard deviations to which the moments of the kinks are known, nil
// where nothing is.
func (k *kinkFit) errors() (sd []float64) {
	a, _ := k.equations(0)
	var square, inverse mat.Dense
	square.Mul(a.T(), a)
	if inverse.Inverse(&square) != nil {
		return nil
	}
	wide := k.wide()
	for j := range k.kinks() {
		sd = append(sd, math.Sqrt(wide*math.Max(0, inverse.At(j, j))))
	}
	return sd
}

// rounded returns the weighted squares that a motion without kinks leaves, a polynomial
// with as many unknowns.
func (k *kinkFit) rounded() float64 {
	n, first := len(k.x), k.p[0].T
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

// law returns the kinks found and, if it bends, how the motion bends around them.
func (k *kinkFit) law() *law {
	l, all := &law{}, k.pieces(k.x)
	for j, q := range all[1:] {
		l.kinks = append(l.kinks, kink{q.from, k.sd[j], q.jump})
	}
	if !k.bends {
		return l
	}
	for i, q := range k.p {
		l.t = append(l.t, q.T)
		for n := 1.0; i+1 < len(k.p) && n < 4; n++ {
			l.t = append(l.t, q.T+n/4*(k.p[i+1].T-q.T))
		}
	}
	for _, q := range all[1:] {
		l.t = append(l.t, q.from-1e-9, q.from+1e-9)
	}
	slices.Sort(l.t)
	for _, t := range l.t {
		s := k.at(all, t)
		l.jerk = append(l.jerk, s.Alpha*s.Alpha/s.Omega)
	}
	return l
}

// shift adds by how much the points would lie elsewhere.
func (k *kinkFit) shift(by []float64) {
	all := k.pieces(k.x)
	for i, q := range k.p {
		by[i] += k.mean[i] - k.over(all, k.at(all, q.T), i)
	}
}
