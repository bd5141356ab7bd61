package transform

// columns transforms long sequences in two rounds that each stay in the cache:
// with n = RC, j = Cj' + j" and k = k' + Rk"
//
//	X(k) = Σ W^(j"k') exp(-2πi j"k"/C) Σ x(j) exp(-2πi j'k'/R)   W = exp(-2πi/n)
//	       j"                          j'
//
// The first round transforms the columns of the R × C matrix x, a strip of them
// at a time, turns by W^(j"k') and stores for every strip of k' the rows
// j" = 0 … C-1. The second transforms those (D. H. Bailey, FFTs in external or
// hierarchical memory, 1990).
type columns struct {
	t    *columnTables
	turn []float64 // between the rounds: strips of k', in each j", in each k'
	out  []float64
	u, v []float64 // a strip of columns

	watch *watch
}

// columnTables are the read-only tables of columns.
type columnTables struct {
	r, c          int
	first, second []pass
	coarse, fine  []float64 // turns, see turnTwiddles
}

// strip is how many columns are transformed together: they fill four lines of
// the cache.
const strip = 16

// newColumns returns a transform of n points in two rounds, or nil if n has no
// factors for it.
func newColumns(n int, circle *circle, w *watch) *columns {
	r := 0
	for d := strip; d*d <= n; d += strip {
		if n%d == 0 && n/d%strip == 0 && factors(4*d) != nil && factors(4*(n/d)) != nil {
			r = d
		}
	}
	if r == 0 {
		return nil
	}
	c := n / r
	t := &columnTables{r: r, c: c}
	t.first = passes(r, strip, factors(4 * r)[1:], circle, w)
	t.second = passes(c, strip, factors(4 * c)[1:], circle, w)
	t.coarse, t.fine = turnTwiddles(r, c, circle, w)
	return t.plan(w)
}

func (t *columnTables) plan(w *watch) *columns {
	n, m := t.r*t.c, strip*max(t.r, t.c)
	a, b := twoBlocks(n)
	u, v := twoBlocks(m)
	return &columns{t, a, b, u, v, w}
}

func (p *columns) clone(w *watch) sorted { return p.t.plan(w) }

// fineTurns is how many turns in a row come from the fine table.
const fineTurns = 16

// turnTwiddles returns two tables whose products are the turns: for k' = 16a+b
//
//	W^(j"k') = coarse(j", a) fine(j", b)
//
// Each is ordered by j"/4, then a or b, and holds a block for the four j".
func turnTwiddles(r, c int, circle *circle, w *watch) (coarse, fine []float64) {
	table := func(m, step int) []float64 {
		tw := blocks(c * m)
		for j := range c {
			w.look()
			for a := range m {
				cos, sin := circle.root(j*a*step, r*c)
				i := 8*(j/4*m+a) + j%4
				tw[i], tw[i+4] = cos, -sin
			}
		}
		return tw
	}
	return table(r/fineTurns, fineTurns), table(fineTurns, 1)
}

func (p *columns) run(src []float64) []float64 {
	t := p.t
	r, c := t.r, t.c
	u, v := p.u[:2*r*strip], p.v[:2*r*strip]
	for j := 0; j < c; j += strip {
		p.watch.look()
		gather(u, src[2*j:], r, c)
		y := runPasses(t.first, u, v, p.watch)
		for i := j; i < j+strip; i += 4 {
			turn(p.turn[2*strip*i:], y[2*(i-j):], t.coarse[2*i*r/fineTurns:], t.fine[2*i*fineTurns:], r, c)
		}
	}
	u, v = p.u[:2*c*strip], p.v[:2*c*strip]
	for k := 0; k < r; k += strip {
		p.watch.look()
		x := p.turn[2*k*c : 2*(k+strip)*c]
		t.second[0].run(u, x)
		y := runPasses(t.second[1:], u, v, p.watch)
		for i := range c {
			o := 2 * (i*r + k)
			copy(p.out[o:o+2*strip], y[2*strip*i:2*strip*(i+1)])
		}
	}
	return p.out
}

// gatherGo copies strip columns of r rows, c complex numbers each, to dst in
// block order.
func gatherGo(dst, src []float64, r, c int) {
	for j := range r {
		x := src[2*j*c : 2*j*c+2*strip]
		for i := 0; i < strip; i += 4 {
			y, x := at(dst, (j*strip+i)/4), x[2*i:2*i+8]
			for l := range 4 {
				y[l], y[l+4] = x[2*l], x[2*l+1]
			}
		}
	}
}

// turnGo multiplies four columns of r numbers by their turns and stores them as
// rows: number k of column l goes to strip k/16, row l, place k%16. src holds
// a block of the four columns every strip numbers; strips of dst are c rows
// apart.
func turnGo(dst, src, coarse, fine []float64, r, c int) {
	for k := range r {
		x, g, f := at(src, k*strip/4), at(coarse, k/fineTurns), at(fine, k%fineTurns)
		o := 2*(k/strip)*c*strip + place(k%strip)
		for l := range 4 {
			wr, wi := times(g[l], g[l+4], f[l], f[l+4])
			y := dst[o+2*l*strip:]
			y[0], y[4] = times(wr, wi, x[l], x[l+4])
		}
	}
}
