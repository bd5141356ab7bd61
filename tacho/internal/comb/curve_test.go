package comb

import (
	"math"
	"testing"
)

// Between knots a falling rate has its phase where the closed form of an exponential
// coast-down says, t = -ln(1 - k phi/f)/k, to a fiftieth of what chords miss, and one of
// constant acceleration exactly.
func TestCurveFollowsAChangingRate(t *testing.T) {
	const f, turns = 25.0, 48.0
	for name, at := range map[string]func(phi float64) float64{
		"exponential": func(phi float64) float64 { const k = 0.25; return -math.Log(1-k*phi/f) / k },
		"linear in t": func(phi float64) float64 { return (phi - 0.002*phi*phi) / f },
	} {
		var exact [knots + 1]float64
		for k := range exact {
			exact[k] = at(turns * float64(k) / knots)
		}
		var c curve
		c.through(&exact)
		worst, chords := 0.0, 0.0
		for u := 0.0; u < knots; u += 0.1 {
			truth := at(turns * u / knots)
			k := int(u)
			chord := exact[k] + (u-float64(k))*(exact[k+1]-exact[k])
			worst, chords = math.Max(worst, math.Abs(c.at(u)-truth)), math.Max(chords, math.Abs(chord-truth))
		}
		least := 0.02 * chords
		if name == "linear in t" {
			least = 1e-12
		}
		if worst > least {
			t.Errorf("%s: off by %.2g s, chords by %.2g s", name, worst, chords)
		}
	}
}
