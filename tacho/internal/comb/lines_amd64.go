//go:build !purego

package comb

import "rotorhum/tacho/internal/evidence"

//go:noescape
func logarithmsAVX2(u, sum *float32, power *float64, floor, poly *float32, n int)

//go:noescape
func contrastAVX2(ev, u, sum, share, curve, scale *float32, n int)

//go:noescape
func peaksAVX2(dst *int32, ev, u *float32, least float32, lo, n int) int

//go:noescape
func weighCombsAVX2(sums, steps, ev, prior *float32, top float32, harmonics, n int)

var (
	log2Poly   = [4]float32{log2c0, log2c1, log2c2, log2c3}
	curveScale = [3]float32{meanLog, evidence.CurveScale, -evidence.CurveFrom * evidence.CurveScale}
)

// logarithms is logarithmsGo, up to rounding, with nothing before.
func logarithms(u, sum []float32, power []float64, floor []float32) {
	n := len(power) &^ 7
	before := float32(0)
	if vector && n > 0 {
		_, _, _ = u[n-1], sum[n-1], floor[n-1]
		logarithmsAVX2(&u[0], &sum[0], &power[0], &floor[0], &log2Poly[0], n)
		before = sum[n-1]
	} else {
		n = 0
	}
	logarithmsGo(u[n:], sum[n:], power[n:], floor[n:], before)
}

// contrast is contrastGo up to rounding.
func contrast(ev, u, sum, share []float32, c *evidence.Curve) {
	n := len(u) &^ 7
	if vector && n > 0 {
		_, _, _ = ev[n-1], sum[n+2*contrastHalf], share[n-1]
		contrastAVX2(&ev[0], &u[0], &sum[0], &share[0], &c.C[0][0], &curveScale[0], n)
	} else {
		n = 0
	}
	contrastGo(ev[n:], u[n:], sum[n:], share[n:], c)
}

// peaks is peaksGo. dst must have room for hi-lo more.
func peaks(dst []int32, ev, u []float32, lo, hi int) []int32 {
	n := (hi - lo) &^ 7
	if vector && n > 0 {
		have := len(dst)
		_, _, _ = ev[lo+n-1], u[lo-1], u[lo+n]
		dst = dst[:have+n]
		dst = dst[:have+peaksAVX2(&dst[have], &ev[0], &u[0], clearest, lo, n)]
		lo += n
	}
	return peaksGo(dst, ev, u, lo, hi)
}

// weighCombs is weighCombsGo up to rounding.
func weighCombs(sums, steps, ev, prior []float32) {
	n := len(steps) &^ 7
	if vector && n > 0 && len(prior) > 0 && len(ev) > 2 {
		_ = sums[n-1]
		weighCombsAVX2(&sums[0], &steps[0], &ev[0], &prior[0], float32(len(ev)-2), len(prior), n)
	} else {
		n = 0
	}
	weighCombsGo(sums[n:], steps[n:], ev, prior)
}
