//go:build !amd64 || purego

package comb

import "rotorhum/tacho/internal/evidence"

func logarithms(u, sum []float32, power []float64, floor []float32) {
	logarithmsGo(u, sum, power, floor, 0)
}

func contrast(ev, u, sum, share []float32, c *evidence.Curve) { contrastGo(ev, u, sum, share, c) }

func peaks(dst []int32, ev, u []float32, lo, hi int) []int32 { return peaksGo(dst, ev, u, lo, hi) }

func weighCombs(sums, steps, ev, prior []float32) { weighCombsGo(sums, steps, ev, prior) }
