package phase

import "math"

// Steady returns the motion if its rate is taken to be the same all the time: by
// least squares over all lines at once, each with one amplitude and one phase for
// the whole course. The variance is widened where the lines disagree about the
// rate by more than their noise explains, and where single pulses have a jitter, which all
// lines share.
func (r *Result) Steady() Smooth {
	track, _ := Run(r.Points, r.prior.steady())
	s := track[len(track)-1] // the last has seen all points
	end := r.Blocks[len(r.Blocks)-1].T
	reach := (end - r.Blocks[0].T) / 2
	most := len(r.Lines)
	for pass := 0; pass < 8 && r.summaries == nil; pass++ {
		// only lines whose phase is known to a fraction of a turn all along
		known := int(0.5 / (math.Sqrt(s.OmegaVar) * reach))
		lines := max(1, min(most, known))
		rate, variance, ok := r.coherent(s, end, lines)
		// a step that turns no line far is one that the lines can be trusted with,
		// however sure the smoothed phases are: where something else sounds along
		// they all err the same way for a while
		step := math.Abs(rate - s.Omega)
		if !ok || step > 6*math.Sqrt(s.OmegaVar) && step*float64(lines)*reach > 1 {
			if most = lines / 2; most == 0 {
				break
			}
			continue // with lower ones, that turn less
		}
		s.Omega, s.OmegaVar = rate, variance*r.jittered
		most = len(r.Lines)
		if lines == most && pass > 1 {
			break
		}
	}
	return s
}

// coherent improves a steady motion s, known at time end, by the given number of
// lines: the rate and its variance.
func (r *Result) coherent(s Smooth, end float64, lines int) (rate, variance float64, ok bool) {
	n := len(r.Blocks)
	var w, wx, wxx, k float64
	y := make([]complex128, n)
	for c := range r.Blocks[0].Y {
		for m := 1; m <= lines; m++ {
			fm := float64(m)
			noise := r.noise[c][m-1]
			var mean complex128
			var energy, middle float64 // over the noise
			for i, b := range r.Blocks {
				sin, cos := math.Sincos(fm * (s.Phi + s.Omega*(b.T-end) - b.Phi))
				y[i] = b.Y[c][2*m-1] * complex(cos, -sin)
				mean += y[i] * complex(b.Sum/noise[i], 0)
				energy += b.Sum * b.Sum / noise[i]
				middle += b.Sum * b.Sum / noise[i] * b.T
			}
			mean /= complex(energy, 0)
			middle /= energy
			p := real(mean)*real(mean) + imag(mean)*imag(mean)
			more := r.clutter(y, mean, noise)
			if p*energy < 8*more {
				continue // a line that does not stand out has no say
			}
			var slope, spread float64
			for i, b := range r.Blocks {
				t := b.T - middle
				slope += t * b.Sum / noise[i] * (real(mean)*imag(y[i]) - imag(mean)*real(y[i]))
				spread += t * t * b.Sum * b.Sum / noise[i] * p
			}
			// neighbouring Hann blocks share noise: 4/3 in the long run
			weight := 2 * fm * fm * spread / more * 0.75
			d := slope / spread / fm
			w += weight
			wx += weight * d
			wxx += weight * d * d
			k++
		}
	}
	if w == 0 {
		return 0, 0, false
	}
	chi := math.Max(0, wxx-wx*wx/w)
	// four degrees of freedom stand for the belief that all is well
	return s.Omega + wx/w, math.Max(1, (4+chi)/(4+k-1)) / w, true
}

// What clutters a line itself is told from pieces, so many of a course: as far around it
// as so many resolution cells, half of them on either side. Up to clutterBy times the noise
// is taken for chance: a mean of so many squares of noise is that high once in thirty.
const clutterPieces, clutterBy = 24, 1.6

// clutter returns the power of what the mean leaves of a line, slowly turning, over the
// noise: more than 1 where a voice passes the line, or a second rotor sounds beside it.
// Only what lies across the line turns its phase; along it the line may waver.
func (r *Result) clutter(y []complex128, mean complex128, noise []float64) float64 {
	n := len(y)
	power := real(mean)*real(mean) + imag(mean)*imag(mean)
	sum := 0.0
	for k := range clutterPieces {
		var across, energy float64
		for i := k * n / clutterPieces; i < (k+1)*n/clutterPieces; i++ {
			s := r.Blocks[i].Sum
			across += (real(mean)*imag(y[i]) - imag(mean)*real(y[i])) * s / noise[i]
			energy += s * s / noise[i]
		}
		if energy > 0 {
			// half of the noise lies across; neighbouring Hann blocks share noise: 4/3
			// in the long run
			sum += 2 * 0.75 * across * across / (power * energy)
		}
	}
	// the mean and the slope have taken two
	if more := sum / (clutterPieces - 2); more > clutterBy {
		return more
	}
	return 1
}
