package tacho

import (
	"math"
	"testing"
)

// A hum that sways for a moment is still a hum; what never stands still is none.
func TestHumsForMostOfTheTime(t *testing.T) {
	for _, c := range []struct {
		name  string
		share float64 // of the time for which the rate sways by 3 %
		hz    float64
		want  bool
	}{
		{"it stands still", 0, 59.95, true},
		{"it sways where it sets in", 0.1, 50.02, true},
		{"twice the supply", 0.1, 100.1, true},
		{"it sways all the time", 1, 60, false},
		{"off the supply by a half per cent", 0, 60.3, false},
	} {
		s := moving(func(at float64) float64 {
			rate := math.Log(2 * math.Pi * c.hz / 1000)
			if at < 4*c.share {
				rate += 0.03 * math.Sin(2*math.Pi*2*at)
			}
			return rate
		})
		if got := s.hums(nil); got != c.want {
			t.Errorf("%s: a hum is %t, want %t", c.name, got, c.want)
		}
	}
}

// A supply keeps its frequency to some thousandths (common practice): what surely sways by
// more, and keeps the phases of its lines all the while, is a rotor's.
func TestWhatSurelySwaysIsNoHum(t *testing.T) {
	for _, c := range []struct {
		name                     string
		sway, unknown, coherence float64
		want                     bool
	}{
		{"a rotor in flutter", 0.003, 1e-4, 0.99, false},
		{"a supply", 0.0005, 1e-5, 0.99, true},
		{"it sways no more than is unknown", 0.003, 1e-3, 0.99, true},
		{"something disturbs its lines", 0.003, 1e-4, 0.8, true},
	} {
		s := moving(func(at float64) float64 {
			return math.Log(2*math.Pi*120/1000) + c.sway*math.Sin(2*math.Pi*3*at)
		})
		s.fit.Coherence = c.coherence
		for i := range s.fit.Motion {
			m := &s.fit.Motion[i]
			m.OmegaVar = c.unknown * c.unknown * m.Omega * m.Omega
		}
		if got := s.hums(nil); got != c.want {
			t.Errorf("%s: a hum is %t, want %t", c.name, got, c.want)
		}
	}
}
