package synth

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"

	"rotorhum/tacho/internal/rank"
)

// clip limits all channels, in place, to the size that the given part of all
// samples exceed, so that just that part is clipped, and scales that size to
// full scale.
func clip(samples [][]float64, part float64) {
	var sizes []float64
	for _, x := range samples {
		for _, v := range x {
			sizes = append(sizes, math.Abs(v))
		}
	}
	limit := rank.Select(sizes, min(len(sizes)-1, int(math.Floor(float64(len(sizes))*(1-part)))))
	if limit == 0 {
		return
	}
	for _, x := range samples {
		for i, v := range x {
			x[i] = math.Max(-1, math.Min(1, v/limit))
		}
	}
}

// Dropouts are moments at which the recorder loses the sound.
type Dropouts struct {
	// PerSecond and Seconds are the mean number and the mean length of random
	// ones; lengths are exponentially distributed.
	PerSecond float64 `json:"per_second,omitempty"`
	Seconds   float64 `json:"seconds,omitempty"`
	// At lists further ones.
	At []Interval `json:"at,omitempty"`
	// Hold repeats the last sample instead of giving digital silence.
	Hold bool `json:"hold,omitempty"`
}

// apply damages all channels, in place, and returns where.
func (d Dropouts) apply(samples [][]float64, fs float64, src *rand.Rand) []Interval {
	n := len(samples[0])
	gaps := append([]Interval(nil), d.At...)
	if d.PerSecond > 0 {
		for at := src.ExpFloat64() / d.PerSecond; at*fs < float64(n); at += src.ExpFloat64() / d.PerSecond {
			length := d.Seconds * src.ExpFloat64()
			gaps = append(gaps, Interval{From: at, To: math.Min(at+length, float64(n)/fs)})
			at += length
		}
	}
	sort.Slice(gaps, func(i, j int) bool { return gaps[i].From < gaps[j].From })
	for _, g := range gaps {
		from, to := max(0, int(math.Ceil(g.From*fs))), min(n, int(math.Ceil(g.To*fs)))
		for _, x := range samples {
			fill := 0.0
			if d.Hold && from > 0 && from < n {
				fill = x[from-1]
			}
			for i := from; i < to; i++ {
				x[i] = fill
			}
		}
	}
	return gaps
}

func (d Dropouts) check() error {
	if !(d.PerSecond >= 0 && d.PerSecond <= 1000) || !(d.Seconds >= 0 && d.Seconds <= 60) {
		return fmt.Errorf("dropouts: give per_second from 0 to 1000 and seconds from 0 to 60")
	}
	for i, g := range d.At {
		if !(g.From >= 0 && g.To >= g.From && finite(g.To)) {
			return fmt.Errorf("dropouts: interval %d must not end before it begins", i+1)
		}
	}
	return nil
}
