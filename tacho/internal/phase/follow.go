package phase

import (
	"math"
	"math/cmplx"
	"slices"

	"rotorhum/tacho/internal/rank"
	"rotorhum/tacho/internal/sound"
)

// Options bounds what is followed.
type Options struct {
	// Harmonics is the number of harmonics used at most.
	Harmonics int
	// Memory is the time over which the lines are taken to keep their
	// amplitudes and phases, in seconds.
	Memory float64
	// Pulses is the number of pulses of a turn if their pattern, which comes again
	// with every turn, is to be told from changes of speed; 0 for not.
	Pulses int
	// Progress, if not nil, is called with the share done, 0 to 1.
	Progress func(done float64)
}

// Result is a followed course.
type Result struct {
	Blocks []Block
	// Motion is the smoothed motion of the first harmonic at each block.
	Motion []Smooth
	// Points are the phases that were smoothed.
	Points []Point
	// Q is the intensity of changes of acceleration that the sound shows: the
	// median over the course, or calmest times the one that explains all of it.
	Q float64
	// Inflation is the factor by which the lines scatter more than their noise
	// explains, at least 1, mean over the course; the variances include it.
	Inflation float64
	// Coherence is the share of the lines' power that keeps its phase along the
	// course: near 1 for a rotor close by, less in echo, little for a voice.
	Coherence float64
	// SNR is the power of the lines over the noise between them, per block.
	SNR []float64
	// Lines is the strength of each harmonic over the course: the mean
	// normalised power above noise.
	Lines []float64
	// Like and LikeSteady are the log likelihoods with intensity Q and with
	// a steady rate.
	Like, LikeSteady float64

	prior     Prior
	noise     [][][]float64
	summaries []summary // instead of the blocks' lines
}

// Noise returns the noise variance per sample around harmonic m (0 is the
// first) of channel c at block i.
func (r *Result) Noise(i, c, m int) float64 { return r.noise[c][m][i] }

// locked is the state of the lines along the blocks.
type locked struct {
	src    *sound.Source
	blocks []Block
	theta  []float64        // correction to the phase of the course per block
	lines  [][][]complex128 // channel, harmonic, block
	noise  [][][]float64    // the same
	sum    []float64        // of the blocks' windows
	since  []float64        // their times from the first one
	used   []int            // harmonics used, per block
	memory []float64        // for how long lines keep their phases, in seconds, per block
	first  int              // the lowest that stands out as clearly as any
	strong int              // the highest that stands out of its noise in every block
	// factors are how much more than their noise the lines disagree, per block
	// and span
	factors [][len(spans)]float64
	// kept and all are the lines' power that agrees with the local mean, and
	// the whole of it, per block
	kept, all []float64
}

// refined is the relative error of a course that has been improved already, and
// wants one pass less.
const refined = 0.002

// The course that is given is taken to be right to within this standard
// deviation, relative, anew every so many seconds.
// In the end it counts with givenHold times that.
const givenError, givenSeconds, givenHold = 0.004, 0.15, 4.0

// Follow improves a course. rough is the relative error to expect of it.
func Follow(src *sound.Source, c Course, rough float64, opt Options) (*Result, error) {
	if c.T[len(c.T)-1]-c.T[0] > longest {
		return followPieces(src, c, rough, opt)
	}
	return follow(src, c, rough, opt)
}

