package transform

import (
	"fmt"
	"testing"
)

// The ratios to other libraries are measured by scripts/bench; these are for
// profiles.

func BenchmarkForward(b *testing.B) {
	for _, n := range []int{256, 1024, 4096, 16384, 65536, 1 << 20, 1 << 22, 6000, 44100} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			p, x, y := NewReal(n), randoms(n, 1), make([]complex128, n/2+1)
			b.SetBytes(int64(8 * n))
			for b.Loop() {
				p.Forward(y, x)
			}
		})
	}
}

func BenchmarkInverse(b *testing.B) {
	const n = 4096
	p, x, y := NewReal(n), make([]float64, n), complexRandoms(n/2+1, 1)
	for b.Loop() {
		p.Inverse(x, y)
	}
}

func BenchmarkPower(b *testing.B) {
	const n = 4096
	p, x, y := NewReal(n), randoms(n, 1), make([]float64, n/2+1)
	for b.Loop() {
		p.Power(y, x)
	}
}

func BenchmarkComplex(b *testing.B) {
	const n = 4096
	p, x, y := NewComplex(n), complexRandoms(n, 1), make([]complex128, n)
	for b.Loop() {
		p.Forward(y, x)
	}
}

func BenchmarkNewReal(b *testing.B) {
	for _, n := range []int{4096, 1 << 20} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				NewReal(n)
			}
		})
	}
}
