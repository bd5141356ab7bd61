package comb

import (
	"math"
	"sort"
	"sync"

	"rotorhum/tacho/internal/evidence"
)

// Scanner weighs rates by the evidence of their combs.
type Scanner struct {
	Line  *evidence.Line
	Order *evidence.Order
	// Harmonics bounds the number of harmonics looked at.
	Harmonics int
	alike     *evidence.Alike
	place, z  []float64
	rest      []float64
	long      *evidence.Order // of more of them
}

// scanLine is the evidence of lines in a scan, scanAlike that of lines that are
// alike, of which fewer are missing.
var (
	scanLine  = sync.OnceValue(func() *evidence.Line { return evidence.New(0.75, 1e-3) })
	scanAlike = sync.OnceValue(func() *evidence.Alike { return evidence.NewAlike(0.9, 1e-3) })
)

// NewScanner returns a scanner of up to harmonics places per comb.
func NewScanner(harmonics int) *Scanner {
	return &Scanner{Line: scanLine(), Order: evidence.NewOrder(harmonics), Harmonics: harmonics, alike: scanAlike()}
}

// Candidate is a rate and the evidence for it.
type Candidate struct {
	Rate     float64
	Evidence float64
}

// Places returns the evidence of each harmonic of rate, valid until the next
// call.
func (c *Scanner) Places(s *Spectrum, rate float64) []float64 {
	return c.places(s, rate, c.Harmonics)
}

// places is Places for up to so many harmonics.
func (c *Scanner) places(s *Spectrum, rate float64, harmonics int) []float64 {
	c.place = c.place[:0]
	top := s.Top()
	for m := 1; m <= harmonics; m++ {
		f := float64(m) * rate
		if f > top-2*s.DF {
			break
		}
		k := int(f/s.DF + 0.5)
		v := c.Line.At(s.Z[0][k])
		if len(s.Z) > 1 {
			v = evidence.Join(v, c.others(func(ch int) float64 { return s.Z[ch][k] }, len(s.Z)))
		}
		c.place = append(c.place, v)
	}
	return c.place
}

// others returns the evidence of a place in the channels after the first, of so many in
// all, by its normalised power in each.
func (c *Scanner) others(z func(ch int) float64, channels int) float64 {
	v := c.Line.At(z(1))
	for ch := 2; ch < channels; ch++ {
		v = evidence.Join(v, c.Line.At(z(ch)))
	}
	return v
}

// Evidence returns the evidence of the comb at rate.
func (c *Scanner) Evidence(s *Spectrum, rate float64) float64 {
	return c.Of(len(c.Places(s, rate)), len(s.Z), func(ch, m int) float64 { return s.Z[ch][int(float64(m)*rate/s.DF+0.5)] })
}

// Of returns the evidence of a comb of so many places from the normalised power z of place
// m = 1, 2, ... in each channel, of which the first is the loudest.
func (c *Scanner) Of(places, channels int, z func(ch, m int) float64) float64 {
	c.z, c.rest = c.z[:0], c.rest[:0]
	for m := 1; m <= places; m++ {
		c.z = append(c.z, z(0, m))
		if channels > 1 {
			c.rest = append(c.rest, c.others(func(ch int) float64 { return z(ch, m) }, channels))
		}
	}
	return c.alike.Sum(c.Order, c.Line, c.z, c.rest)
}

// Scan weighs every rate from lo to hi and returns the best keep candidates,
// best first, no two closer than the resolution. trials is the number of
// rates that differ enough to count as separate attempts.
func (c *Scanner) Scan(s *Spectrum, lo, hi float64, keep int) (best []Candidate, trials float64) {
	res := 1 / s.Seconds
	top := s.Top()
	var peaks []Candidate
	var a, b Candidate // the two before
	rise := func(x Candidate) {
		if b.Evidence > a.Evidence && b.Evidence >= x.Evidence && b.Rate > 0 {
			peaks = append(peaks, b)
		}
		a, b = b, x
	}
	a.Evidence, b.Evidence = math.Inf(-1), math.Inf(-1)
	for f := lo; f <= hi && f < top; {
		rise(Candidate{f, c.Order.Max(c.Places(s, f))})
		m := math.Min(float64(c.Harmonics), math.Floor(top/f))
		step := 0.25 * res / m
		f += step
		trials += 0.25
	}
	rise(Candidate{0, math.Inf(-1)})
	sort.Slice(peaks, func(i, j int) bool { return peaks[i].Evidence > peaks[j].Evidence })
	if len(peaks) > 8*keep {
		peaks = peaks[:8*keep]
	}
	for i, p := range peaks {
		// the best between the rates that were tried
		step := 0.25 * res / math.Min(float64(c.Harmonics), math.Floor(top/p.Rate))
		p.Evidence = math.Inf(-1)
		for part := -0.5; part <= 0.5; part += 0.25 {
			rate := peaks[i].Rate + part*step
			if e := c.Evidence(s, rate); e > p.Evidence {
				p.Rate, p.Evidence = rate, e
			}
		}
		peaks[i] = p
	}
	sort.Slice(peaks, func(i, j int) bool { return peaks[i].Evidence > peaks[j].Evidence })
	for _, p := range peaks {
		if len(best) == keep {
			break
		}
		near := false
		for _, q := range best {
			if math.Abs(p.Rate-q.Rate) < res/4 {
				near = true
			}
		}
		if !near {
			best = append(best, p)
		}
	}
	return best, trials
}
