package phase

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
		lo, hi := l.near(i, memory)
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
