package exam

import (
	"math"

	"rotorhum/tacho/synth"
)

// strength is how much a take's lines tell about the pulse rate in one second
// of sound at full level, squared hertz being its inverse:
//
//	d = sum over lines of l² A_l² / S_l
//
// l is the line's multiple of the pulse rate, A_l its amplitude and S_l the
// two-sided density of the noise at its frequency (in white noise of variance
// s², S = s²/fs).
//
// From it follow, with T seconds of sound of level g (amplitude over full level)
// and the usual approximation that lines do not disturb each other,
//
//	steady or mid-window:  var(f0)    = 24 / ((2 pi)² g² d T³)
//	slope of a chirp:      var(slope) = 60 var(f0) / T² ... in (Hz/s)²
//
// The first is the harmonic Cramér-Rao bound, var(f0) = 24 s² fs² / ((2 pi)²
// N(N²-1) sum l² A_l²) (Christensen and Jakobsson 2009), for N² much above 1; for
// one line both are those of a linear chirp (Djuric and Kay 1990: var of the
// phase's t² coefficient 360 s²/(A² N(N²-1)(N²-4)), 180 over the same for a
// complex tone).
func strength(s synth.Scene, take *synth.Take, rate float64) float64 {
	d := 0.0
	z := float64(take.Truth.Pulses)
	for _, l := range take.Truth.Lines {
		f := float64(l.Order) / z * rate
		// synth lets lines fade out between 0.45 and 0.495 of the sampling rate
		keep := math.Max(0, math.Min(1, (0.495-f/float64(s.Rate))/0.045))
		if keep == 0 {
			continue
		}
		a := l.Amplitude * keep
		m := float64(l.Order) / z
		d += m * m * a * a / density(s, take, f)
	}
	return d
}

// density returns the two-sided power density of the scene's noise at f.
func density(s synth.Scene, take *synth.Take, f float64) float64 {
	sum := 0.0
	for _, v := range s.Noise {
		variance := take.LinePower * math.Pow(10, -v.SNR/10)
		sum += variance / float64(s.Rate) * shape(v, f, float64(s.Rate))
	}
	return sum
}

// shape returns the density of a noise at f over its mean up to fs/2: the
// documented one of synth.ColouredNoise.
func shape(v synth.Noise, f, fs float64) float64 {
	if v.Slope == 0 && v.Low == 0 && v.High == 0 {
		return 1
	}
	low := v.Low
	if low == 0 && v.Slope != 0 {
		low = 10
	}
	at := func(f float64) float64 {
		d := math.Pow(f/1000, v.Slope/10/math.Log10(2))
		if low > 0 {
			d /= 1 + math.Pow(low/f, 4)
		}
		if v.High > 0 {
			d /= 1 + math.Pow(f/v.High, 8)
		}
		return d
	}
	// the mean over frequency, in equal steps of the logarithm
	const n = 800
	lo, hi := 0.05, fs/2
	step := math.Log(hi/lo) / n
	sum := 0.0
	for i := range n {
		g := lo * math.Exp((float64(i)+0.5)*step)
		sum += at(g) * g * step
	}
	return at(f) / (sum / hi)
}

// steadyBound returns the harmonic Cramér-Rao bound, a standard deviation in
// hertz, for the whole of a take whose rate is constant.
func steadyBound(s synth.Scene, take *synth.Take) float64 {
	rate := take.Truth.PulseRate(0)
	t := take.Seconds()
	n := t * float64(s.Rate)
	d := strength(s, take, rate)
	return math.Sqrt(24 / (4 * math.Pi * math.Pi * d * t * t * t * (1 - 1/(n*n))))
}

// localBound gives the local chirp bound along a take.
type localBound struct {
	take    *synth.Take
	scene   synth.Scene
	step    float64   // seconds
	turns   []float64 // pulses since the start, every step
	rate    []float64
	seconds float64
	d       [2]float64 // strength at the lowest and the highest rate
	lo, hi  float64
}

