package live

import (
	"math"

	"rotorhum/tacho/internal/path"
	"rotorhum/tacho/internal/phase"
)

// A course counts as heard when it has lasted this long and has gathered this much
// evidence (nats).
const leastSeconds, leastEvidence = 0.35, 14.0

// unclear is the relative standard uncertainty from which on a rate is not shown.
const unclear = 0.03

// leastNats is the evidence that the lines must have in the fit itself.
const leastNats = 8.0

// decide makes a state of what was followed.
func (t *tracker) decide(f *followed, c path.Course, s *memory, now float64, h *hum) state {
	l := t.lock
	l.knots = f.motion
	end := f.motion[len(f.motion)-1]
	if f.faded(now) || !(end.Omega > 0) {
		t.drop()
		return state{why: "the hum has gone"}
	}
	l.sure = f.good(now)
	age := now - l.since
	l.temper.see(f.fit, now)
	long, k, err := t.lookBack(f, s, now)
	if err != nil {
		return state{why: err.Error()}
	}
	if k != 1 && l.weights.looks > sureLooks {
		// what was told before was seen as right for long: it stands
		t.runs++
		l.run, l.factor = t.runs, 1/k
	}
	out := state{run: l.run, factor: l.factor * k}
	l.settle(&out, long, now)
	l.scale(k)
	for i := range out.settled {
		out.settled[i].hz, out.settled[i].u = k*out.settled[i].hz, k*out.settled[i].u
	}
	for _, m := range l.knots {
		out.tail = append(out.tail, m.point())
	}
	if note, ok := l.note(); ok && !l.noted {
		l.noted = true
		t.steps.begins(l.since, note)
	}
	end = l.knots[len(l.knots)-1]
	hz := end.Omega / (2 * math.Pi)
	switch {
	case h.near(hz, end.point().u) && f.still():
		out.why = "a steady tone at the frequency of the electric supply"
	case hz < float64(t.opt.Range.Lo) || hz > float64(t.opt.Range.Hi):
		out.why = "a hum outside the range of pulse rates"
	case !l.sure:
		out.why = "something hums, but not clearly enough"
	case !l.heard && (age < leastSeconds || c.Evidence < leastEvidence || !l.weights.known()):
		out.why = begins
	case !l.temper.rotorlike(age):
		l.heard = false
		out.why = "what is heard wavers like a voice"
	case t.steps.tune(now):
		out.why = "what is heard steps like a tune"
	default:
		l.heard = true
		out.heard, out.hz, out.u, out.snr = true, hz, end.point().u, f.snr()
	}
	return out
}

// sureLooks is the number of looks at the multiples after which another one holds
// for what follows only.
const sureLooks = 12

// lookEvery is the number of steps between two looks at a longer stretch of sound,
// lookSeconds its length.
const lookEvery, lookSeconds = 4, 1.6

// lookBack follows the lock over a longer stretch now and then, which tells its
// motion some time ago, and its multiple, more surely. It returns that, nil where
// no look is due, and the factor by which the rate should change.
func (t *tracker) lookBack(f *followed, s *memory, now float64) (long *followed, k float64, err error) {
	l := t.lock
	l.steps++
	due := l.steps%lookEvery == 0
	young := now-l.since < refineSeconds+0.2
	switch {
	case young:
		long = f
	case due:
		if long, err = t.follow(s, l.carried(now), 0.002, lookSeconds, now); err != nil {
			return nil, 1, err
		}
		if long == nil || !long.good(now) {
			long = f
		}
	}
	k = 1
	if now-l.since > 0.2 && (due || !l.weights.known()) {
		if long == nil {
			long = f
		}
		k, err = t.weigh(long, s)
	}
	return long, k, err
}

// settle takes what has come to be known from both sides into the past; what
// followed stays among the knots.
func (l *lock) settle(s *state, g *followed, now float64) {
	see := func(k knot) {
		if k.t <= now-settleSeconds && (len(l.past) == 0 || k.t > l.past[len(l.past)-1].t+1e-4) {
			l.past = append(l.past, k)
			s.settled = append(s.settled, k.point())
		}
	}
	if g != nil {
		for _, k := range g.motion {
			see(k)
		}
	}
	old := 0
	for old < len(l.past) && l.past[old].t < now-pastSeconds {
		old++
	}
	l.past = append(l.past[:0], l.past[old:]...)
	for len(l.knots) > 1 && len(l.past) > 0 && l.knots[0].t <= l.past[len(l.past)-1].t {
		l.knots = l.knots[1:]
	}
}

// scale multiplies the rate by k, of late and of now.
func (l *lock) scale(k float64) {
	if k == 1 {
		return
	}
	for _, list := range [][]knot{l.past, l.knots} {
		for i := range list {
			m := &list[i]
			m.Phi, m.Omega, m.Alpha = k*m.Phi, k*m.Omega, k*m.Alpha
			m.PhiVar, m.OmegaVar, m.AlphaVar = k*k*m.PhiVar, k*k*m.OmegaVar, k*k*m.AlphaVar
		}
	}
	l.ratio *= k
	l.factor *= k
}