// follow is Follow for a course of no great length.
func follow(src *sound.Source, c Course, rough float64, opt Options) (*Result, error) {
	const cycles, shortest = 4, 0.008
	var r *Result
	given := c
	var known []float64 // the relative error to expect, per block
	passes := 3
	if rough <= refined {
		passes = 2
	}
	var last *locked
	for pass := 0; pass < passes; pass++ {
		top := 0.0
		for _, f := range c.Rate {
			top = math.Max(top, f)
		}
		harmonics := max(1, min(opt.Harmonics, int(0.45*src.Rate/top)))
		blocks, err := Demodulate(src, c, harmonics, cycles, shortest)
		if err != nil {
			return nil, err
		}
		if len(blocks) < 5 {
			return nil, nil
		}
		l := newLocked(src, blocks, harmonics)
		if pass == 0 {
			known = make([]float64, len(blocks))
			for i, b := range blocks {
				known[i] = math.Max(rough, c.Rounded(b.T))
			}
		} else {
			known = r.expected(blocks, known)
		}
		if err := l.measureNoise(harmonics); err != nil {
			return nil, err
		}
		l.first, l.strong = l.standing(harmonics)
		var turn *pattern
		if pass > 0 {
			turn = newPattern(blocks, c, opt.Pulses)
		}
		start := Smooth{Phi: blocks[0].Phi, Omega: 2 * math.Pi * c.At(blocks[0].T)}
		sd := [3]float64{30, 0.3 * start.Omega, 4 * start.Omega}
		prior := Prior{Start: start, SD: sd}
		r = &Result{Blocks: blocks}
		scale := start.Omega * start.Omega
		turns := []float64{0.06, 0.12, 0.25}
		if pass > 0 {
			turns = []float64{0.25, opt.Memory}
		}
		still := false // the course no longer moves
		for k, memory := range turns {
			mean, length := 0.0, 0.0
			for _, b := range blocks {
				mean += c.At(b.T) / float64(len(blocks))
				length += b.Length / float64(len(blocks))
			}
			// so few turns of the phase as let the lines that stand out take part,
			// but a few blocks, as one alone says nothing of its own phase
			least := math.Min(1.5*length, memory)
			memory = math.Max(math.Min(memory, 0.2/(mean*rough*float64(l.strong))), least)
			for i, b := range blocks {
				l.memory[i] = math.Max(math.Min(memory, 0.2/(c.At(b.T)*known[i]*float64(l.first))), 1.5*b.Length)
				l.used[i] = max(l.first, min(harmonics, int(0.2/(c.At(b.T)*known[i]*l.memory[i]))))
			}
			if r.Points, err = l.measure(); err != nil {
				return nil, err
			}
			if pass > 0 {
				r.Inflation = l.widen(r.Points)
			}
			final := (pass == passes-1 || still) && k == len(turns)-1
			for i, b := range blocks {
				// the course as it was given is a measurement too: lines that the
				// motion has lost cannot call it back
				w := 2 * math.Pi * given.At(b.T)
				sd := givenError * w
				r.Points[i].Rate = w
				r.Points[i].RateVar = sd * sd * givenSeconds / (b.Length / 2)
			}
			if r.Q, err = Fit(r.Points, prior, 1e-6*scale, 1e3*scale, src.Stopped); err != nil {
				return nil, err
			}
			shifted := r.Points
			if r.Points, r.Q, err = turn.steadied(shifted, prior, 1e-6*scale, 1e3*scale, r.Q, src.Stopped); err != nil {
				return nil, err
			}
			r.prior = prior
			r.prior.Q = []float64{r.Q}
			if final {
				if r.prior.Q, err = FitVarying(r.Points, prior, 1e-6*scale, 1e3*scale, r.Q, src.Stopped); err != nil {
					return nil, err
				}
				if turn != nil && turn.coef != nil {
					turn.fit(shifted, r.prior)
					r.Points = turn.without(shifted)
				}
				// it has helped to find the intensities, but comes from the same
				// sound: no more than a hold where the phases are lost
				for i := range r.Points {
					r.Points[i].RateVar *= givenHold * givenHold
				}
			}
			r.Motion, r.Like = Run(r.Points, r.prior)
			if final {
				l.drift(r)
				turn.widen(r)
			}
			for i, s := range r.Motion {
				if !(s.Omega > 0 && s.Omega < math.Pi*src.Rate) {
					return nil, nil // the phases are those of no stack of lines
				}
				l.theta[i] = s.Phi + turn.at(i) - blocks[i].Phi
			}
			rough = math.Min(rough, 2*r.Spread()+2e-5)
			for i := range known {
				known[i] = math.Min(known[i], r.around(i, opt.Memory))
			}
			lost := l.lost(known)
			if pass > 0 && k == 0 {
				still = !lost && l.still(r.Motion, c)
			}
		}
		// the improved course for the next pass
		next := Course{}
		next.T = append(next.T, c.T[0])
		next.Rate = append(next.Rate, rateAt(r.Motion[0], c.T[0]-blocks[0].T))
		for i, s := range r.Motion {
			next.T = append(next.T, blocks[i].T)
			next.Rate = append(next.Rate, rateAt(s, 0))
		}
		end := c.T[len(c.T)-1]
		if t := blocks[len(blocks)-1].T; end > t+1e-6 {
			next.T = append(next.T, end)
			next.Rate = append(next.Rate, rateAt(r.Motion[len(blocks)-1], end-t))
		}
		c, last = next, l
		if still {
			pass = passes - 1
		}
		if opt.Progress != nil {
			opt.Progress(float64(pass+1) / float64(passes))
		}
	}
	r.finish(last)
	return r, nil
}

