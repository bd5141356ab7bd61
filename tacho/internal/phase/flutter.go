package phase

import (
	"math"
	"slices"

	"rotorhum/tacho/internal/transform"
)

// A speed that swings to and fro at a steady rate (wow below some 6 Hz and flutter above,
// IEC 60386, from memory) asks for changes of acceleration all the time, and inertia is
// soon seen to be none: the motion is then followed by its noise, or, where blocks are
// long, not at all, and the swing is taken for noise. Told that there are such waves,
// the smoother finds the rest as calm as it is. They are part of the motion: unlike the
// pattern of a turn they are taken from the phases before these are smoothed, and given
// back to the motion in the end.

const (
	// Of mostWaves waves each has leastPeriods in the course, and makes the phases likelier
	// by waveGain nats, beside what it takes to choose one of so many frequencies.
	mostWaves, leastPeriods, waveGain = 3, 4, 10.0
	// waveDepth is how deep waves are beforehand, as a share of the speed (rms).
	waveDepth = 0.02
	// waveRounds is how often the frequencies are improved, waveTries how many intensities
	// are tried to see a wave that the motion has followed, each waveCalm times the one
	// before.
	waveRounds, waveTries, waveCalm = 4, 3, 1e-2
	// fastestWave is the highest frequency of a wave, in hertz: inertia leaves little of faster
	// ones, and many blades make those.
	fastestWave = 12.0
	// onTheWay is the uncertainty, in radians of the pulse rate, of what delays all lines
	// alike on their way: near a corner of what they pass, a body, a microphone or the
	// high-pass of a recorder, they come a part of their period late, and no line contradicts
	// the others. Of a change that comes and goes it leaves as much as this.
	onTheWay = 0.35
	// perPeriod is at how many moments of a period the motion is told at least.
	perPeriod = 24
)

// flutter is the waves of a speed: a pattern of three terms each, its cosine, its sine,
// and what a little more of its frequency makes of both.
type flutter struct {
	pattern
	waves  []wave
	middle float64 // time from which their phases count
	reach  float64 // half the length of the course, seconds
}

// wave is one oscillation of the phase.
type wave struct {
	omega    float64 // its angular frequency, rad/s
	size     float64 // of its terms, radians
	cos, sin float64 // as found before, in units of size
	along    bool    // blocks were cut along it
}

// terms returns the phase of the three terms of a wave at time t, its rate and its slope.
func (f *flutter) terms(w wave, t float64) (terms [3]Smooth) {
	u, o := t-f.middle, w.omega
	s, c := math.Sincos(o * u)
	terms[0] = Smooth{Phi: w.size * c, Omega: -w.size * o * s, Alpha: -w.size * o * o * c}
	terms[1] = Smooth{Phi: w.size * s, Omega: w.size * o * c, Alpha: -w.size * o * o * s}
	// the derivative by frequency, of which one over the reach is as likely as a size of one
	k := w.size / f.reach
	p, q := -w.cos*s+w.sin*c, -w.cos*c-w.sin*s // and its derivative by phase
	terms[2] = Smooth{Phi: k * u * p, Omega: k * (p + u*o*q), Alpha: k * (2*o*q - u*o*o*p)}
	return terms
}

// lay lays out the terms as the blocks let them through.
func (f *flutter) lay(blocks []Block) {
	f.columns, f.coef, f.cov = nil, nil, nil
	for _, w := range f.waves {
		columns := [3][]float64{make([]float64, len(blocks)), make([]float64, len(blocks)), make([]float64, len(blocks))}
		for i, b := range blocks {
			h := 1.0
			if !w.along {
				h = passed(w.omega * b.Length / (2 * math.Pi))
			}
			for j, v := range f.terms(w, b.T) {
				columns[j][i] = h * v.Phi
			}
		}
		f.columns = append(f.columns, columns[:]...)
	}
}

// fresh reports whether there is a wave along which no blocks were cut yet.
func (f *flutter) fresh() bool {
	return f != nil && slices.ContainsFunc(f.waves, func(w wave) bool { return !w.along })
}

// motion returns the waves at time t in full.
func (f *flutter) motion(t float64) (m Smooth) {
	if f == nil || f.coef == nil {
		return m
	}
	for k, w := range f.waves {
		for j, v := range f.terms(w, t) {
			c := f.coef[3*k+j]
			m.Phi += c * v.Phi
			m.Omega += c * v.Omega
			m.Alpha += c * v.Alpha
		}
	}
	return m
}

