//go:build !purego

package rank

import "golang.org/x/sys/cpu"

// vector says that the processor can run what is written for AVX2.
var vector = cpu.X86.HasAVX2

//go:noescape
func upToAVX2(x *float32, n int, v float32) int

// upTo is upToGo.
func upTo(x []float32, v float32) int {
	n := len(x) &^ 7
	if !vector || n == 0 {
		return upToGo(x, v)
	}
	return upToAVX2(&x[0], n, v) + upToGo(x[n:], v)
}