// coherence returns the share of the lines' power in the blocks from to end-1
// that agrees with what is expected of it, and that power over the noise.
func (l *locked) coherence(from, end int) (share, power float64) {
	kept := 0.0
	for i := from; i < end; i++ {
		kept += l.kept[i]
		power += l.all[i]
	}
	if power > 0 {
		share = kept / power
	}
	return share, power
}

// Where the lines are there but agree with nothing, the course is not theirs: a
// push or a brake that was smoothed away. It is then looked for anew, as if its
// relative error were lostError, from lostBlocks blocks on that keep less than
// lostShare of what the whole course keeps.
const lostError, lostShare, lostBlocks, lostPower = 0.015, 0.5, 3, 30

// lost raises the relative errors to expect where the lines are lost, and reports
// whether they are anywhere.
func (l *locked) lost(known []float64) (anywhere bool) {
	n := len(l.blocks)
	usual, _ := l.coherence(0, n)
	for i := 0; i+lostBlocks <= n; i++ {
		if c, power := l.coherence(i, i+lostBlocks); power > lostPower && c < lostShare*usual {
			for j := max(0, i-lostBlocks); j < min(n, i+2*lostBlocks); j++ {
				known[j] = math.Max(known[j], lostError)
			}
			anywhere = true
		}
	}
	return anywhere
}

// stillTurns is by how much, in turns over a block, a line may differ from where
// the course has it for the blocks to stay as they are: they then lose a
// thousandth of its power, and nothing of its phase.
const stillTurns = 0.02

// still reports whether the lines used move along the course for which they were
// demodulated, so that demodulating them anew would show nothing new.
func (l *locked) still(motion []Smooth, c Course) bool {
	for i, b := range l.blocks {
		if math.Abs(motion[i].Omega/(2*math.Pi)-c.At(b.T))*b.Length*float64(l.used[i]) > stillTurns {
			return false
		}
	}
	return true
}

// around returns the relative error to expect of the motion near block i: twice
// the mean standard uncertainty within reach seconds.
func (r *Result) around(i int, reach float64) float64 {
	t := r.Blocks[i].T
	sum, n := 0.0, 0.0
	see := func(j int) { sum += math.Sqrt(r.Motion[j].OmegaVar) / r.Motion[j].Omega; n++ }
	for j := i; j >= 0 && r.Blocks[j].T >= t-reach; j-- {
		see(j)
	}
	for j := i + 1; j < len(r.Blocks) && r.Blocks[j].T <= t+reach; j++ {
		see(j)
	}
	return 2*sum/n + 2e-5
}

// expected carries the relative errors to expect over to new blocks.
func (r *Result) expected(blocks []Block, known []float64) []float64 {
	out := make([]float64, len(blocks))
	j := 0
	for i, b := range blocks {
		for j+1 < len(known) && math.Abs(r.Blocks[j+1].T-b.T) <= math.Abs(r.Blocks[j].T-b.T) {
			j++
		}
		out[i] = known[j]
	}
	return out
}

