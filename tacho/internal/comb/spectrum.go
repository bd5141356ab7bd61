// Package comb looks for combs of lines, at whole multiples of one rate, in
// power spectra that are normalised by their noise floor.
package comb

import (
	"math"
	"slices"

	"rotorhum/tacho/internal/floor"
	"rotorhum/tacho/internal/transform"
)

// Spectrum is the noise-normalised power spectrum of one stretch of sound.
type Spectrum struct {
	// DF is the spacing of the bins in hertz; bins are finer than the
	// resolution because the samples are padded with zeros.
	DF float64
	// Z holds the normalised power of every bin, one slice per channel.
	Z [][]float64
	// Noise holds the noise variance per sample at every bin, per channel.
	Noise [][]float64
	// Seconds is the length of the stretch.
	Seconds float64
}

// pad is the least factor by which samples are padded with zeros.
const pad = 4

// NewSpectrum transforms equally long channels sampled at fs. taper, if not
// nil, weighs the samples and is as long as they are.
func NewSpectrum(x [][]float64, fs float64, taper []float64) *Spectrum {
	n := len(x[0])
	size := transform.FastLen(pad * n)
	plan := transform.NewReal(size)
	energy := float64(n)
	if taper != nil {
		energy = 0
		for _, w := range taper {
			energy += w * w
		}
	}
	s := &Spectrum{DF: fs / float64(size), Seconds: float64(n) / fs}
	buf := make([]float64, size)
	for _, ch := range x {
		mean := 0.0
		for _, v := range ch {
			mean += v
		}
		mean /= float64(n)
		for i, v := range ch {
			buf[i] = v - mean
			if taper != nil {
				buf[i] *= taper[i]
			}
		}
		clear(buf[n:])
		p := plan.Power(nil, buf)
		// a block of the floor spans 96 independent bins and at least 40 % of
		// its frequency; in a short sound, where that would be half the band, less:
		// noise that rises towards low frequencies would stand above its floor
		// there, and speak for slow rates
		cells := math.Min(96, math.Max(16, 150*s.Seconds))
		noise := floor.Estimate(nil, p, int(cells*float64(size)/float64(n)), 0.4)
		bound(noise, p)
		z := make([]float64, len(p))
		for k := range p {
			if noise[k] > 0 {
				z[k] = p[k] / noise[k]
			}
			noise[k] /= energy
		}
		s.Z = append(s.Z, z)
		s.Noise = append(s.Noise, noise)
	}
	return s
}

// range60 is the power, relative to the loudest bin, below which nothing counts
// as a line: 60 dB below, where windows leak and samples are rounded.
const range60 = 1e-6

// bound lifts a noise floor to range60 below the loudest bin.
func bound(noise, power []float64) {
	least := range60 * slices.Max(power)
	for k, v := range noise {
		noise[k] = max(v, least)
	}
}

// Refloor takes the noise floor of channel c from another signal, such as what
// a fit has left of it, and normalises the powers anew.
func (s *Spectrum) Refloor(c int, x []float64, fs float64) {
	r := NewSpectrum([][]float64{x}, fs, nil)
	for k, old := range s.Noise[c] {
		if r.Noise[0][k] > 0 {
			s.Z[c][k] *= old / r.Noise[0][k]
			s.Noise[c][k] = r.Noise[0][k]
		}
	}
}

// At returns the summed normalised power of all channels at frequency f and
// the number of channels that reach so far.
func (s *Spectrum) At(f float64) float64 {
	k := int(f/s.DF + 0.5)
	sum := 0.0
	for _, z := range s.Z {
		if k < len(z) {
			sum += z[k]
		}
	}
	return sum
}

// Loudest returns the largest normalised power.
func (s *Spectrum) Loudest() float64 {
	top := 0.0
	for _, z := range s.Z {
		top = max(top, slices.Max(z))
	}
	return top
}

// Top returns the highest frequency of the spectrum.
func (s *Spectrum) Top() float64 { return s.DF * float64(len(s.Z[0])-1) }

// Power is the power per resolution cell of one channel, in units of a noise
// variance per sample.
type Power struct {
	DF, Cell float64 // spacing of bins and resolution, hertz
	P        []float64
}

// Powers returns the power spectrum of x sampled at fs.
func Powers(x []float64, fs float64) *Power {
	n := len(x)
	size := transform.FastLen(2 * n)
	buf := make([]float64, size)
	copy(buf, x)
	p := transform.NewReal(size).Power(nil, buf)
	for k := range p {
		p[k] /= float64(n)
	}
	return &Power{DF: fs / float64(size), Cell: fs / float64(n), P: p}
}

// Mean returns the mean power between lo and hi hertz, clipped to the spectrum.
func (p *Power) Mean(lo, hi float64) float64 {
	a := max(1, int(math.Ceil(lo/p.DF)))
	b := min(len(p.P)-1, int(hi/p.DF))
	sum := 0.0
	for k := a; k <= b; k++ {
		sum += p.P[k]
	}
	if b < a {
		return 0
	}
	return sum / float64(b-a+1)
}