// hidden returns what of the waves block i, at time t, does not show.
func (f *flutter) hidden(i int, t float64) float64 {
	if f == nil {
		return 0
	}
	return f.motion(t).Phi - f.at(i)
}

// improve takes the frequencies as found, and reports whether they still move.
func (f *flutter) improve() (moves bool) {
	for k := range f.waves {
		w := &f.waves[k]
		more := f.coef[3*k+2] / f.reach
		w.omega += more
		w.cos, w.sin = f.coef[3*k], f.coef[3*k+1]
		moves = moves || math.Abs(more)*f.reach > 1e-3
	}
	return moves
}

// with returns waves with one more.
func (f *flutter) with(w wave, blocks []Block) *flutter {
	n := len(blocks)
	out := &flutter{middle: (blocks[0].T + blocks[n-1].T) / 2, reach: (blocks[n-1].T - blocks[0].T) / 2}
	if f != nil {
		out.waves = append(out.waves, f.waves...)
	}
	out.waves = append(out.waves, w)
	return out
}

// fluttered finds the waves of the phases, and returns these without them and the one
// intensity that then explains them; the phases and the intensity as they are where there
// is none.
func (f *follower) fluttered(p []Point, lo, hi, q float64, seek bool) ([]Point, float64, error) {
	known := f.flutter
	f.flutter = nil
	seek = seek && f.kept >= cleanShare // else an echo or a voice may swing the lines
	omega := 0.0
	if seek && known == nil {
		if omega = f.wave(p, q, lo); omega == 0 {
			return p, q, nil
		}
	}
	if known == nil && omega == 0 {
		return p, q, nil
	}
	given, p := p, loose(p)
	own := f.prior
	own.Q = []float64{q}
	best, clean, calm := likeOf(p, own), p, q
	cost := waveGain + math.Log(float64(len(p))/2)
	take := func(try *flutter, cost float64) (bool, error) {
		found, score, without, err := f.steadyWaves(try, p, lo, hi, q, best+cost)
		if err != nil || score < best+cost || f.turns(try) {
			return false, err
		}
		f.flutter, best, clean, calm = try, score, without, found
		return true, nil
	}
	if known != nil {
		if _, err := take(known, cost*float64(len(known.waves))); err != nil {
			return nil, 0, err
		}
		if seek {
			omega = f.wave(clean, calm, lo)
		}
	}
	for omega != 0 && (f.flutter == nil || len(f.flutter.waves) < mostWaves) {
		mean := 2 * math.Pi * f.now.At((p[0].T+p[len(p)-1].T)/2)
		w := wave{omega: omega, size: waveDepth * mean / omega / patternSD, cos: 1}
		if more, err := take(f.flutter.with(w, f.r.Blocks), cost); err != nil {
			return nil, 0, err
		} else if !more {
			break
		}
		omega = f.wave(clean, calm, lo)
	}
	if f.flutter == nil {
		return given, q, nil
	}
	return clean, calm, nil
}

// loose returns points for which the course given hardly counts: it may have the waves.
func loose(p []Point) []Point {
	const hold = 100.0
	out := slices.Clone(p)
	for i := range out {
		out[i].RateVar *= hold * hold
	}
	return out
}

// turns reports whether one of the waves is that of a turn, of what gives so many pulses a
// turn, or any number if that is not told: blades that are not alike make such, and no
// change of speed.
func (f *follower) turns(t *flutter) bool {
	const blades, most, sure = 36, 3, 3.0
	b, m := f.r.Blocks, max(f.opt.Pulses, f.opt.Told)
	n := len(b)
	mean := (b[n-1].Phi - b[0].Phi) / (b[n-1].T - b[0].T)
	slowest, fastest := mean, mean
	if m > 1 {
		for _, v := range b {
			slowest = math.Min(slowest, 2*math.Pi*f.now.At(v.T))
			fastest = math.Max(fastest, 2*math.Pi*f.now.At(v.T))
		}
	}
	for k, w := range t.waves {
		sd := math.Sqrt(t.cov.At(3*k+2, 3*k+2)) / t.reach
		is := func(share, lo, hi float64) bool {
			return w.omega > share*lo-sure*sd && w.omega < share*hi+sure*sd
		}
		for j := 1; 2*j <= m; j++ {
			if is(float64(j)/float64(m), slowest, fastest) {
				return true
			}
		}
		for j := 1.0; f.opt.Pulses < 2 && j <= most; j++ { // what is followed may be another multiple
			if z := math.Round(j * mean / w.omega); z <= blades/j && is(j/z, mean, mean) {
				return true
			}
		}
	}
	return false
}