func rateAt(s Smooth, dt float64) float64 {
	f := (s.Omega + s.Alpha*dt) / (2 * math.Pi)
	return math.Max(f, 0.2*s.Omega/(2*math.Pi))
}

// quietest bounds the noise from below, as a share of the loudest line's power:
// 16-bit samples are no cleaner than that, and a synthetic sound without any
// noise would else be known with no error at all.
const quietest = 1e-8

// calmest is the share of the intensity for a whole course that its calm parts
// are given when the course is judged: few pushes make a large one.
const calmest = 0.03

// mostStrong bounds the lines for whose sake the memory is shortened.
const mostStrong = 8

// gap is the power of a block, as a share of its loudest neighbour's, below which
// the recording has a gap there that tells nothing of the noise.
const gap = 1e-6

// loudest returns the largest power among demodulated orders.
func loudest(y []complex128) float64 {
	top := 0.0
	for _, v := range y {
		top = math.Max(top, real(v)*real(v)+imag(v)*imag(v))
	}
	return top
}

// newLocked lays out the lines of blocks.
func newLocked(src *sound.Source, blocks []Block, harmonics int) *locked {
	n, channels := len(blocks), len(blocks[0].Y)
	l := &locked{src: src, blocks: blocks, theta: make([]float64, n), used: make([]int, n), memory: make([]float64, n),
		lines: make([][][]complex128, channels), noise: make([][][]float64, channels),
		sum: make([]float64, n), since: make([]float64, n)}
	for i, b := range blocks {
		l.sum[i], l.since[i] = b.Sum, b.T-blocks[0].T
	}
	room, more := make([]complex128, channels*harmonics*n), make([]float64, channels*harmonics*n)
	for c := range channels {
		l.lines[c], l.noise[c] = make([][]complex128, harmonics), make([][]float64, harmonics)
		for m := range harmonics {
			l.lines[c][m], room = room[:n:n], room[n:]
			l.noise[c][m], more = more[:n:n], more[n:]
		}
		for i, b := range blocks {
			y := b.Y[c]
			for m := range harmonics {
				l.lines[c][m][i] = y[2*m+1]
			}
		}
	}
	return l
}

// measureNoise estimates the noise around each harmonic from the half orders
// beside it over about a second.
func (l *locked) measureNoise(harmonics int) error {
	n := len(l.blocks)
	// per channel and harmonic, the median over time of the power between lines
	const half = 8
	buf := make([]float32, 0, 2*(2*half+1))
	between := make([]float32, n*(harmonics+1)) // power, by block and odd half order
	loud := make([]float64, n)
	guess := make([]float32, harmonics+1) // by harmonic, the median before
	var near []int                        // blocks around, without gaps
	for c := range l.lines {
		for i, b := range l.blocks {
			loud[i] = loudest(b.Y[c])
			row := between[i*(harmonics+1):][:harmonics+1]
			for m := range row {
				v := b.Y[c][2*m]
				row[m] = float32(real(v)*real(v) + imag(v)*imag(v))
			}
		}
		for i := 0; i < n; i += half / 2 {
			if err := l.src.Stopped(); err != nil {
				return err
			}
			lo, hi := max(0, i-half), min(n, i+half+1)
			top := slices.Max(loud[lo:hi])
			near = near[:0]
			for j := lo; j < hi; j++ {
				if loud[j] >= gap*top {
					near = append(near, j*(harmonics+1))
				}
			}
			for m := 1; m <= harmonics; m++ {
				buf = buf[:0]
				for _, j := range near {
					buf = append(buf, between[j+m-1], between[j+m])
				}
				v := 0.0
				if len(buf) > 0 {
					guess[m] = rank.Near(buf, len(buf)/2, guess[m], 12)
					// mean of exponential power from its median, and never less than
					// rounding would leave of the loudest line
					v = math.Max(float64(guess[m])/math.Ln2, quietest*top)
				}
				noise := l.noise[c][m-1]
				for j := i; j < min(n, i+half/2); j++ {
					noise[j] = math.Max(v, quietest*loud[j]) + 1e-30
				}
			}
		}
	}
	return nil
}

