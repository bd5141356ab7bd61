// Package linefit fits a stack of harmonics with a common phase polynomial to
// samples by weighted least squares (maximum likelihood in Gaussian noise):
//
//	x[i] = sum over m of Re(c_m exp(j m phi(t_i))) + noise
//	phi(t) = 2 pi (f t + r t^2/2 + ...), t centred on the middle sample
//
// The complex amplitudes c_m are solved for exactly and jointly, so harmonics
// do not leak into each other; the polynomial is found by Gauss-Newton steps.
package linefit

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// ErrSingular says that the harmonics cannot be told apart in so few samples.
var ErrSingular = errors.New("linefit: too few samples to tell the harmonics apart")

// Fit is the state and the result of a fit.
type Fit struct {
	// Rate is the sampling rate in hertz.
	Rate float64
	// Orders are the harmonic numbers (not necessarily whole, increasing).
	Orders []float64
	// Noise is the noise variance per sample around each harmonic.
	Noise []float64
	// Coef holds the phase polynomial: frequency (Hz), its rate (Hz/s), and
	// so on, all at the middle of the record.
	Coef []float64
	// Amp holds the complex amplitudes at the middle of the record.
	Amp []complex128
	// Cov is the covariance of Coef.
	Cov *mat.SymDense
	// Residual is what the fit leaves of the samples.
	Residual []float64
}

// Run improves f.Coef from its starting values with up to steps Gauss-Newton
// steps on x, and fills Amp, Cov and Residual.
func (f *Fit) Run(x []float64, steps int) error {
	n, p := len(x), len(f.Coef)
	if n < 4*len(f.Orders)+4 {
		return ErrSingular
	}
	basis := f.basis(n)
	e := make([][]complex128, len(f.Orders))
	for i := range e {
		e[i] = make([]complex128, n)
	}
	for s := 0; ; s++ {
		f.phasors(e, basis)
		if err := f.amplitudes(x, e); err != nil {
			return err
		}
		h, g := f.normal(basis, e)
		var chol mat.Cholesky
		if !chol.Factorize(h) {
			return ErrSingular
		}
		f.Cov = mat.NewSymDense(p, nil)
		if err := chol.InverseTo(f.Cov); err != nil {
			return ErrSingular
		}
		if s == steps {
			return nil
		}
		var d mat.VecDense
		if err := chol.SolveVecTo(&d, g); err != nil {
			return ErrSingular
		}
		worst := 0.0
		for i := range f.Coef {
			f.Coef[i] += d.AtVec(i)
			worst = math.Max(worst, math.Abs(d.AtVec(i))/math.Sqrt(f.Cov.At(i, i)))
		}
		if worst < 1e-3 && s+1 < steps {
			steps = s + 1 // one more pass for amplitudes and residual
		}
		if math.IsNaN(worst) {
			return ErrSingular
		}
	}
}

// basis returns t^k/k! for k = 1..p over the record, t in seconds, centred.
func (f *Fit) basis(n int) [][]float64 {
	b := make([][]float64, len(f.Coef))
	fact := 1.0
	for k := range b {
		fact *= float64(k + 1)
		b[k] = make([]float64, n)
		for i := range b[k] {
			t := (float64(i) - float64(n-1)/2) / f.Rate
			b[k][i] = math.Pow(t, float64(k+1)) / fact
		}
	}
	return b
}

// phasors sets e to exp(j m phi) per harmonic.
func (f *Fit) phasors(e [][]complex128, basis [][]float64) {
	n := len(basis[0])
	phi := make([]float64, n)
	for k, c := range f.Coef {
		for i, b := range basis[k] {
			phi[i] += 2 * math.Pi * c * b
		}
	}
	if len(f.Coef) == 1 {
		// the phase is a straight line: each sample turns by as much as the last
		const exact = 64 // samples after which it is computed anew
		for j, m := range f.Orders {
			s, c := math.Sincos(2 * math.Pi * m * f.Coef[0] / f.Rate)
			turn := complex(c, s)
			for i, p := range phi {
				if i%exact == 0 {
					s, c := math.Sincos(m * p)
					e[j][i] = complex(c, s)
				} else {
					e[j][i] = e[j][i-1] * turn
				}
			}
		}
		return
	}
	for j, m := range f.Orders {
		for i, p := range phi {
			s, c := math.Sincos(m * p)
			e[j][i] = complex(c, s)
		}
	}
}