// steadyWaves fits waves to phases, with the intensity q at most: it returns that with
// which they make the phases likeliest, how likely, and the phases without them. It goes
// no further once it sees that they make them hardly likelier than least.
func (f *follower) steadyWaves(t *flutter, p []Point, lo, hi, q, least float64) (found, score float64, clean []Point, err error) {
	own := f.prior
	fit := func(q float64) float64 {
		own.Q = []float64{q}
		return likeOf(p, own) + t.fit(p, own)
	}
	score = math.Inf(-1)
	t.lay(f.r.Blocks)
	for k := range tenfolds {
		if v := math.Max(lo, q*math.Pow(tenfold, -float64(k))); fit(v) > score {
			score, found = fit(v), v
		}
	}
	for range waveRounds {
		if fit(found); t.coef == nil || score < least-waveGain {
			return 0, math.Inf(-1), nil, nil
		}
		if found, err = Fit(t.without(p), f.prior, lo, hi, f.src.Stopped); err != nil {
			return 0, 0, nil, err
		}
		moves := t.improve()
		t.lay(f.r.Blocks)
		if score = fit(found); t.coef == nil {
			return 0, math.Inf(-1), nil, nil
		}
		if !moves {
			break
		}
	}
	return found, score, t.without(p), nil
}

// wave returns the angular frequency of the wave that shows best in how the phases surprise
// who expects changes of the intensity q or, as those may follow it, of less; 0 for none.
func (f *follower) wave(p []Point, q, lo float64) float64 {
	own := f.prior
	for range waveTries {
		own.Q = []float64{q}
		if omega, chance := oscillation(p, surprises(p, own)); chance < math.Log(swingByChance) {
			return omega
		}
		if q *= waveCalm; q < lo {
			break
		}
	}
	return 0
}

// surprises returns by how much each point differs from what those before let expect, in
// units of its standard deviation: a white sequence, if the prior is right.
func surprises(p []Point, prior Prior) []float64 {
	p, prior = inUnits(p, prior, timeUnit(p))
	out := make([]float64, len(p))
	filter(p, prior, func(i int, before belief) {
		if q := p[i]; !math.IsInf(q.Var, 1) {
			out[i] = (q.Phi - prior.ref(p, q.T) - before.x[0]) / math.Sqrt(before.p[0][0]+q.Var)
		}
	})
	return out
}

// oscillation returns the angular frequency of the oscillation that makes up most of what
// points are off, of leastPeriods or more and fastestWave hertz or less, and the logarithm of
// the probability that chance makes one as large.
func oscillation(p []Point, off []float64) (omega, chance float64) {
	even, near := make([]float64, len(off)), 0
	from, step := p[0].T, (p[len(p)-1].T-p[0].T)/float64(len(p)-1)
	for k := range even {
		t := from + float64(k)*step
		for near+1 < len(p) && math.Abs(p[near+1].T-t) <= math.Abs(p[near].T-t) {
			near++
		}
		even[k] = off[near]
	}
	n := len(even) &^ 1
	power := powers(even[:n])
	at, chance := strongest(power, leastPeriods, int(fastestWave*float64(n)*step))
	if at == 0 {
		return 0, 0
	}
	// between the bins, by a parabola through the logarithms
	l, c, r := math.Log(power[at-1]), math.Log(power[at]), math.Log(power[at+1])
	x := float64(at)
	if d := l - 2*c + r; d < 0 {
		x += math.Max(-0.5, math.Min(0.5, (l-r)/(2*d)))
	}
	return 2 * math.Pi * x / (float64(n) * step), chance
}

// powers returns the power spectrum of an even number of values.
func powers(x []float64) []float64 {
	out := make([]float64, len(x)/2+1)
	transform.NewReal(len(x)).Power(out, x)
	return out
}

// strongest returns the bin from least to most, without the first and the last of all,
// that has the most power, 0 for none, and the logarithm of the probability that chance
// gives one as much. Of m powers of a white sequence the largest has more than the share g
// with a probability of at most m (1-g)^(m-1) (Fisher 1929, Proceedings of the Royal Society
// A 125: 54, from memory).
func strongest(power []float64, least, most int) (at int, chance float64) {
	m := len(power) - 2
	sum := 0.0
	for k := 1; k <= m; k++ {
		sum += power[k]
		if k >= least && k <= most && (at == 0 || power[k] > power[at]) {
			at = k
		}
	}
	if at == 0 || sum == 0 {
		return 0, 0
	}
	return at, math.Log(float64(m)) + float64(m-1)*math.Log1p(-power[at]/sum)
}