// standing returns the lowest harmonic that holds a tenth of the excess of the
// clearest one over its noise, as the pulse-rate line itself can be missing, and
// the highest that has the power of its noise in a block on its own.
func (l *locked) standing(harmonics int) (first, strong int) {
	clear := make([]float64, harmonics)
	top := 0.0
	for m := range clear {
		for c := range l.lines {
			noise := l.noise[c][m]
			for i, v := range l.lines[c][m] {
				clear[m] += (real(v)*real(v) + imag(v)*imag(v)) / noise[i]
			}
		}
		clear[m] = clear[m]/float64(len(l.blocks)*len(l.lines)) - 1
		top = math.Max(top, clear[m])
	}
	first = 1
	for m, v := range slices.Backward(clear) {
		if v >= 0.1*top {
			first = m + 1
		}
		if v >= 1 && strong == 0 {
			strong = m + 1
		}
	}
	return first, max(first, min(strong, mostStrong))
}

// measure returns the phase of the comb at each block, given lines that keep
// their amplitudes and phases for about the block's memory.
func (l *locked) measure() ([]Point, error) {
	n := len(l.blocks)
	points := make([]Point, n)
	l.kept, l.all = make([]float64, n), make([]float64, n)
	sums := make([]tally, n)
	turn, weight := make([]float64, n), make([]float64, n)
	y := make([]complex128, n)
	a := make([]complex128, n)
	around := l.within()
	// what turns the first line back by its correction, and the m-th line
	back, turned := make([]complex128, n), make([]complex128, n)
	for i, v := range l.theta {
		s, co := math.Sincos(v)
		back[i] = complex(co, -s)
	}
	top := slices.Max(l.used)
	for c := range l.lines {
		for i := range turned {
			turned[i] = 1
		}
		for m := 1; m <= top; m++ {
			if err := l.src.Stopped(); err != nil {
				return nil, err
			}
			fm := float64(m)
			line, noise := l.lines[c][m-1][:n], l.noise[c][m-1][:n]
			for i := range turned {
				turned[i] *= back[i]
				y[i] = line[i] * turned[i]
			}
			l.amplitudes(a, y, noise, around)
			for i := range a {
				if m > l.used[i] {
					continue
				}
				s := noise[i]
				p := real(a[i])*real(a[i]) + imag(a[i])*imag(a[i])
				if e := real(y[i])*real(y[i]) + imag(y[i])*imag(y[i]) - s; p > 0 {
					l.kept[i] += (real(a[i])*real(y[i]) + imag(a[i])*imag(y[i])) / s
					l.all[i] += e / s
				}
				// a is the expected y
				sums[i].add(fm, (real(a[i])*imag(y[i])-imag(a[i])*real(y[i]))/s, (real(a[i])*real(y[i])+imag(a[i])*imag(y[i]))/s, p/s)
				if i > 0 && m <= l.used[i-1] {
					q := 2 * fm * fm * p / s
					z := a[i] * cmplx.Conj(a[i-1])
					turn[i] += q * cmplx.Phase(z) / fm
					weight[i] += q
				}
			}
		}
	}
	psi := 0.0
	for i, b := range l.blocks {
		if weight[i] > 0 {
			psi += turn[i] / weight[i]
		}
		e, v := sums[i].phase()
		// neighbouring Hann blocks share noise: 4/3 in the long run
		points[i] = Point{T: b.T, Var: 4.0 / 3 * v, Phi: b.Phi + l.theta[i] + psi + e}
	}
	return points, nil
}

// tally sums up what the lines of one block say of the common phase.
type tally struct {
	along, power float64 // over all lines, in units of their noise
	grad, info   float64 // the same, by order
	square       float64
	lines        float64
}

