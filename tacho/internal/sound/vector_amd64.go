//go:build !purego

package sound

import (
	"math"

	"golang.org/x/sys/cpu"
)

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

// wave is what the kernels need of a line: the cosines and sines of eight phases
// in a row, those of a turn of eight steps, and two times eight numbers of their
// own with what they change by over eight samples.
type wave struct {
	cos, sin         [8]float64
	turnCos, turnSin float64
	a, b             [8]float64
	aStep, bStep     float64
}

//go:noescape
func atRestAVX2(x *float64, n int, w *wave, sums *[4]float64)

//go:noescape
func takeLineAVX2(x *float64, n int, w *wave)

// newWave returns the wave of angular frequency w from sample start on.
func newWave(w float64, start int) *wave {
	v := &wave{}
	s, c := math.Sincos(w * float64(start))
	rs, rc := math.Sincos(w)
	for i := range v.cos {
		v.cos[i], v.sin[i] = c, s
		c, s = c*rc-s*rs, s*rc+c*rs
	}
	v.turnSin, v.turnCos = math.Sincos(8 * w)
	return v
}

// atRest is atRestGo up to rounding.
func atRest(x []float64, w float64, start int) (g segment) {
	n := len(x) &^ 7
	if !vector || n == 0 {
		return atRestGo(x, w, start)
	}
	v := newWave(w, start)
	for i := range v.a {
		v.a[i] = float64(i) - float64(len(x)-1)/2
	}
	v.aStep = 8
	var sums [4]float64
	atRestAVX2(&x[0], n, v, &sums)
	rest := atRestGo(x[n:], w, start+n)
	away := float64(n) / 2 // from the middle of the rest to that of all
	return segment{sums[0] + rest.re, sums[1] + rest.im,
		sums[2] + rest.dre + away*rest.re, sums[3] + rest.dim + away*rest.im}
}

// takeLine is takeLineGo up to rounding.
func takeLine(x []float64, w float64, start int, amp, rise complex128) {
	n := len(x) &^ 7
	if vector && n > 0 {
		v := newWave(w, start)
		for i := range v.a {
			z := amp + complex(float64(i), 0)*rise
			v.a[i], v.b[i] = real(z), imag(z)
		}
		v.aStep, v.bStep = 8*real(rise), 8*imag(rise)
		takeLineAVX2(&x[0], n, v)
	} else {
		n = 0
	}
	takeLineGo(x[n:], w, start+n, amp+complex(float64(n), 0)*rise, rise)
}
