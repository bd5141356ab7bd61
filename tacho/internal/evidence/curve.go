package evidence

import "math"

// Curve is the evidence of a line over the binary logarithm of its normalised
// power, in pieces of a parabola each: as close to a Line as 0.05 nats, in few
// enough numbers to stay in the registers of a processor. It is read-only.
type Curve struct {
	// C holds the coefficients of 1, d and d*d of every piece, d from 0 to 1.
	C [3][CurvePieces]float32
}

// The pieces of a curve begin at CurveFrom and are 1/CurveScale wide. Below the
// first the evidence is taken to be constant, the last is a straight line without
// end, as Line is beyond its table.
const (
	CurvePieces = 16
	CurveScale  = 1 / 0.6
	CurveFrom   = 7 - (CurvePieces-1)/CurveScale
)

// Curve returns the curve of l.
func (l *Line) Curve() *Curve {
	c := &Curve{}
	at := func(i int, d float64) float64 { return l.At(math.Exp2(CurveFrom + (float64(i)+d)/CurveScale)) }
	for i := range CurvePieces {
		a, m, b := at(i, 0), at(i, 0.5), at(i, 1)
		if i == CurvePieces-1 {
			m = (a + b) / 2
		}
		c.C[0][i] = float32(a)
		c.C[1][i] = float32(4*m - 3*a - b)
		c.C[2][i] = float32(2 * (a + b - 2*m))
	}
	return c
}

// At returns the evidence of a normalised power of 2^u.
func (c *Curve) At(u float32) float32 {
	d := max(0, (u-CurveFrom)*CurveScale)
	i := min(int(d), CurvePieces-1)
	d -= float32(i)
	return c.C[0][i] + d*(c.C[1][i]+d*c.C[2][i])
}