// add takes in the line of order m: its component across the expected one, that
// along it, and the power expected, over the noise.
func (t *tally) add(m, across, along, power float64) {
	t.along += along
	t.power += power
	t.grad += 2 * m * across
	t.info += 2 * m * m * power
	if power > 0 {
		t.square += 2 * across * across / power
		t.lines++
	}
}

// disagreement is the mean square, over what noise explains, from which on the
// lines of a block are taken to be disturbed: by a knock, by the edge of a gap.
const disagreement = 3

// phase returns the common phase of the lines over the expected one, and its
// variance, infinite where they say nothing.
//
// A gap in the recording, or a gain that was turned down, weakens all lines of
// a block alike: what is expected of them is scaled by how much of it is there.
func (t *tally) phase() (e, variance float64) {
	// some 20 nats stand for the belief that nothing is missing
	gain := math.Max(0, math.Min(1, (t.along+20)/(t.power+20)))
	info := t.info * gain * gain
	if !(info > 1e-9) || gain < 0.1 {
		return 0, math.Inf(1)
	}
	e = t.grad * gain / info
	// beyond a radian of the mean line the tangent is no guide
	chi := math.Max(0, t.square-t.grad*t.grad/t.info)
	return 0.6 * math.Tanh(e/0.6), math.Max(1, (4+chi)/(4+math.Max(0, t.lines-1))/disagreement) / info
}

// reach is the stretch of blocks around each block over which the mean of a line
// is taken, with weights that fall to zero at its ends as a parabola does.
type reach struct {
	lo, hi []int
	// energy and square are the sums of the weights times the squares of the
	// windows' sums, and of the squares of the weights times the windows' sums.
	energy, square []float64
	sums           []moments
}

// moments holds the sums, over all blocks before one, of a line times the
// window's sum, and of that times the time and its square.
type moments struct{ y, ty, tty complex128 }

// within lays out the blocks up to the memory of each block away from it.
func (l *locked) within() *reach {
	n := len(l.blocks)
	r := &reach{lo: make([]int, n), hi: make([]int, n), energy: make([]float64, n), square: make([]float64, n),
		sums: make([]moments, n+1)}
	for i, b := range l.blocks {
		memory := l.memory[i]
		lo, hi := i, i+1
		for lo > 0 && l.blocks[lo-1].T >= b.T-memory {
			lo--
		}
		for hi < n && l.blocks[hi].T <= b.T+memory {
			hi++
		}
		r.lo[i], r.hi[i] = lo, hi
		for _, q := range l.blocks[lo:hi] {
			u := (q.T - b.T) / memory
			g := (1 - u*u) * q.Sum
			r.energy[i] += g * q.Sum
			r.square[i] += g * g
		}
	}
	return r
}

// amplitudes writes the expected value of y at every block: the local mean of
// the line, shrunk to nothing where the line does not stand out of the noise.
func (l *locked) amplitudes(a, y []complex128, noise []float64, r *reach) {
	var run moments
	for i, v := range y {
		t, g := l.since[i], l.sum[i]
		re, im := real(v)*g, imag(v)*g
		run.y += complex(re, im)
		re, im = re*t, im*t
		run.ty += complex(re, im)
		run.tty += complex(re*t, im*t)
		r.sums[i+1] = run
	}
	for i := range a {
		t, m2 := l.since[i], l.memory[i]*l.memory[i]
		p, q := &r.sums[r.lo[i]], &r.sums[r.hi[i]]
		// the sum of (1 - (t'-t)^2/m2) y'
		u, v, w := q.y-p.y, q.ty-p.ty, q.tty-p.tty
		e := r.energy[i]
		re := ((m2-t*t)*real(u) + 2*t*real(v) - real(w)) / (m2 * e)
		im := ((m2-t*t)*imag(u) + 2*t*imag(v) - imag(w)) / (m2 * e)
		power := re*re + im*im
		// noise of the mean, with neighbours sharing noise
		nv := 4.0 / 3 * noise[i] * r.square[i] / (e * e)
		gain := 0.0
		if power > 3*nv {
			gain = (1 - nv/power) * l.sum[i]
		}
		a[i] = complex(re*gain, im*gain)
	}
}

