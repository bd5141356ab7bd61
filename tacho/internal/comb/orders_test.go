package comb

import (
	"math"
	"testing"

	"rotorhum/tacho/internal/evidence"
)

// spectrumOf returns orders of the given strengths at multiples of 1, with so many
// looks.
func spectrumOf(strength []float64, looks float64) *Orders {
	const per = 24
	o := &Orders{Per: per, Top: float64(len(strength) + 1), Z: make([]float64, per*(len(strength)+2)), Segments: looks}
	o.looks = make([]float64, len(o.Z))
	for k := range o.looks {
		o.looks[k] = looks
	}
	for m, v := range strength {
		o.Z[(m+1)*per] = v
	}
	return o
}

// The log odds of a gamma distributed mean of n looks to be u times what is
// expected, n (u - 1 - ln u), tend to s²/2 with s = (u-1) sqrt(n) for many looks
// (Gaussian limit) and to u for one (exponential distribution).
func TestFewLooksSayLessThanMany(t *testing.T) {
	for _, s := range []float64{3, 6, 12} {
		many := spectrumOf([]float64{s}, 1e6).score(1)
		if math.Abs(many/(s*s/2+0.3)-1) > 0.05 {
			t.Errorf("an excess of %g scatters in a million looks counts as %.3g, want %.3g", s, many, s*s/2+0.3)
		}
		one := spectrumOf([]float64{s}, 1).score(1)
		u := (1 + s) * 2 / 3 // over the mean, which is 1.5 times the median, nearly
		if want := u - 1 - math.Log(u) + 0.3; math.Abs(one-want) > 1e-9 || one > 0.6*many {
			t.Errorf("in one look it counts as %.3g, want %.3g, far less than %.3g", one, want, many)
		}
	}
	if v := spectrumOf([]float64{-1}, 5).score(1); v > 0.5 {
		t.Errorf("no excess counts as %g", v)
	}
}

// Pulses that stand above the lines between are a pattern; lines that are not there
// do not make one of a stack with gaps.
func TestUnequalLooksAtLinesThatAreThere(t *testing.T) {
	pattern := []float64{900, 400, 9000, 300, 700, 7000, 200, 500, 5000, 300, 400, 4000}
	if nats, pulses := spectrumOf(pattern, 100).Unequal(1, 3, true); nats < 3 || pulses < 3 {
		t.Errorf("every third line is ten times as strong: %.1f nats from %d lines", nats, pulses)
	}
	gaps := []float64{0, 900, 0, 1100, 0, 800, 0, 1000, 0, 900, 0, 1000}
	if nats, _ := spectrumOf(gaps, 100).Unequal(1, 4, true); nats > 1 {
		t.Errorf("every second line is missing: %.1f nats for every fourth being the pulses'", nats)
	}
	if _, pulses := spectrumOf(pattern[:2], 100).Unequal(1, 3, true); pulses != 0 {
		t.Errorf("%d lines of the pulses among two that are none", pulses)
	}
}

// Lines between the pulses that another stack explains do not speak for blades.
func TestEvidenceBesideLeavesOutTheOther(t *testing.T) {
	sure, maybe := evidence.New(0.75, 2e-3), evidence.New(0.03, 2e-3)
	lines := make([]float64, 40) // in quarters: pulses at 4, 8, ...; another stack at 5, 10, ...
	for m := range lines {
		switch {
		case (m+1)%4 == 0:
			lines[m] = 500
		case (m+1)%5 == 0: // weak enough to be blades'
			lines[m] = 100
		}
	}
	o := spectrumOf(lines, 100)
	with, beside := o.Evidence(1, 4, sure, maybe), o.EvidenceBeside(5, 1, 4, sure, maybe)
	pulses := o.Evidence(4, 1, sure, sure)
	if math.Abs(beside-pulses) > 3 || with < beside+10 {
		t.Errorf("evidence %.1f beside the other stack, %.1f of the pulses alone, %.1f with all lines", beside, pulses, with)
	}
	if at := o.SecondAt(4, 5, sure); at < 20 {
		t.Errorf("the other stack has evidence of %.1f", at)
	}
}
