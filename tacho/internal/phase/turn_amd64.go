//go:build !purego

package phase

import "golang.org/x/sys/cpu"

// vector says that the processor can run what is written for AVX2.
var vector = cpu.X86.HasAVX2 && cpu.X86.HasFMA

//go:noescape
func turnTwiceAVX2(p, q, re, im *float64, n int) (a, b, c, d float64)

// turnTwice is turnTwiceGo up to rounding.
func turnTwice(p, q, re, im []float64) (a, b, c, d float64) {
	if !vector || len(p) == 0 {
		return turnTwiceGo(p, q, re, im)
	}
	_, _, _ = q[len(p)-1], re[len(p)-1], im[len(p)-1]
	return turnTwiceAVX2(&p[0], &q[0], &re[0], &im[0], len(p))
}
