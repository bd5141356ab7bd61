//go:build !amd64 || purego

package transform

func first(dst, src, tw []float64, m int)             { firstGo(dst, src, tw, m, 0) }
func radix2(dst, src, tw []float64, m, s int)         { radix2Go(dst, src, tw, m, s) }
func radix3(dst, src, tw []float64, m, s int)         { radix3Go(dst, src, tw, m, s) }
func radix4(dst, src, tw []float64, m, s int)         { radix4Go(dst, src, tw, m, s) }
func radix5(dst, src, tw []float64, m, s int)         { radix5Go(dst, src, tw, m, s) }
func radix8(dst, src, tw []float64, m, s int)         { radix8Go(dst, src, tw, m, s) }
func unpack(dst, z, tw []float64, h int)              { unpackGo(dst, z, tw, h, 0, h/2+1) }
func power(dst, z, tw []float64, h int)               { powerGo(dst, z, tw, h, 0, h/2+1) }
func pack(dst, src, tw []float64, h int)              { packGo(dst, src, tw, h, 0, h/2+1) }
func interleave(dst, src []float64, n int)            { interleaveGo(dst, src, n, 0, n) }
func backwards(dst, src []float64, n int)             { backwardsGo(dst, src, n, 0, n) }
func gather(dst, src []float64, r, c int)             { gatherGo(dst, src, r, c) }
func turn(dst, src, coarse, fine []float64, r, c int) { turnGo(dst, src, coarse, fine, r, c) }

// vector says that the processor has vector passes; none are built in.
var vector = false
