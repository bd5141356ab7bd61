package transform

// sorted is a complex transform that reads numbers in the usual order and
// leaves the coefficients, in order, in memory of its own.
type sorted interface {
	// run transforms the n complex numbers in src, given as real and imaginary
	// parts in turn, and returns the coefficients in block order. They last
	// until the next run. src is not changed.
	run(src []float64) []float64
	clone(w *watch) sorted
}

// long is the number of points from which two rounds are faster than passes
// over the whole sequence: at 2^20 points they take about as long, at 2^21
// three quarters of the time.
const long = 1 << 20

// newSorted returns a transform of n points, of which [factors] has the radices.
func newSorted(n int, circle *circle, w *watch) sorted {
	if n >= long {
		if p := newColumns(n, circle, w); p != nil {
			return p
		}
	}
	return newStockham(n, circle, w).plan(w)
}

// direct runs the passes over the whole sequence at once.
type direct struct {
	t     *stockham
	a, b  []float64
	watch *watch
}

func (t *stockham) plan(w *watch) *direct {
	a, b := twoBlocks(t.n)
	return &direct{t, a, b, w}
}

func (d *direct) run(src []float64) []float64 {
	first(d.a, src, d.t.first, d.t.n/4)
	return runPasses(d.t.passes, d.a, d.b, d.watch)
}

func (d *direct) clone(w *watch) sorted { return d.t.plan(w) }

// halves transforms 2h real samples by way of h complex ones.
type halves struct {
	h     int
	tw    []float64 // of halfTwiddles
	t     sorted
	watch *watch
}

func (p *halves) forward(dst []complex128, src []float64) {
	z := p.t.run(src)
	p.watch.look()
	unpack(floats(dst), z, p.tw, p.h)
}

func (p *halves) power(dst, src []float64) {
	z := p.t.run(src)
	p.watch.look()
	power(dst, z, p.tw, p.h)
}

func (p *halves) inverse(dst []float64, src []complex128) {
	pack(dst, floats(src), p.tw, p.h)
	z := p.t.run(dst)
	p.watch.look()
	interleave(dst, z, p.h)
}

func (p *halves) clone(w *watch) realPlan { return &halves{p.h, p.tw, p.t.clone(w), w} }

// whole transforms n complex samples.
type whole struct {
	n     int
	t     sorted
	watch *watch
}

func (p *whole) forward(dst, src []complex128) {
	z := p.t.run(floats(src))
	p.watch.look()
	interleave(floats(dst), z, p.n)
}

func (p *whole) inverse(dst, src []complex128) {
	z := p.t.run(floats(src))
	p.watch.look()
	backwards(floats(dst), z, p.n)
}

func (p *whole) clone(w *watch) complexPlan { return &whole{p.n, p.t.clone(w), w} }