func newLocalBound(s synth.Scene, take *synth.Take) *localBound {
	b := &localBound{take: take, scene: s, step: 1e-3, seconds: take.Seconds()}
	n := int(b.seconds/b.step) + 2
	b.rate, b.turns = make([]float64, n), make([]float64, n)
	b.lo, b.hi = math.Inf(1), 0
	for i := range n {
		t := float64(i) * b.step
		b.rate[i] = take.Truth.PulseRate(t)
		if i > 0 { // Simpson's rule
			mid := take.Truth.PulseRate(t - b.step/2)
			b.turns[i] = b.turns[i-1] + b.step/6*(b.rate[i-1]+4*mid+b.rate[i])
		}
		if b.rate[i] > 0 {
			b.lo, b.hi = math.Min(b.lo, b.rate[i]), math.Max(b.hi, b.rate[i])
		}
	}
	b.d = [2]float64{strength(s, take, b.lo), strength(s, take, b.hi)}
	return b
}

// pulses returns the number of pulses since the start.
func (b *localBound) pulses(t float64) float64 {
	x := t / b.step
	i := max(0, min(int(x), len(b.turns)-2))
	u := (x - float64(i)) * b.step
	slope := (b.rate[i+1] - b.rate[i]) / b.step
	return b.turns[i] + b.rate[i]*u + slope*u*u/2
}

// at returns the error, in hertz RMS, of the best estimator among those that fit
// one linear chirp to one window: for every window that holds t, the variance
// that the noise leaves (the chirp bound at t's place in the window) plus the
// square of the error that the true curve's bending makes, and of all windows no
// longer than longest the best. Who wants to be better must know more of the
// curve than that it is smooth.
func (b *localBound) at(t, longest float64) float64 {
	rate := b.take.Truth.PulseRate(t)
	d := b.d[0]
	if b.hi > b.lo*1.0001 {
		d += (b.d[1] - b.d[0]) * (rate - b.lo) / (b.hi - b.lo)
	}
	best := math.Inf(1)
	most := math.Min(longest, b.seconds)
	for long := 0.02; ; long *= 1.3 {
		long = math.Min(long, most)
		for _, place := range [...]float64{-0.5, -0.25, 0, 0.25, 0.5} { // of t, from the middle
			mid := t - place*long
			if mid-long/2 < -1e-9 || mid+long/2 > b.seconds+1e-9 {
				continue
			}
			err := b.window(mid, long, t, d)
			best = math.Min(best, err)
		}
		// windows held back by an end of the recording
		for _, mid := range [...]float64{long / 2, b.seconds - long/2} {
			if math.Abs(t-mid) <= long/2 {
				best = math.Min(best, b.window(mid, long, t, d))
			}
		}
		if long >= most {
			return math.Sqrt(best)
		}
	}
}

// window returns the mean square error at t of a chirp fitted to long seconds
// around mid.
func (b *localBound) window(mid, long, t, d float64) float64 {
	const n = 24
	level, w, w2, w4 := 0.0, 0.0, 0.0, 0.0
	var y1, y2 float64 // moments of the phase
	var x [n]float64
	var y [n]float64
	for i := range n {
		x[i] = (float64(i)+0.5)/n - 0.5
		at := mid + x[i]*long
		y[i] = b.pulses(at)
		g := b.take.Truth.Level(at)
		level += g * g / n
	}
	mean, mean2 := 0.0, 0.0
	for i := range n {
		mean += y[i] / n
		mean2 += x[i] * x[i] / n
	}
	for i := range n {
		w++
		q := x[i]*x[i] - mean2
		w2 += x[i] * x[i]
		w4 += q * q
		y1 += x[i] * (y[i] - mean)
		y2 += q * (y[i] - mean)
	}
	slope, bend := y1/w2/long, y2/w4/(long*long)
	u := t - mid
	bias := slope + 2*bend*u - b.take.Truth.PulseRate(t)
	noise := 24 / (4 * math.Pi * math.Pi * d * math.Max(level, 1e-12) * long * long * long)
	return bias*bias + noise*(1+60*u*u/(long*long))
}
