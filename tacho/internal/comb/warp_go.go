//go:build !amd64 || purego

package comb

func interpolate(dst, x []float64, at []int32, weights [][4]float32) {
	interpolateGo(dst, x, at, weights)
}

func multiply(dst, x, w []float64) { multiplyGo(dst, x, w) }