// restore gives the waves back to the motion, and to the points that were smoothed, in
// full, and widens what is known of the motion by what is not known of them, and of when
// they are heard.
func (f *flutter) restore(r *Result, from, to float64) {
	if f == nil || f.coef == nil {
		return
	}
	r.flutter = f
	smooth := make([][]Smooth, len(f.columns))
	for j, c := range f.columns {
		p := make([]Point, len(r.Points))
		for i, q := range r.Points {
			p[i] = Point{T: q.T, Phi: c[i], Var: q.Var, RateVar: q.RateVar}
		}
		smooth[j], _ = Run(p, Prior{SD: r.prior.SD, Q: r.prior.Q})
	}
	fastest := 0.0
	terms, wide := make([]Smooth, len(f.columns)), make([]float64, len(r.Motion))
	for i := range r.Motion {
		m, p := &r.Motion[i], &r.Points[i]
		for k, w := range f.waves {
			fastest = math.Max(fastest, w.omega)
			for j, v := range f.terms(w, p.T) {
				terms[3*k+j] = v
			}
		}
		late := onTheWay / m.Omega * f.motion(p.T).Alpha
		more := 1 + (f.variance(func(j int) float64 { return terms[j].Omega - smooth[j][i].Omega })+late*late)/m.OmegaVar
		m.widen(more)
		wide[i] = more
		p.Wave = f.motion(p.T).Phi
		p.Phi += p.Wave
	}
	r.widenBetween(func(i int) float64 { return wide[i] })
	// between the blocks, and to the ends of the course, the motion without waves is smooth
	all := r.Moments()
	if first := all[0]; from < first.T {
		all = append([]Moment{first.on(from, r.prior.q(0))}, all...)
	}
	if last := all[len(all)-1]; to > last.T {
		all = append(all, last.on(to, r.prior.q(len(r.Points)-1)))
	}
	var fine []Moment
	for i, m := range all {
		if i > 0 {
			a := all[i-1]
			h := m.T - a.T
			parts := int(math.Ceil(h * fastest * perPeriod / (2 * math.Pi)))
			for k := 1; k < parts; k++ {
				u := float64(k) / float64(parts)
				fine = append(fine, Moment{a.T + u*h, mixed(a.Smooth, m.Smooth, h, u)})
			}
		}
		fine = append(fine, m)
	}
	for i := range fine {
		fine[i].Smooth = fine[i].plus(f.motion(fine[i].T))
	}
	for i := range r.Motion {
		r.Motion[i] = r.Motion[i].plus(f.motion(r.Points[i].T))
	}
	if r.moments != nil || len(fine) > len(all) {
		r.moments = fine
	}
}

// on returns the motion at time t beyond an end, where changes have the intensity q.
func (m Moment) on(t, q float64) Moment {
	h := t - m.T
	d := math.Abs(h)
	m.T, m.Phi, m.Omega = t, m.Phi+h*(m.Omega+h*m.Alpha/2), m.Omega+h*m.Alpha
	phi := math.Sqrt(m.PhiVar) + d*(math.Sqrt(m.OmegaVar)+d/2*math.Sqrt(m.AlphaVar))
	omega := math.Sqrt(m.OmegaVar) + d*math.Sqrt(m.AlphaVar)
	m.PhiVar = phi*phi + q*math.Pow(d, 5)/20
	m.OmegaVar = omega*omega + q*d*d*d/3
	m.AlphaVar += q * d
	return m
}

// Even returns the points without the waves of a flutter, to be smoothed with what inertia
// they leave.
func (r *Result) Even() []Point { return unwaved(r.Points) }

// Fluttered returns a motion at time t that was found without the waves, with them.
func (r *Result) Fluttered(t float64, s Smooth) Smooth { return s.plus(r.flutter.motion(t)) }

// plus returns the motion with another on top.
func (s Smooth) plus(o Smooth) Smooth {
	s.Phi += o.Phi
	s.Omega += o.Omega
	s.Alpha += o.Alpha
	return s
}

// unwaved returns points without their waves.
func unwaved(p []Point) []Point {
	out := make([]Point, len(p))
	for i, q := range p {
		q.Phi -= q.Wave
		q.Wave = 0
		out[i] = q
	}
	return out
}
