package figure

import (
	"math"
	"strings"
	"testing"
)

func TestTicks(t *testing.T) {
	for _, c := range []struct {
		lo, hi float64
		times  float64
		want   string
	}{
		{0, 10, 0, "0 2 4 6 8 10"},
		{0, 1, 0, "0.0 0.2 0.4 0.6 0.8 1.0"},
		{-1, 1, 0, "−1.0 −0.5 0.0 0.5 1.0"},
		{-70, -5, 0, "−70 −60 −50 −40 −30 −20 −10"},
		{0, 6000, 0, "0 1000 2000 3000 4000 5000 6000"},
		{62.41, 62.56, 0, "62.42 62.44 62.46 62.48 62.50 62.52 62.54 62.56"},
		{0, 62.5, 60, "0 500 1000 1500 2000 2500 3000 3500"},
		{1e-4, 3e-4, 0, "0.00010 0.00015 0.00020 0.00025 0.00030"},
		{5, 5, 0, ""},
		{5, 4, 0, ""},
	} {
		var got []string
		for _, tick := range labelled((scaleTicks{want: 6, times: c.times}).Ticks(c.lo, c.hi)) {
			got = append(got, tick.Label)
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("ticks from %g to %g, times %g = %q, want %q", c.lo, c.hi, c.times, s, c.want)
		}
	}
}

func TestLogTicks(t *testing.T) {
	for _, c := range []struct {
		lo, hi float64
		want   string
	}{
		{10, 10000, "10 100 1000 10000"},
		{0.05, 3, "0.05 0.1 0.2 0.5 1 2"},
		{100, 300, "100 200 300"},
		{1e-9, 1e-7, "1e−9 2e−9 5e−9 1e−8 2e−8 5e−8 1e−7"},
		{1e-8, 1e8, "1e−8 1e−6 0.0001 0.01 1 100 10000 1000000 1e8"},
		{0, 1, ""}, // no exponent
		{2, 1, ""},
	} {
		var got []string
		for _, tick := range labelled(logTicks{}.Ticks(math.Log10(c.lo), math.Log10(c.hi))) {
			got = append(got, tick.Label)
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("ticks from %g to %g = %q, want %q", c.lo, c.hi, s, c.want)
		}
	}
}
