package phase

import (
	"math"
	"sort"

	"rotorhum/tacho/internal/sound"
)

// Course is an approximate rate over time, by knots in order of time; between
// knots the rate changes linearly.
type Course struct {
	T, Rate []float64
}

// At returns the rate at t, that of the nearest knot outside.
func (c Course) At(t float64) float64 {
	i := sort.SearchFloat64s(c.T, t)
	switch {
	case i == 0:
		return c.Rate[0]
	case i == len(c.T):
		return c.Rate[i-1]
	}
	f := (t - c.T[i-1]) / (c.T[i] - c.T[i-1])
	return c.Rate[i-1] + f*(c.Rate[i]-c.Rate[i-1])
}

// Block is a short piece of sound, demodulated along a course.
type Block struct {
	T float64 // centre, seconds
	// Length is the length of the whole block in seconds.
	Length float64
	// Phi is the phase of the course at T in radians.
	Phi float64
	// Sum is the sum of the weights and the weights have unit energy: a line
	// of complex amplitude a gives a*Sum/2, noise of variance s a variance s.
	Sum float64
	// Y holds, per channel, the demodulated half orders: Y[c][h-1] belongs to
	// h/2 times the rate. Odd h lie between the lines and show the noise.
	Y [][]complex128
}

// Demodulate cuts the stretch that the course covers into overlapping Hann
// blocks of cycles cycles (at least shortest seconds long), hop half a block,
// and demodulates in each all half orders up to harmonics + 1/2. With four
// cycles or more a Hann block keeps lines and the places half-way apart.
func Demodulate(src *sound.Source, c Course, harmonics int, cycles, shortest float64) ([]Block, error) {
	fs := src.Rate
	first := int(math.Ceil(c.T[0] * fs))
	last := min(int(c.T[len(c.T)-1]*fs), src.Frames-1)
	if last <= first {
		return nil, nil
	}
	// phase of the course at every sample, by the trapezoid rule, which is
	// exact for a rate that is linear between knots
	n := last - first + 1
	phi := make([]float64, n)
	rate := make([]float64, n)
	k := 0
	for i := range rate {
		if i%(1<<16) == 0 {
			if err := src.Stopped(); err != nil {
				return nil, err
			}
		}
		t := float64(first+i) / fs
		for k+2 < len(c.T) && c.T[k+1] < t {
			k++
		}
		f := (t - c.T[k]) / (c.T[k+1] - c.T[k])
		rate[i] = c.Rate[k] + f*(c.Rate[k+1]-c.Rate[k])
		if i > 0 {
			phi[i] = phi[i-1] + math.Pi*(rate[i]+rate[i-1])/fs
		}
	}
	x, err := src.Block(nil, first, n)
	if err != nil {
		return nil, err
	}
	one := make([]complex128, n) // half an order
	for i, p := range phi {
		if i%(1<<16) == 0 {
			if err := src.Stopped(); err != nil {
				return nil, err
			}
		}
		s, co := math.Sincos(p / 2)
		one[i] = complex(co, -s)
	}
	var blocks []Block
	var w []float64
	for centre := math.Max(shortest, cycles/rate[0]) * fs / 2; ; {
		i := int(centre)
		if i >= n {
			break
		}
		if err := src.Stopped(); err != nil {
			return nil, err
		}
		length := max(shortest, cycles/rate[i]) * fs
		lo, hi := int(math.Ceil(centre-length/2)), int(math.Floor(centre+length/2))
		if lo >= 0 && hi < n {
			b := Block{T: (float64(first) + centre) / fs, Y: make([][]complex128, len(x)), Length: length / fs}
			w = w[:0]
			e := 0.0
			for j := lo; j <= hi; j++ {
				v := 1 + math.Cos(2*math.Pi*(float64(j)-centre)/length)
				w = append(w, v)
				e += v * v
				b.Sum += v
			}
			g := 1 / math.Sqrt(e)
			b.Sum *= g
			k := min(i, n-2)
			b.Phi = phi[k] + (centre-float64(k))*(phi[k+1]-phi[k])
			for ch := range x {
				b.Y[ch] = demodulate(x[ch][lo:hi+1], w, one[lo:hi+1], 2*harmonics+1, g)
			}
			blocks = append(blocks, b)
		}
		centre += length / 2
	}
	return blocks, nil
}

// demodulate returns sum of x w g exp(-j h phi/2) for h = 1..halves.
func demodulate(x, w []float64, half []complex128, halves int, g float64) []complex128 {
	y := make([]complex128, halves)
	p := make([]complex128, len(x))
	for i, v := range x {
		p[i] = complex(v*w[i]*g, 0)
	}
	for h := range y {
		var re, im float64
		for i, e := range half {
			q := p[i] * e
			p[i] = q
			re += real(q)
			im += imag(q)
		}
		y[h] = complex(re, im)
	}
	return y
}
