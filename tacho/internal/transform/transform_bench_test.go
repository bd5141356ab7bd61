package transform

import (
	"fmt"
	"testing"
)

func BenchmarkReal(b *testing.B) {
	for n := 256; n <= 1<<22; n *= 2 {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			p := NewReal(n)
			x := make([]float64, n)
			for i := range x {
				x[i] = float64(i*7919%1000)/500 - 1
			}
			y := make([]complex128, n/2+1)
			for b.Loop() {
				p.Forward(y, x)
			}
		})
	}
}
