package phase

import "math"

// vec is a state of a motion, its phase, rate and acceleration, and sym a matrix over
// these: a covariance, its inverse or a transition.
type (
	vec [3]float64
	sym [3][3]float64
)

func mul(a, b sym) (c sym) {
	for i := range a {
		u, v, w := a[i][0], a[i][1], a[i][2]
		c[i] = vec{u*b[0][0] + v*b[1][0] + w*b[2][0], u*b[0][1] + v*b[1][1] + w*b[2][1], u*b[0][2] + v*b[1][2] + w*b[2][2]}
	}
	return c
}

func transpose(a sym) (b sym) {
	for i := range 3 {
		for j := range 3 {
			b[i][j] = a[j][i]
		}
	}
	return b
}

func apply(a sym, x vec) vec {
	return vec{
		a[0][0]*x[0] + a[0][1]*x[1] + a[0][2]*x[2],
		a[1][0]*x[0] + a[1][1]*x[1] + a[1][2]*x[2],
		a[2][0]*x[0] + a[2][1]*x[1] + a[2][2]*x[2],
	}
}

// solve returns the inverse of a times b, by elimination with the largest pivot
// of each column, rows scaled alike.
func solve(a, b sym) sym {
	var scale vec
	for i := range 3 {
		scale[i] = 1 / max(math.Abs(a[i][0]), math.Abs(a[i][1]), math.Abs(a[i][2]))
	}
	for k := range 3 {
		top := k
		for i := k + 1; i < 3; i++ {
			if math.Abs(a[i][k])*scale[i] > math.Abs(a[top][k])*scale[top] {
				top = i
			}
		}
		a[k], a[top], b[k], b[top], scale[k], scale[top] = a[top], a[k], b[top], b[k], scale[top], scale[k]
		g := 1 / a[k][k]
		for i := k + 1; i < 3; i++ {
			r := a[i][k] * g
			for j := range 3 {
				a[i][j] -= r * a[k][j]
				b[i][j] -= r * b[k][j]
			}
		}
	}
	for k := 2; k >= 0; k-- {
		g := 1 / a[k][k]
		for j := range 3 {
			v := b[k][j]
			for i := k + 1; i < 3; i++ {
				v -= a[k][i] * b[i][j]
			}
			b[k][j] = v * g
		}
	}
	return b
}

// solveOne is solve for a vector; it returns the determinant of a, too.
func solveOne(a sym, x vec) (vec, float64) {
	var scale vec
	for i := range 3 {
		scale[i] = 1 / max(math.Abs(a[i][0]), math.Abs(a[i][1]), math.Abs(a[i][2]))
	}
	det := 1.0
	for k := range 3 {
		top := k
		for i := k + 1; i < 3; i++ {
			if math.Abs(a[i][k])*scale[i] > math.Abs(a[top][k])*scale[top] {
				top = i
			}
		}
		if top != k {
			a[k], a[top], x[k], x[top], scale[k], scale[top] = a[top], a[k], x[top], x[k], scale[top], scale[k]
			det = -det
		}
		det *= a[k][k]
		g := 1 / a[k][k]
		for i := k + 1; i < 3; i++ {
			r := a[i][k] * g
			for j := k + 1; j < 3; j++ {
				a[i][j] -= r * a[k][j]
			}
			x[i] -= r * x[k]
		}
	}
	x[2] /= a[2][2]
	x[1] = (x[1] - a[1][2]*x[2]) / a[1][1]
	x[0] = (x[0] - a[0][1]*x[1] - a[0][2]*x[2]) / a[0][0]
	return x, det
}

// symmetric evens out what rounding made different across the diagonal.
func symmetric(a sym) sym {
	for i := range 3 {
		for j := range i {
			m := (a[i][j] + a[j][i]) / 2
			a[i][j], a[j][i] = m, m
		}
	}
	return a
}

var one = sym{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}

// onePlus adds one to a.
func onePlus(a sym) sym { return add(a, one) }