// note returns the rate of the last part of the lock, if that was long and steady
// enough to be a note; else 0.
func (l *lock) note() (hz float64, ok bool) {
	end := l.knots[len(l.knots)-1].t
	lo, hi, first := math.Inf(1), 0.0, end
	for _, list := range [][]knot{l.past, l.knots} {
		for _, k := range list {
			if k.t >= end-leastNote-0.1 && k.t <= end-0.05 {
				lo, hi, first = math.Min(lo, k.Omega), math.Max(hi, k.Omega), math.Min(first, k.t)
			}
		}
	}
	if end-first < leastNote || hi > (1+2*holdNote)*lo {
		return 0, false
	}
	return math.Sqrt(lo*hi) / (2 * math.Pi), true
}

// still reports whether the rate hardly changes, as far as it is known.
func (f *followed) still() bool {
	lo, hi, u := math.Inf(1), 0.0, 0.0
	for _, m := range f.motion {
		lo, hi = math.Min(lo, m.Omega), math.Max(hi, m.Omega)
		u = math.Max(u, math.Sqrt(m.OmegaVar))
	}
	return hi < 1.01*lo+4*u
}

// good reports whether the lines were followed up to now.
func (f *followed) good(now float64) bool {
	end := f.motion[len(f.motion)-1].point()
	return end.hz > 0 && end.u <= unclear*end.hz && f.nats() >= leastNats && !f.faded(now)
}

// better reports whether f explains the newest sound better than g, if that explains
// it at all.
func (f *followed) better(g *followed, now float64) bool {
	return g == nil || f.evidence(now-newest) > g.evidence(now-newest)
}

// newest is the length of sound, in seconds, that counts for what is going on.
const newest = 0.15

// fadeSeconds is the time in which a hum that has stopped is missed.
const fadeSeconds = 0.08

// faded reports whether the lines, clear before, are not there in the newest
// blocks.
func (f *followed) faded(now float64) bool {
	b := f.fit.Blocks
	var before, after, n, k float64
	for i := range b {
		if len(b)-i <= 2 || f.motion[i+f.lead].t > now-fadeSeconds {
			after += f.excess(i)
			k++
		} else {
			before += f.excess(i)
			n++
		}
	}
	if n == 0 || k == 0 {
		return false
	}
	before, after = before/n, after/k
	// the mean of k powers scatters by its own size over the root of k
	return after+2*(1+after)/math.Sqrt(k) < 0.3*before
}

// excess returns the mean power of the lines that stand out, over the noise around
// them, less one, at block i.
func (f *followed) excess(i int) float64 {
	sum, n := 0.0, 0.0
	for c, y := range f.fit.Blocks[i].Y {
		for m, v := range f.fit.Lines {
			if v < 1 {
				continue
			}
			a := y[2*m+1]
			sum += (real(a)*real(a) + imag(a)*imag(a)) / f.fit.Noise(i, c, m)
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return sum/n - 1
}

// nats is the evidence of the lines in all blocks that were fitted.
func (f *followed) nats() float64 { return f.evidence(math.Inf(-1)) }

// evidence is that of the lines in the blocks after the given time, two at least:
// the mean excess of each over the noise, in units of its scatter, weighed as a
// single line.
func (f *followed) evidence(after float64) float64 {
	b := f.fit.Blocks
	first := len(b) - 2
	for first > 0 && b[first-1].T+f.origin > after {
		first--
	}
	n := float64(len(b) - first)
	run, best := 0.0, math.Inf(-1)
	line := sureLine()
	for m := range f.fit.Lines {
		v := 0.0
		for i := first; i < len(b); i++ {
			for c, y := range b[i].Y {
				a := y[2*m+1]
				v += (real(a)*real(a)+imag(a)*imag(a))/f.fit.Noise(i, c, m) - 1
			}
		}
		if v *= math.Sqrt(0.75*n) / n; v > 0 { // neighbouring Hann blocks share noise
			run += line.At(0.3 + v*v/2)
		} else {
			run += line.At(0.3)
		}
		best = math.Max(best, run-math.Log(float64(m)+2))
	}
	return best
}

// snr is the power of the lines over the noise between them in dB.
func (f *followed) snr() float64 {
	sum, n := 0.0, 0.0
	for _, v := range f.fit.SNR[max(0, len(f.fit.SNR)-8):] {
		sum += v
		n++
	}
	return 10 * math.Log10(math.Max(sum/n, 1e-3))
}

// temper is how restless a stack has been of late, see tacho's judge of courses.
type temper struct {
	agility []float64 // logarithms
}

// temperSteps is the number of steps that count.
const temperSteps = 16

// see takes in one fit: the root of the intensity of the changes of acceleration
// over the rate, divided by the trust that its lines keep their phases.
func (t *temper) see(r *phase.Result, now float64) {
	trust := math.Max(0.05, math.Min(1, (r.Coherence-0.7)/0.2))
	a := math.Sqrt(r.Q) / r.Motion[len(r.Motion)/2].Omega / trust
	t.agility = append(t.agility, math.Log(a+1e-9))
	if drop := len(t.agility) - temperSteps; drop > 0 {
		t.agility = append(t.agility[:0], t.agility[drop:]...)
	}
}

// rotorlike reports whether what has lasted for age seconds can be a rotor: the
// bounds are those for recordings.
func (t *temper) rotorlike(age float64) bool {
	sum := 0.0
	for _, v := range t.agility {
		sum += v / float64(len(t.agility))
	}
	switch a := math.Exp(sum); {
	case age >= 4:
		return a <= 60
	case age >= 1.2:
		return a <= 5
	case age >= 0.7:
		return a <= 2
	default:
		return a <= 1
	}
}
