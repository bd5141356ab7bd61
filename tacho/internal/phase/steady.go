package phase

import "math"

// Steady returns the motion if its rate is taken to be the same all the time: by
// least squares over all lines at once, each with one amplitude and one phase for
// the whole course. The variance is widened where the lines disagree about the
// rate by more than their noise explains.
func (r *Result) Steady() Smooth {
	track, _ := Run(r.Points, r.prior.steady())
	s := track[len(track)-1] // the last has seen all points
	end := r.Blocks[len(r.Blocks)-1].T
	for pass := 0; pass < 8 && r.summaries == nil; pass++ {
		// only lines whose phase is known to a fraction of a turn all along
		known := int(0.5 / (math.Sqrt(s.OmegaVar) * (end - r.Blocks[0].T) / 2))
		lines := max(1, min(len(r.Lines), known))
		rate, variance, ok := r.coherent(s, end, lines)
		// a step that turns no line far is one that the lines can be trusted with,
		// however sure the smoothed phases are: where something else sounds along
		// they all err the same way for a while
		step := math.Abs(rate - s.Omega)
		if !ok || step > 6*math.Sqrt(s.OmegaVar) && step*float64(lines)*(end-r.Blocks[0].T)/2 > 0.5 {
			break
		}
		s.Omega, s.OmegaVar = rate, variance
		if lines == len(r.Lines) && pass > 1 {
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
			var mean complex128
			var energy, middle, noise float64
			for i, b := range r.Blocks {
				sin, cos := math.Sincos(fm * (s.Phi + s.Omega*(b.T-end) - b.Phi))
				y[i] = b.Y[c][2*m-1] * complex(cos, -sin)
				mean += y[i] * complex(b.Sum, 0)
				energy += b.Sum * b.Sum
				middle += b.Sum * b.Sum * b.T
				noise += r.noise[c][m-1][i] / float64(n)
			}
			mean /= complex(energy, 0)
			middle /= energy
			p := real(mean)*real(mean) + imag(mean)*imag(mean)
			if p*energy < 8*noise {
				continue // a line that does not stand out has no say
			}
			var slope, spread float64
			for i, b := range r.Blocks {
				t := b.T - middle
				slope += t * b.Sum * (real(mean)*imag(y[i]) - imag(mean)*real(y[i]))
				spread += t * t * b.Sum * b.Sum * p
			}
			// neighbouring Hann blocks share noise: 4/3 in the long run
			weight := 2 * fm * fm * spread / noise * 0.75
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