// Spread returns the mean relative standard uncertainty of the rate.
func (r *Result) Spread() float64 {
	sum := 0.0
	for _, m := range r.Motion {
		sum += math.Sqrt(m.OmegaVar) / m.Omega
	}
	return sum / float64(len(r.Motion))
}

// QAt returns the intensity of changes of acceleration at block i.
func (r *Result) QAt(i int) float64 { return r.prior.q(i) }

// finish judges the result: strength of the lines, scatter, steadiness.
func (r *Result) finish(l *locked) {
	n := len(r.Blocks)
	r.Lines = make([]float64, len(l.noise[0]))
	r.SNR = make([]float64, n)
	r.noise = l.noise
	all := make([]float64, n) // noise
	for c := range l.lines {
		for m, line := range l.lines[c] {
			noise := l.noise[c][m]
			for i, v := range line {
				p := real(v)*real(v) + imag(v)*imag(v)
				r.Lines[m] += (p/noise[i] - 1) / float64(n)
				r.SNR[i] += p - noise[i]
				all[i] += noise[i]
			}
		}
	}
	for i, v := range all {
		r.SNR[i] /= v
	}
	r.LikeSteady = likeOf(r.Points, r.prior.steady())
	q := r.prior.each(n)
	slices.Sort(q)
	r.Q = math.Max(q[n/2], r.Q*calmest)
	r.Coherence, _ = l.coherence(0, n)
}

// spans are the times, in seconds, over which the rates of the lines are compared.
var spans = [...]float64{0.25, 0.5, 1, 2}

// widen multiplies the variances of the points by what the lines say of
// themselves: in echo or under a voice every line has a phase that drifts in its
// own way, and the lines then disagree about the rate by more than their noise.
// It returns the mean factor, and keeps for drift how much more they disagree over
// the longer spans.
func (l *locked) widen(p []Point) float64 {
	n := len(p)
	looks := make([][]comparison, len(spans))
	for k, span := range spans {
		for i := 0; i < n; {
			j := i
			for j < n && p[j].T-p[i].T < span {
				j++
			}
			if j-i < 4 {
				j = min(n, i+4)
			}
			if j-i < 4 {
				break
			}
			looks[k] = append(looks[k], comparison{from: i, to: j})
			i += (j - i + 1) / 2
		}
	}
	l.compare(looks)
	l.factors = make([][len(spans)]float64, n)
	chi, dof := make([]float64, n+1), make([]float64, n+1)
	for k, span := range spans {
		clear(chi)
		clear(dof)
		for _, look := range looks[k] {
			c, d := look.disagreement()
			share := 1 / float64(look.to-look.from)
			for i := look.from; i < look.to; i++ {
				chi[i+1] += c * share
				dof[i+1] += d * share
			}
		}
		for i := range n { // sums of those before
			chi[i+1] += chi[i]
			dof[i+1] += dof[i]
		}
		lo, hi := 0, 0
		reach := math.Max(1, span)
		for i := range p {
			for p[lo].T < p[i].T-reach {
				lo++
			}
			for hi < n && p[hi].T <= p[i].T+reach {
				hi++
			}
			// four degrees of freedom stand for the belief that all is well
			l.factors[i][k] = math.Max(1, (4+chi[hi]-chi[lo])/(4+dof[hi]-dof[lo]))
		}
	}
	mean := 0.0
	for i := range p {
		p[i].Var *= l.factors[i][0]
		mean += l.factors[i][0] / float64(n)
	}
	return mean
}

