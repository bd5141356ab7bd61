package synth

import "math"

// lines returns the rotor's lines at full level, in order of k, without zeros.
func (r Rotor) lines(seed uint64, index int) []Line {
	amp, phase := r.harmonics(seed, index)
	z := r.Pulses
	top := (len(amp) - 1) * z
	gains, shifts := r.blades(seed, index)
	re, im := make([]float64, top+1), make([]float64, top+1)
	strongest := 0.0
	for _, a := range amp {
		strongest = math.Max(strongest, a)
	}
	for k := 1; k <= top; k++ {
		if gains == nil && k%z != 0 {
			continue
		}
		// One blade's own pulse has this amplitude and phase at order k.
		m, part := k/z, float64(k%z)/float64(z)
		a, p := amp[m], phase[m]
		if part > 0 {
			a += part * (amp[m+1] - amp[m])
			p += part * (phase[m+1] - phase[m])
			if len(r.Harmonics) == 0 {
				a = gaussian(float64(m)+part, r.width())
			}
		}
		// All blades together: each is late by its place on the rotor.
		sr, si := 1.0, 0.0
		if gains != nil {
			sr, si = 0, 0
			for b, g := range gains {
				s, c := math.Sincos(-2 * math.Pi * float64(k) * (float64(b) + shifts[b]) / float64(z))
				sr += g * c / float64(z)
				si += g * s / float64(z)
			}
		}
		s, c := math.Sincos(p)
		re[k], im[k] = a*(sr*c-si*s), a*(sr*s+si*c)
	}
	for _, m := range r.Missing {
		if k := m * z; m >= 1 && k <= top {
			re[k], im[k] = 0, 0
		}
	}
	extra := r.Lines
	if r.OncePerTurn != 0 {
		extra = append([]Line{{Order: 1, Amplitude: r.OncePerTurn}}, extra...)
	}
	for _, l := range extra {
		for l.Order >= len(re) {
			re, im = append(re, 0), append(im, 0)
		}
		s, c := math.Sincos(l.Phase)
		re[l.Order] += strongest * l.Amplitude * c
		im[l.Order] += strongest * l.Amplitude * s
	}
	var out []Line
	power := 0.0
	for k := 1; k < len(re); k++ {
		if a := math.Hypot(re[k], im[k]); a > 1e-6*strongest {
			out = append(out, Line{Order: k, Amplitude: a, Phase: math.Atan2(im[k], re[k])})
			power += a * a / 2
		}
	}
	level := r.Level
	if level == 0 && len(r.Harmonics) == 0 {
		level = defaultLevel
	}
	if level > 0 && power > 0 {
		g := level / math.Sqrt(power)
		for i := range out {
			out[i].Amplitude *= g
		}
	}
	return out
}

// harmonics returns amplitude and phase at m = 0 ... M. The entry at 0 stands
// for orders below the pulse rate that unequal blades excite.
func (r Rotor) harmonics(seed uint64, index int) (amp, phase []float64) {
	if n := len(r.Harmonics); n > 0 {
		amp, phase = make([]float64, n+1), make([]float64, n+1)
		copy(amp[1:], r.Harmonics)
		copy(phase[1:], r.Phases)
	} else {
		// To 60 dB below the first line.
		for m := 0; ; m++ {
			a := gaussian(float64(m), r.width())
			if m > 1 && a < 1e-3*amp[1] || m*r.Pulses > maxOrders {
				break
			}
			amp = append(amp, a)
		}
		phase = make([]float64, len(amp))
	}
	if r.RandomPhases {
		rnd := stream(seed, streamPhases, index)
		for m := 1; m < len(phase); m++ {
			phase[m] = 2 * math.Pi * rnd.Float64()
		}
	}
	if amp[0] == 0 {
		for _, a := range amp[1:] {
			amp[0] = math.Max(amp[0], a)
		}
	}
	return amp, phase
}

// width returns the length of one blade's pulse as a part of the spacing.
func (r Rotor) width() float64 {
	if r.PulseWidth == 0 {
		return defaultPulseWidth
	}
	return r.PulseWidth
}

// gaussian returns the Fourier transform of a Gaussian pulse of standard
// deviation width, at m times the pulse rate, over that at zero.
func gaussian(m, width float64) float64 {
	x := 2 * math.Pi * m * width
	return math.Exp(-x * x / 2)
}

// blades returns strength and shift of every blade, nil when all are alike.
func (r Rotor) blades(seed uint64, index int) (gains, shifts []float64) {
	if r.GainSpread == 0 && r.AngleSpread == 0 && r.BladeGains == nil && r.BladeShifts == nil {
		return nil, nil
	}
	gains, shifts = make([]float64, r.Pulses), make([]float64, r.Pulses)
	rnd := stream(seed, streamBlades, index)
	for b := range gains {
		gains[b] = math.Max(0.05, 1+r.GainSpread*rnd.NormFloat64())
		shifts[b] = math.Max(-0.4, math.Min(0.4, r.AngleSpread*rnd.NormFloat64()))
	}
	if r.BladeGains != nil {
		copy(gains, r.BladeGains)
	}
	if r.BladeShifts != nil {
		copy(shifts, r.BladeShifts)
	}
	return gains, shifts
}
