package tacho

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
)

// Average returns the mean of repeated readings with the standard deviation of
// the mean, s/√n, as one contribution of the given name with n-1 degrees of
// freedom: a Type A evaluation (GUM 4.2.3).
//
// It returns ErrTooShort for fewer than two readings, which say nothing of
// their scatter, and ErrNotFinite if one is not a finite number.
func Average(unit, name string, readings ...float64) (Value, error) {
	v, err := AverageTogether(name, []string{unit}, readings)
	if err != nil {
		return Value{}, err
	}
	return v[0].Named(name), nil
}

// AverageTogether returns the means of several quantities that were read at the
// same time, one slice of readings for each, with their correlations: GUM
// 5.2.3 and example H.2. Each mean carries contributions called "name 1",
// "name 2" …, shared so that its covariances with the others come out right.
//
// It returns ErrOption if there are not as many units as slices or the slices
// differ in length, and otherwise errors like Average.
func AverageTogether(name string, units []string, readings ...[]float64) ([]Value, error) {
	if len(units) != len(readings) || len(readings) == 0 {
		return nil, optionError("%d units for %d lists of readings: give one unit for each", len(units), len(readings))
	}
	n := len(readings[0])
	for i, x := range readings {
		switch {
		case len(x) != n:
			return nil, optionError("list %d has %d readings and list 1 has %d: read all quantities together", i+1, len(x), n)
		case n < 2:
			return nil, fmt.Errorf("%w: %d reading says nothing of the scatter; take at least 2", ErrTooShort, n)
		}
		for j, v := range x {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, fmt.Errorf("%w: reading %d of list %d is %v", ErrNotFinite, j+1, i+1, v)
			}
		}
	}
	mean := make([]float64, len(readings))
	cov := make([][]float64, len(readings))
	for i, x := range readings {
		mean[i] = stat.Mean(x, nil)
		cov[i] = make([]float64, len(readings))
		for j, y := range readings {
			cov[i][j] = stat.Covariance(x, y, nil) / float64(n)
		}
	}
	return Correlated(name, units, mean, cov, float64(n-1))
}

// Correlated returns Values with the given numbers, whose uncertainties have
// the covariance matrix cov (in products of their units) and dof degrees of
// freedom, 0 for infinitely many. It is the door for results that come with
// correlations, such as the constants of a fitted curve.
//
// The contributions are called "name 1", "name 2" … They are the columns of the
// triangular root of cov, so that value i has i of them.
//
// It returns ErrOption if the sizes differ or cov is not a covariance matrix:
// symmetric, without negative variance, no correlation beyond ±1.
func Correlated(name string, units []string, x []float64, cov [][]float64, dof float64) ([]Value, error) {
	n := len(x)
	if len(units) != n || len(cov) != n {
		return nil, optionError("%d values, %d units and %d rows of covariances: there must be as many of each", n, len(units), len(cov))
	}
	scale := make([]float64, n)
	for i, row := range cov {
		if len(row) != n {
			return nil, optionError("row %d of the covariances has %d entries, expected %d", i+1, len(row), n)
		}
		if !(row[i] >= 0) {
			return nil, optionError("variance %d is %v: it cannot be negative", i+1, row[i])
		}
		scale[i] = math.Sqrt(row[i])
	}
	root, ok := triangularRoot(cov, scale)
	if !ok {
		return nil, optionError("the covariances do not fit the variances: no correlation may be beyond ±1, nor the matrix unsymmetric")
	}
	values := make([]Value, n)
	for i := range values {
		values[i] = Exact(x[i], units[i])
		for j := 0; j <= i; j++ {
			if u := scale[i] * root.At(i, j); u != 0 {
				values[i].Parts = append(values[i].Parts, Part{Name: fmt.Sprintf("%s %d", name, j+1), U: u, DOF: max(dof, 0)})
			}
		}
	}
	return values, nil
}

// triangularRoot returns L with L·Lᵀ the correlation matrix of cov, if it is one.
func triangularRoot(cov [][]float64, scale []float64) (*mat.TriDense, bool) {
	const slack = 1e-9 // for covariances that were rounded when printed
	n := len(cov)
	corr := mat.NewSymDense(n, nil)
	for i := range n {
		corr.SetSym(i, i, 1)
		for j := range i {
			s := scale[i] * scale[j]
			if !(math.Abs(cov[i][j]-cov[j][i]) <= slack*s) {
				return nil, false
			}
			if s > 0 {
				corr.SetSym(i, j, cov[i][j]/s)
			} else if cov[i][j] != 0 {
				return nil, false
			}
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(corr) {
		// Fully correlated quantities make the matrix singular.
		for i := range n {
			corr.SetSym(i, i, 1+slack)
		}
		if !chol.Factorize(corr) {
			return nil, false
		}
	}
	var root mat.TriDense
	chol.LTo(&root)
	return &root, true
}