// drift widens what is known of the motion where the lines disagree the more the
// longer one looks: an echo changes slowly. The longer the stretch over which the
// motion is in effect averaged, the more of that is in it.
func (l *locked) drift(r *Result) {
	for i := range r.Motion {
		m, p := &r.Motion[i], r.Points[i]
		f := l.factors[i]
		// a straight line through phases of this variance over so many seconds
		// would know the rate as well
		over := math.Cbrt(12 * p.Var * l.blocks[i].Length / 2 / m.OmegaVar)
		x := math.Max(0, math.Min(math.Log2(over/spans[0]), float64(len(spans)-1)))
		k := min(int(x), len(spans)-2)
		worse := f[k] * math.Pow(f[k+1]/f[k], x-float64(k)) / f[0]
		if !(worse > 1) {
			continue // also where nothing was measured
		}
		m.Wide = worse
		m.PhiVar *= worse
		m.OmegaVar *= worse
		m.AlphaVar *= worse
	}
}

// comparison compares the rates of all lines over blocks from to to-1.
type comparison struct {
	from, to int
	// over the lines: their number, the sum of their weights, and of those times
	// their rates and the squares of these, relative to the smoothed rate
	lines, w, wx, wxx float64
}

// disagreement returns the sum of the squared deviations of the rates from the
// common one, in units of their variance, and its degrees of freedom.
func (c comparison) disagreement() (chi, dof float64) {
	if c.lines < 2 {
		return 0, 0
	}
	return math.Max(0, c.wxx-c.wx*c.wx/c.w), c.lines - 1
}

// compare fills in comparisons, from sums over all blocks before each.
func (l *locked) compare(looks [][]comparison) {
	n := len(l.blocks)
	type sums struct{ s, ts, tts float64 } // squares of the windows' sums, by powers of time
	windows := make([]sums, n+1)
	turned, back := make([]complex128, n), make([]complex128, n)
	for i := range turned {
		t, s := l.since[i], l.sum[i]*l.sum[i]
		w := windows[i]
		windows[i+1] = sums{w.s + s, w.ts + t*s, w.tts + t*t*s}
		sn, cs := math.Sincos(l.theta[i])
		back[i] = complex(cs, -sn)
	}
	for _, span := range looks {
		for k := range span {
			span[k] = comparison{from: span[k].from, to: span[k].to}
		}
	}
	noise, y, ty := make([]float64, n+1), make([]complex128, n+1), make([]complex128, n+1)
	top := slices.Max(l.used)
	for c := range l.lines {
		for i := range turned {
			turned[i] = 1
		}
		for m := 1; m <= top; m++ {
			line, floor := l.lines[c][m-1][:n], l.noise[c][m-1][:n]
			for i := range turned {
				turned[i] *= back[i]
				v, t := line[i]*turned[i], l.since[i]
				re, im := real(v)*l.sum[i], imag(v)*l.sum[i]
				noise[i+1] = noise[i] + floor[i]
				y[i+1], ty[i+1] = y[i]+complex(re, im), ty[i]+complex(re*t, im*t)
			}
			fm := float64(m)
			for _, span := range looks {
				for k := range span {
					q := &span[k]
					if m > slices.Min(l.used[q.from:q.to]) {
						continue
					}
					a, b := &windows[q.from], &windows[q.to]
					energy := b.s - a.s
					s := (noise[q.to] - noise[q.from]) / float64(q.to-q.from)
					sum := y[q.to] - y[q.from]
					mean := sum / complex(energy, 0)
					p := real(mean)*real(mean) + imag(mean)*imag(mean)
					if p*energy < 12*s {
						continue // a line that hardly stands out has no opinion
					}
					mid := (b.ts - a.ts) / energy
					away := ty[q.to] - ty[q.from] - sum*complex(mid, 0)
					num := real(mean)*imag(away) - imag(mean)*real(away)
					den := p * (b.tts - a.tts - mid*(b.ts-a.ts))
					rate := num / den / fm
					weight := 2 * fm * fm * den / s * 0.75 // Hann blocks share noise
					q.w += weight
					q.wx += weight * rate
					q.wxx += weight * rate * rate
					q.lines++
				}
			}
		}
	}
}