// products returns the sums of the products of the cosines and sines of two
// harmonics over the record: cc is that of both cosines, cs of the cosine of the
// i-th and the sine of the j-th, and so on.
func (f *Fit) products(i, j int, ei, ej []complex128) (cc, cs, sc, ss float64) {
	if len(f.Coef) == 1 {
		// the phase is a straight line through the middle of the record, and the
		// sums are those of cosines at the difference and the sum of the two
		w := math.Pi * f.Coef[0] / f.Rate
		d, s := dirichlet(w*(f.Orders[i]-f.Orders[j]), len(ei)), dirichlet(w*(f.Orders[i]+f.Orders[j]), len(ei))
		return (d + s) / 2, 0, 0, (d - s) / 2
	}
	for k := range ei {
		ci, si := real(ei[k]), imag(ei[k])
		cj, sj := real(ej[k]), imag(ej[k])
		cc += ci * cj
		cs += ci * sj
		sc += si * cj
		ss += si * sj
	}
	return cc, cs, sc, ss
}

// dirichlet returns the sum of cos(2 w t) over n whole steps of t, centred on 0.
func dirichlet(w float64, n int) float64 {
	if d := math.Sin(w); math.Abs(d) > 1e-9 {
		return math.Sin(w*float64(n)) / d
	}
	return math.Cos(w*float64(n-1)) * float64(n)
}

// amplitudes solves the joint linear problem for f.Amp and leaves the residual.
func (f *Fit) amplitudes(x []float64, e [][]complex128) error {
	m := len(f.Orders)
	a := mat.NewSymDense(2*m, nil)
	b := mat.NewVecDense(2*m, nil)
	for i := 0; i < m; i++ {
		var c, s float64
		for k, v := range x {
			c += v * real(e[i][k])
			s += v * imag(e[i][k])
		}
		b.SetVec(2*i, c)
		b.SetVec(2*i+1, -s)
		for j := i; j < m; j++ {
			cc, cs, sc, ss := f.products(i, j, e[i], e[j])
			a.SetSym(2*i, 2*j, cc)
			a.SetSym(2*i, 2*j+1, -cs)
			if i != j {
				a.SetSym(2*i+1, 2*j, -sc)
			}
			a.SetSym(2*i+1, 2*j+1, ss)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(a) {
		return ErrSingular
	}
	var sol mat.VecDense
	if err := chol.SolveVecTo(&sol, b); err != nil {
		return ErrSingular
	}
	f.Amp = make([]complex128, m)
	f.Residual = append(f.Residual[:0], x...)
	for i := range f.Amp {
		f.Amp[i] = complex(sol.AtVec(2*i), sol.AtVec(2*i+1))
		re, im := real(f.Amp[i]), imag(f.Amp[i])
		for k, v := range e[i] {
			f.Residual[k] -= re*real(v) - im*imag(v)
		}
	}
	return nil
}

// normal returns the information matrix of the polynomial, with the phases
// taken as unknown, and the gradient.
func (f *Fit) normal(basis [][]float64, e [][]complex128) (*mat.SymDense, *mat.VecDense) {
	p, n := len(basis), len(basis[0])
	info := 0.0
	r := make([]float64, n) // sum over harmonics of the weighted derivative
	g := mat.NewVecDense(p, nil)
	for i, m := range f.Orders {
		a := f.Amp[i]
		w := 2 * math.Pi * m / f.Noise[i]
		info += 0.5 * w * 2 * math.Pi * m * (real(a)*real(a) + imag(a)*imag(a))
		re, im := real(a), imag(a)
		for k, v := range e[i] {
			// derivative of Re(a e) with respect to its phase
			r[k] -= w * f.Residual[k] * (re*imag(v) + im*real(v))
		}
	}
	mean := make([]float64, p)
	for k := range basis {
		for _, b := range basis[k] {
			mean[k] += b
		}
		mean[k] /= float64(n)
	}
	h := mat.NewSymDense(p, nil)
	for a := 0; a < p; a++ {
		sum := 0.0
		for k, v := range r {
			sum += v * (basis[a][k] - mean[a])
		}
		g.SetVec(a, sum)
		for b := a; b < p; b++ {
			s := 0.0
			for k := range basis[a] {
				s += (basis[a][k] - mean[a]) * (basis[b][k] - mean[b])
			}
			h.SetSym(a, b, info*s)
		}
	}
	return h, g
}
