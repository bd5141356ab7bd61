package transform

// sorted is a complex transform that reads numbers in the usual order and
// leaves the coefficients, in order, in memory of its own.
type sorted interface {
	// run transforms the n complex numbers in src, given as real and imaginary
	// parts in turn, and returns the coefficients in block order. They last
	// until the next run. src is not changed.
	run(src []float64) []float64
	clone() sorted
}

// long is the number of points from which two rounds are faster than passes
// over the whole sequence: at 2^20 points they take about as long, at 2^21
// three quarters of the time.
const long = 1 << 20

// newSorted returns a transform of n points, of which [factors] has the radices.
func newSorted(n int, circle *circle) sorted {
	if n >= long {
		if p := newColumns(n, circle); p != nil {
			return p
		}
	}
	return newStockham(n, circle).plan()
}

// direct runs the passes over the whole sequence at once.
type direct struct {
	t    *stockham
	a, b []float64
}

func (t *stockham) plan() *direct {
	a, b := twoBlocks(t.n)
	return &direct{t, a, b}
}

func (d *direct) run(src []float64) []float64 {
	first(d.a, src, d.t.first, d.t.n/4)
	return runPasses(d.t.passes, d.a, d.b)
}

func (d *direct) clone() sorted { return d.t.plan() }

// halves transforms 2h real samples by way of h complex ones.
type halves struct {
	h  int
	tw []float64 // of halfTwiddles
	t  sorted
}

func (p *halves) forward(dst []complex128, src []float64) {
	unpack(floats(dst), p.t.run(src), p.tw, p.h)
}

func (p *halves) power(dst, src []float64) {
	power(dst, p.t.run(src), p.tw, p.h)
}

func (p *halves) inverse(dst []float64, src []complex128) {
	pack(dst, floats(src), p.tw, p.h)
	interleave(dst, p.t.run(dst), p.h)
}

func (p *halves) clone() realPlan { return &halves{p.h, p.tw, p.t.clone()} }

// whole transforms n complex samples.
type whole struct {
	n int
	t sorted
}

func (p *whole) forward(dst, src []complex128) {
	interleave(floats(dst), p.t.run(floats(src)), p.n)
}

func (p *whole) inverse(dst, src []complex128) {
	backwards(floats(dst), p.t.run(floats(src)), p.n)
}

func (p *whole) clone() complexPlan { return &whole{p.n, p.t.clone()} }
