//go:build !amd64 || purego

package phase

func turnTwice(p, q, re, im []float64) (a, b, c, d float64) { return turnTwiceGo(p, q, re, im) }
