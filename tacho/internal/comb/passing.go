package comb

import (
	"math"

	"rotorhum/tacho/internal/floor"
	"rotorhum/tacho/internal/sound"
	"rotorhum/tacho/internal/transform"
)

const (
	// Of a sound so many frames are looked at, of passingSeconds each, passingHop apart
	// or farther.
	passingFrames, passingSeconds, passingHop = 120, 0.18, 0.2
	// A line is one that stands loud times above the noise, there one that does faintly;
	// its own is what is there in ownShare of the frames in which the rate is about the
	// same: lines grow with it.
	loud, faintly, ownShare, aboutRate = 30.0, 5.0, 0.5, 1.25
	// passingLines is how many lines of something else pass in a frame at least.
	passingLines = 2
)

// Passing returns for how many seconds between two times lines are heard that belong to
// none of several rates: the lines of what turns at a rate of its own pass theirs, while
// all that belongs to a rate stays at one ratio to it. A rate is 0 where it is not known.
func Passing(src *sound.Source, rates []func(t float64) float64, from, to float64) (seconds float64, err error) {
	n := 1
	for float64(n)*1.42 < passingSeconds*src.Rate {
		n *= 2
	}
	count := min(passingFrames, int((to-from)/passingHop))
	if count < 1 {
		return 0, nil
	}
	p := passing{df: src.Rate / float64(n), plan: transform.NewReal(n), taper: hann(n), noise: floor.NewBlocks(n/2+1, 24, 0.3, 128)}
	var x [][]float64
	for k := range count {
		t := from + (to-from)*(float64(k)+0.5)/float64(count)
		if x, err = src.Block(x, int(t*src.Rate)-n/2, n); err != nil {
			return 0, err
		}
		f, any := frame{rates: make([]float64, len(rates))}, false
		for i, rate := range rates {
			f.rates[i] = rate(t)
			any = any || f.rates[i] > 0
		}
		if !any {
			continue
		}
		f.power = p.normalised(x)
		p.frames = append(p.frames, f)
	}
	heard := 0
	for _, f := range p.frames {
		if p.strangers(f) >= passingLines {
			heard++
		}
	}
	return float64(heard) * (to - from) / float64(count), nil
}

// passing is what is looked at for lines that pass.
type passing struct {
	df     float64 // hertz between bins
	plan   *transform.Real
	taper  []float64
	noise  *floor.Blocks
	frames []frame
}

// frame is one of its frames: the power of every bin over the noise, and the rates then.
type frame struct {
	power []float32
	rates []float64
}

// normalised returns the power of every bin over the noise, of the channel where that is
// most.
func (p *passing) normalised(x [][]float64) []float32 {
	n := len(x[0])
	out, buf, level := make([]float32, n/2+1), make([]float64, n), make([]float64, p.noise.Len())
	for _, ch := range x {
		for i, v := range ch[:n] {
			buf[i] = v * p.taper[i]
		}
		power := p.plan.Power(nil, buf)
		p.noise.Levels(level, power, 10)
		p.noise.Join(level, func(k int, v float64) {
			if v > 0 {
				out[k] = max(out[k], float32(power[k]/v))
			}
		})
	}
	return out
}

// strangers counts the lines of a frame that belong to none of the rates.
func (p *passing) strangers(f frame) (n int) {
	q := f.power
	for k := 2; k < len(q)-2; k++ {
		if q[k] > loud && q[k] >= q[k-1] && q[k] > q[k+1] && q[k] > q[k-2] && q[k] > q[k+2] && !p.own(f, k) {
			n++
		}
	}
	return n
}

// own reports whether the line in bin k of a frame comes again at the same ratio to one
// of the rates.
func (p *passing) own(f frame, k int) bool {
	for i, rate := range f.rates {
		if rate == 0 {
			continue
		}
		there, known := 0, 0
		for _, o := range p.frames {
			if r := o.rates[i] / rate; r > aboutRate || r < 1/aboutRate {
				continue
			}
			j := int(math.Round(float64(k) * o.rates[i] / rate))
			if j < 1 || j >= len(o.power)-1 {
				continue
			}
			known++
			if max(o.power[j-1], o.power[j], o.power[j+1]) > faintly {
				there++
			}
		}
		if float64(there) > ownShare*float64(known) {
			return true
		}
	}
	return false
}
