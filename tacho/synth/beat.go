package synth

import (
	"fmt"
	"math"
)

// Beat makes a rotor's sound rise and fall by Depth (0 to 1) of its amplitude.
// Its rate is Rate hertz, or Precession/fr where that is set: the precession of
// a top, which quickens as its spin fr (rev/s) decays. Precession is in rev²/s².
type Beat struct {
	Depth      float64 `json:"depth"`
	Rate       float64 `json:"rate_hz,omitempty"`
	Precession float64 `json:"precession_rev2_per_s2,omitempty"`
}

// beating is a beat under way.
type beating struct {
	Beat
	turn float64
}

// step returns the factor for a sample at shaft speed fr and moves on by h
// seconds. A top that has come to rest no longer precesses.
func (b *beating) step(fr, h float64) float64 {
	g := 1 + b.Depth*math.Cos(2*math.Pi*b.turn)
	rate := b.Rate
	if b.Precession > 0 {
		rate = 0
		if fr > 0 {
			rate = math.Min(b.Precession/fr, fr)
		}
	}
	b.turn = math.Mod(b.turn+rate*h, 1)
	return g
}

func (b *Beat) check() error {
	if !(b.Depth >= 0 && b.Depth <= 1) || !(b.Rate >= 0 && b.Rate < 1000) || !(b.Precession >= 0 && finite(b.Precession)) {
		return fmt.Errorf("beat needs a depth from 0 to 1 and a rate or precession of zero or more")
	}
	return nil
}
