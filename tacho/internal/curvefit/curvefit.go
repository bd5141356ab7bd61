// Package curvefit fits a curve to points by weighted least squares.
package curvefit

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// Model returns the value of a curve at x for constants p and writes its
// derivatives with respect to them into slope. A constant for which there is no
// curve gives NaN.
type Model func(x float64, p, slope []float64) float64

// Fit is a fitted curve.
type Fit struct {
	// P are the constants.
	P []float64
	// Inverse is the inverse of the normal matrix JᵀWJ: the covariance of P for
	// points whose uncertainties are known and whose errors are independent.
	Inverse *mat.SymDense
	// Chi2 is the sum of the squared residuals over the squared uncertainties,
	// Residuals are the points less the curve, in units of their uncertainties.
	Chi2      float64
	Residuals []float64
}

var (
	// ErrSingular says that the points do not determine all constants.
	ErrSingular = errors.New("the points do not determine the constants")
	// ErrDiverged says that no least sum was found from the start given.
	ErrDiverged = errors.New("the fit does not converge")
)

// Points fits the curve to values y at x with standard uncertainties u (nil: all
// 1), from the constants start.
//
// A Newton method with line search (gonum optimize), whose matrix of second
// derivatives is the one of Gauss and Newton, comes near; steps of Gauss and
// Newton by QR decomposition then settle the last digits.
func Points(model Model, x, y, u, start []float64) (*Fit, error) {
	l := &leastSquares{model: model, x: x, y: y, u: u, n: len(x), k: len(start)}
	l.j = mat.NewDense(l.n, l.k, nil)
	l.r = make([]float64, l.n)
	p := append([]float64(nil), start...)
	l.scale = make([]float64, l.k)
	if chi2 := l.at(p); math.IsNaN(chi2) || math.IsInf(chi2, 0) {
		return nil, ErrDiverged
	}
	// Constants of very different sizes are made alike.
	for i := range l.scale {
		l.scale[i] = math.Max(math.Abs(p[i]), 1e-12)
		p[i] /= l.scale[i]
	}
	problem := optimize.Problem{Func: l.sum, Grad: l.grad, Hess: l.hess}
	if r, err := optimize.Minimize(problem, p, &optimize.Settings{MajorIterations: 300}, &optimize.Newton{}); r != nil && r.X != nil {
		p = r.X // an early end of the search is no failure: the next steps decide
	} else if err != nil {
		return nil, ErrDiverged
	}
	for i := range p {
		p[i] *= l.scale[i]
	}
	return l.settle(p)
}

type leastSquares struct {
	model   Model
	x, y, u []float64
	n, k    int
	scale   []float64
	j       *mat.Dense // of the curve, over the uncertainties
	r       []float64
	last    []float64 // the constants that j, r and chi2 belong to
	chi2    float64
}

// at fills j and r for constants p and returns the sum of squares.
func (l *leastSquares) at(p []float64) float64 {
	if l.last != nil && floats.Equal(l.last, p) {
		return l.chi2
	}
	slope := make([]float64, l.k)
	chi2 := 0.0
	for i := range l.x {
		f := l.model(l.x[i], p, slope)
		u := 1.0
		if l.u != nil {
			u = l.u[i]
		}
		l.r[i] = (l.y[i] - f) / u
		for c, s := range slope {
			l.j.Set(i, c, s/u)
		}
		chi2 += l.r[i] * l.r[i]
	}
	l.last, l.chi2 = append(l.last[:0], p...), chi2
	return chi2
}

func (l *leastSquares) unscaled(q []float64) []float64 {
	p := make([]float64, len(q))
	floats.MulTo(p, q, l.scale)
	return p
}

func (l *leastSquares) sum(q []float64) float64 {
	chi2 := l.at(l.unscaled(q))
	if math.IsNaN(chi2) {
		return math.Inf(1)
	}
	return chi2
}

func (l *leastSquares) grad(g, q []float64) {
	l.at(l.unscaled(q))
	for c := range g {
		g[c] = 0
		for i, r := range l.r {
			g[c] -= 2 * r * l.j.At(i, c) * l.scale[c]
		}
	}
}

func (l *leastSquares) hess(h *mat.SymDense, q []float64) {
	l.at(l.unscaled(q))
	for a := range l.k {
		for b := a; b < l.k; b++ {
			h.SetSym(a, b, 2*mat.Dot(l.j.ColView(a), l.j.ColView(b))*l.scale[a]*l.scale[b])
		}
	}
}

// settle takes steps of Gauss and Newton, halved where they do not help.
func (l *leastSquares) settle(p []float64) (*Fit, error) {
	chi2 := l.at(p)
	for range 100 {
		if math.IsNaN(chi2) || math.IsInf(chi2, 0) {
			return nil, ErrDiverged
		}
		step, err := l.step()
		if err != nil {
			return nil, err
		}
		shrink, better := 1.0, false
		next := make([]float64, l.k)
		for ; shrink > 1e-4; shrink /= 2 {
			floats.AddScaledTo(next, p, shrink, step)
			if c := l.at(next); c < chi2 {
				chi2, better = c, true
				break
			}
		}
		small := true
		for i := range p {
			small = small && math.Abs(step[i]) <= 1e-9*math.Abs(p[i])
		}
		if better {
			copy(p, next)
		}
		if small || !better {
			break
		}
	}
	chi2 = l.at(p)
	inverse, err := l.inverse()
	if err != nil {
		return nil, err
	}
	return &Fit{P: p, Inverse: inverse, Chi2: chi2, Residuals: append([]float64(nil), l.r...)}, nil
}

// step solves J·step = r by least squares, columns scaled alike.
func (l *leastSquares) step() ([]float64, error) {
	j, norm := l.normed()
	var qr mat.QR
	qr.Factorize(j)
	var d mat.VecDense
	if err := qr.SolveVecTo(&d, false, mat.NewVecDense(l.n, l.r)); err != nil {
		return nil, ErrSingular
	}
	step := make([]float64, l.k)
	for c := range step {
		step[c] = d.AtVec(c) / norm[c]
	}
	return step, nil
}

func (l *leastSquares) normed() (*mat.Dense, []float64) {
	j := mat.DenseCopyOf(l.j)
	norm := make([]float64, l.k)
	for c := range norm {
		norm[c] = mat.Norm(j.ColView(c), 2)
		if norm[c] == 0 {
			norm[c] = 1
		}
		for i := range l.n {
			j.Set(i, c, j.At(i, c)/norm[c])
		}
	}
	return j, norm
}

// inverse returns (JᵀJ)⁻¹ through the triangular factor of J.
func (l *leastSquares) inverse() (*mat.SymDense, error) {
	j, norm := l.normed()
	var qr mat.QR
	qr.Factorize(j)
	if qr.Cond() > 1e10 {
		return nil, ErrSingular
	}
	var r, ri mat.Dense
	qr.RTo(&r)
	if err := ri.Inverse(r.Slice(0, l.k, 0, l.k)); err != nil {
		return nil, ErrSingular
	}
	out := mat.NewSymDense(l.k, nil)
	for a := range l.k {
		for b := a; b < l.k; b++ {
			out.SetSym(a, b, mat.Dot(ri.RowView(a), ri.RowView(b))/(norm[a]*norm[b]))
		}
	}
	return out, nil
}
