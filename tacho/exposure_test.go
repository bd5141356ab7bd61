package tacho

import (
	"errors"
	"math"
	"testing"
)

// NIOSH prints on its noise pages 85 dBA for 8 h, 88 for 4, 91 for 2, 94 for 60
// min, 97 for 30 and 100 for 15, and in Table 1-1 of its criteria document 86 dBA
// for 6 h 21 min, 95 for 47 min 37 s and 115 for 28 s (rounded there to whole
// minutes or seconds). 29 CFR 1910.95, Table G-16, from memory: 90 dBA for 8 h, 95
// for 4, 100 for 2, 105 for 1, 110 for half an hour, 115 for a quarter.
func TestNoiseLimits(t *testing.T) {
	for _, c := range []struct {
		limit           NoiseLimit
		level           float64
		seconds, within float64
	}{
		{NIOSHLimit, 85, 8 * 3600, 0}, {NIOSHLimit, 88, 4 * 3600, 0}, {NIOSHLimit, 91, 2 * 3600, 0},
		{NIOSHLimit, 94, 3600, 0}, {NIOSHLimit, 97, 1800, 0}, {NIOSHLimit, 100, 900, 0},
		{NIOSHLimit, 86, 6*3600 + 21*60, 30}, {NIOSHLimit, 95, 47*60 + 37, 0.5}, {NIOSHLimit, 115, 28, 0.5},
		{OSHALimit, 90, 8 * 3600, 0}, {OSHALimit, 95, 4 * 3600, 0}, {OSHALimit, 100, 2 * 3600, 0},
		{OSHALimit, 105, 3600, 0}, {OSHALimit, 110, 1800, 0}, {OSHALimit, 115, 900, 0},
	} {
		if got := float64(c.limit.Time(c.level)); math.Abs(got-c.seconds) > c.within+1e-9 {
			t.Errorf("%v: %g dBA for %g s, want %g", c.limit, c.level, got, c.seconds)
		}
	}
	// Half the day's time at 85 and half of it at 88 dBA: 50 % and 100 %. The level
	// of a dose is 10 log(D/100) + 85, as NIOSH prints it, with 10 for 3/log 2 =
	// 9.966.
	dose, err := NIOSHLimit.Dose(Exposure{85, 4 * 3600}, Exposure{88, 4 * 3600})
	if err != nil || math.Abs(dose-150) > 1e-9 {
		t.Errorf("dose %g %%, %v; want 150", dose, err)
	}
	for _, d := range []float64{12.5, 50, 100, 150, 800} {
		if got, want := NIOSHLimit.DailyLevel(d), 10*math.Log10(d/100)+85; math.Abs(got-want) > 0.04 {
			t.Errorf("a dose of %g %% is %g dBA, NIOSH %g", d, got, want)
		}
		if again, _ := NIOSHLimit.Dose(Exposure{NIOSHLimit.DailyLevel(d), 8 * 3600}); math.Abs(again/d-1) > 1e-12 {
			t.Errorf("a dose of %g %% there and back is %g", d, again)
		}
	}
	for _, e := range []Exposure{{math.NaN(), 1}, {math.Inf(1), 1}, {85, -1}, {85, Second(math.Inf(1))}} {
		if _, err := OSHALimit.Dose(e); !errors.Is(err, ErrOption) {
			t.Errorf("%+v: %v, want ErrOption", e, err)
		}
	}
	if dose, err := OSHALimit.Dose(); dose != 0 || err != nil {
		t.Errorf("silence is a dose of %g, %v", dose, err)
	}
}

// OpenStax University Physics 1, section 17.3: a sound of 0.656 Pa amplitude in air
// of 0 °C has 87 dB. The book counts from 10^-12 W/m², which differs from 20 µPa by
// 0.3 dB there: 87.3 dB.
func TestPressureLevel(t *testing.T) {
	if got := PressureLevel(Pascal(0.656 / math.Sqrt2)); math.Abs(got-87) > 0.5 {
		t.Errorf("%.2f dB, the book prints 87", got)
	}
	if PressureLevel(20e-6) != 0 || !math.IsInf(PressureLevel(0), -1) || !math.IsNaN(PressureLevel(-1)) {
		t.Errorf("20 µPa %g dB, 0 %g, -1 Pa %g", PressureLevel(20e-6), PressureLevel(0), PressureLevel(-1))
	}
}
