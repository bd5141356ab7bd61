package phase

import (
	"math"
	"slices"

	"rotorhum/tacho/internal/transform"
)

// The waves of a flutter are looked for in what surprises one who knows of none, and kept if
// they make the phases likelier than changes of any intensity do, do not go with the turn,
// and leave nothing that swings.

const (
	// Of mostWaves waves each has leastPeriods in the course, and makes the phases likelier
	// by waveGain nats, beside what it takes to choose one of so many frequencies.
	mostWaves, leastPeriods, waveGain = 6, 4, 10.0
	// waveRounds is how often the frequencies are improved, waveTries how many intensities
	// are tried to see a wave that the motion has followed, each waveCalm times the one
	// before.
	waveRounds, waveTries, waveCalm = 4, 3, 1e-2
	// fastestWave is the highest frequency of a wave, in hertz: inertia leaves little of faster
	// ones, and many blades make those.
	fastestWave = 12.0
)

// fluttered finds the waves of the phases, and returns these without them and the one
// intensity that then explains them; the phases and the intensity as they are where there
// is none.
func (f *follower) fluttered(p []Point, lo, hi, q float64, seek bool) ([]Point, float64, error) {
	known := f.flutter
	f.flutter = nil
	seek = seek && f.kept >= cleanShare // else an echo or a voice may swing the lines
	omega := 0.0
	if known == nil {
		if seek {
			omega = f.wave(p, q, lo)
		}
		if omega == 0 {
			return p, q, nil
		}
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
	for omega != 0 && !f.flutter.has(omega) && (f.flutter == nil || len(f.flutter.waves) < mostWaves) {
		mean := 2 * math.Pi * f.now.At((p[0].T+p[len(p)-1].T)/2)
		w := wave{omega: omega, size: waveDepth * mean / omega / patternSD, cos: 1}
		if more, err := take(f.flutter.with(w, f.r.Blocks), cost); err != nil {
			return nil, 0, err
		} else if !more {
			break
		}
		omega = f.wave(clean, calm, lo)
	}
	if f.flutter == nil || f.swingsOn(clean, calm) {
		f.flutter = nil
		return given, q, nil
	}
	return clean, calm, nil
}

// swingsOn reports whether what is left without the waves still surprises by an oscillation,
// of any frequency but those of a turn: then the speed swings in another way than few waves
// make it, and it is left to inertia, as the intervals of a motion that does not fit would
// hold little.
func (f *follower) swingsOn(p []Point, q float64) bool {
	own := f.prior
	own.Q = []float64{q}
	omega, chance := oscillation(p, surprises(p, own), 1, math.Inf(1))
	if chance > math.Log(swingByChance) {
		return false
	}
	resolved := math.Pi / (p[len(p)-1].T - p[0].T) // half a bin
	return !f.turning(omega, resolved)
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

// turns reports whether one of the waves is that of a turn.
func (f *follower) turns(t *flutter) bool {
	const sure = 3.0
	for k, w := range t.waves {
		if f.turning(w.omega, sure*math.Sqrt(t.cov.At(3*k+2, 3*k+2))/t.reach) {
			return true
		}
	}
	return false
}

// turning reports whether the angular frequency omega, known to within that, is that of a
// turn or a multiple of it, of what gives so many pulses a turn, or any number if that is not
// told: blades that are not alike make such, and no change of speed.
func (f *follower) turning(omega, within float64) bool {
	const blades, most = 36, 3
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
	is := func(share, lo, hi float64) bool { return omega > share*lo-within && omega < share*hi+within }
	for j := 1; 2*j <= m; j++ {
		if is(float64(j)/float64(m), slowest, fastest) {
			return true
		}
	}
	for j := 1.0; f.opt.Pulses < 2 && j <= most; j++ { // what is followed may be another multiple
		if z := math.Round(j * mean / omega); z <= blades/j && is(j/z, mean, mean) {
			return true
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
		if omega, chance := oscillation(p, surprises(p, own), leastPeriods, fastestWave); chance < math.Log(swingByChance) {
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
// points are off, of so many periods or more and so many hertz or less, and the logarithm of
// the probability that chance makes one as large.
func oscillation(p []Point, off []float64, periods int, fastest float64) (omega, chance float64) {
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
	at, chance := strongest(power, periods, int(math.Min(fastest*step, 0.5)*float64(n)))
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
