package tacho

import (
	"math"
	"testing"

	"rotorhum/tacho/internal/sound"
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

// What is left of a hum are lines of the supply, and no others: a stack of which every
// second line lies on one of them is a rotor's if the rest sound as well, and so is one
// beside them.
func TestWhatIsLeftOfAHum(t *testing.T) {
	h := &sound.Hum{Base: 50.01}
	all := func(int) float64 { return 100 }
	even := func(m int) float64 { return 100 * float64((m+1)%2) }
	for _, c := range []struct {
		name  string
		hz    float64
		power func(m int) float64
		want  bool
	}{
		{"its fifth line", 250.1, all, true},
		{"lines on every second", 75.0, even, true},
		{"a rotor half way between two lines", 275.0, all, false},
		{"a rotor half a hertz beside a line", 1000.7, all, false},
		{"a rotor beside the first", 50.3, all, false},
	} {
		if got := leftOf(h, c.hz, c.power); got != c.want {
			t.Errorf("%s, %g Hz: left of a hum of 50.01 Hz is %t, want %t", c.name, c.hz, got, c.want)
		}
	}
}
