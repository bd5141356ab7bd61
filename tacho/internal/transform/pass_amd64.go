//go:build !purego

package transform

import "golang.org/x/sys/cpu"

// vector says that the processor can run the passes written for AVX2.
var vector = cpu.X86.HasAVX2 && cpu.X86.HasFMA

//go:noescape
func firstAVX2(dst, src, tw *float64, m int)

//go:noescape
func radix2AVX2(dst, src, tw *float64, m, s int)

//go:noescape
func radix3AVX2(dst, src, tw *float64, m, s int)

//go:noescape
func radix4AVX2(dst, src, tw *float64, m, s int)

//go:noescape
func radix5AVX2(dst, src, tw *float64, m, s int)

//go:noescape
func radix8AVX2(dst, src, tw *float64, m, s int)

//go:noescape
func unpackAVX2(dst, z, tw *float64, h int)

//go:noescape
func powerAVX2(dst, z, tw *float64, h int)

//go:noescape
func packAVX2(dst, src, tw *float64, h int)

//go:noescape
func interleaveAVX2(dst, src *float64, n int)

//go:noescape
func backwardsAVX2(dst, src *float64, n int)

//go:noescape
func gatherAVX2(dst, src *float64, r, c int)

//go:noescape
func turnAVX2(dst, src, coarse, fine *float64, r, c int)

func first(dst, src, tw []float64, m int) {
	if !vector {
		firstGo(dst, src, tw, m, 0)
		return
	}
	need(len(dst), 8*m, len(src), 8*m, len(tw), 6*m)
	firstAVX2(&dst[0], &src[0], &tw[0], m)
	firstGo(dst, src, tw, m, m&^3)
}

func radix2(dst, src, tw []float64, m, s int) {
	if !vector {
		radix2Go(dst, src, tw, m, s)
		return
	}
	need(len(dst), 4*m*s, len(src), 4*m*s, len(tw), 2*m)
	radix2AVX2(&dst[0], &src[0], &tw[0], m, s)
}

func radix3(dst, src, tw []float64, m, s int) {
	if !vector {
		radix3Go(dst, src, tw, m, s)
		return
	}
	need(len(dst), 6*m*s, len(src), 6*m*s, len(tw), 4*m)
	radix3AVX2(&dst[0], &src[0], &tw[0], m, s)
}

func radix4(dst, src, tw []float64, m, s int) {
	if !vector {
		radix4Go(dst, src, tw, m, s)
		return
	}
	need(len(dst), 8*m*s, len(src), 8*m*s, len(tw), 6*m)
	radix4AVX2(&dst[0], &src[0], &tw[0], m, s)
}

func radix5(dst, src, tw []float64, m, s int) {
	if !vector {
		radix5Go(dst, src, tw, m, s)
		return
	}
	need(len(dst), 10*m*s, len(src), 10*m*s, len(tw), 8*m)
	radix5AVX2(&dst[0], &src[0], &tw[0], m, s)
}

func radix8(dst, src, tw []float64, m, s int) {
	if !vector {
		radix8Go(dst, src, tw, m, s)
		return
	}
	need(len(dst), 16*m*s, len(src), 16*m*s, len(tw), 14*m)
	radix8AVX2(&dst[0], &src[0], &tw[0], m, s)
}

func unpack(dst, z, tw []float64, h int) {
	lo := 0
	if vector && h%4 == 0 {
		need(len(dst), 2*h+2, len(z), 2*h, len(tw), h)
		unpackAVX2(&dst[0], &z[0], &tw[0], h)
		lo = h / 8 * 4
	}
	unpackGo(dst, z, tw, h, lo, h/2+1)
}

func power(dst, z, tw []float64, h int) {
	lo := 0
	if vector && h%4 == 0 {
		need(len(dst), h+1, len(z), 2*h, len(tw), h)
		powerAVX2(&dst[0], &z[0], &tw[0], h)
		lo = h / 8 * 4
	}
	powerGo(dst, z, tw, h, lo, h/2+1)
}

func pack(dst, src, tw []float64, h int) {
	lo := 0
	if vector && h >= 8 {
		need(len(dst), 2*h, len(src), 2*h+2, len(tw), h)
		packAVX2(&dst[0], &src[0], &tw[0], h)
		packGo(dst, src, tw, h, 0, 4)
		lo = h / 8 * 4
	}
	packGo(dst, src, tw, h, lo, h/2+1)
}

func interleave(dst, src []float64, n int) {
	lo := 0
	if vector {
		need(len(dst), 2*n, len(src), 2*n, 0, 0)
		interleaveAVX2(&dst[0], &src[0], n)
		lo = n &^ 3
	}
	interleaveGo(dst, src, n, lo, n)
}

func backwards(dst, src []float64, n int) {
	lo := 0
	if vector {
		need(len(dst), 2*n, len(src), 2*n, 0, 0)
		backwardsAVX2(&dst[0], &src[0], n)
		backwardsGo(dst, src, n, 0, 4)
		lo = n &^ 3
	}
	backwardsGo(dst, src, n, lo, n)
}

func gather(dst, src []float64, r, c int) {
	if !vector {
		gatherGo(dst, src, r, c)
		return
	}
	need(len(dst), 2*strip*r, len(src), 2*(r-1)*c+2*strip, 0, 0)
	gatherAVX2(&dst[0], &src[0], r, c)
}

func turn(dst, src, coarse, fine []float64, r, c int) {
	if !vector {
		turnGo(dst, src, coarse, fine, r, c)
		return
	}
	need(len(dst), 2*(r-strip)*c+8*strip, len(src), 2*strip*(r-1)+8, len(coarse), 8*r/fineTurns)
	need(0, 0, 0, 0, len(fine), 8*fineTurns)
	turnAVX2(&dst[0], &src[0], &coarse[0], &fine[0], r, c)
}

// need panics if a slice is shorter than the vector code reads or writes: got
// and wanted in turn.
func need(dst, d, src, s, tw, t int) {
	if dst < d || src < s || tw < t {
		panic("transform: a buffer is too short")
	}
}
