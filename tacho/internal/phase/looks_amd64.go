//go:build !purego

package phase

import "math"

// lanes are four beliefs side by side: the state, the upper half of the covariance
// row by row, the sum of the squares of the surprises, and the product of their
// variances as a mantissa and the bits of the sum of exponents.
type lanes [12][4]float64

//go:noescape
func takeInAVX2(s *lanes, list *look, q *float64, n, step int)

// takeIn is takeInGo up to rounding.
func (f *four) takeIn(from *belief, list []look, q []float64) {
	if !vector || len(list) == 0 {
		f.takeInGo(from, list, q)
		return
	}
	step := 0
	if len(q) > 4 {
		step = 32
		_ = q[4*len(list)-1]
	}
	s := &f.lanes
	for k := range 4 {
		s[0][k], s[1][k], s[2][k] = from.x[0], from.x[1], from.x[2]
		s[3][k], s[4][k], s[5][k] = from.p[0][0], from.p[0][1], from.p[0][2]
		s[6][k], s[7][k], s[8][k] = from.p[1][1], from.p[1][2], from.p[2][2]
	}
	takeInAVX2(s, &list[0], &q[:4][0], len(list), step)
	const bias = 1023
	for k := range 4 {
		exponent := int64(math.Float64bits(s[11][k])) - bias*int64(len(list))
		f.like[k] = -0.5 * (s[9][k] + math.Log(s[10][k]) + math.Ln2*float64(exponent))
		f.to[k] = belief{
			x: vec{s[0][k], s[1][k], s[2][k]},
			p: sym{{s[3][k], s[4][k], s[5][k]}, {s[4][k], s[6][k], s[7][k]}, {s[5][k], s[7][k], s[8][k]}},
		}
	}
}
