//go:build !purego

package comb

import "golang.org/x/sys/cpu"

// vector says that the processor can run what is written for AVX2.
var vector = cpu.X86.HasAVX2 && cpu.X86.HasFMA

//go:noescape
func interpolateAVX2(dst, x *float64, at *int32, weights *float32, n int)

//go:noescape
func multiplyAVX2(dst, x, w *float64, n int)

// multiply is multiplyGo.
func multiply(dst, x, w []float64) {
	n := len(dst) &^ 3
	if !vector || n == 0 {
		multiplyGo(dst, x, w)
		return
	}
	_, _ = x[n-1], w[n-1]
	multiplyAVX2(&dst[0], &x[0], &w[0], n)
	multiplyGo(dst[n:], x[n:], w[n:])
}

// interpolate is interpolateGo.
func interpolate(dst, x []float64, at []int32, weights [][4]float32) {
	n := len(dst) &^ 3
	if !vector || n == 0 {
		interpolateGo(dst, x, at, weights)
		return
	}
	// the places rise: the last is the highest
	_, _, _ = x[at[0]], x[at[n-1]+3], weights[n-1]
	interpolateAVX2(&dst[0], &x[0], &at[0], &weights[0][0], n)
	interpolateGo(dst[n:], x, at[n:], weights[n:])
}
