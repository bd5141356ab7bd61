//go:build !purego

package sound

import "golang.org/x/sys/cpu"

// vector says that the processor can run what is written for AVX2.
var vector = cpu.X86.HasAVX2 && cpu.X86.HasFMA

//go:noescape
func dotAVX2(a, b *float64, n int) float64

// dot is dotGo up to rounding.
func dot(taps, x []float64) float64 {
	n := len(taps) &^ 15
	if !vector || n == 0 {
		return dotGo(taps, x)
	}
	_ = x[n-1]
	return dotAVX2(&taps[0], &x[0], n) + dotGo(taps[n:], x[n:])
}
