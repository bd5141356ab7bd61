package comb

import (
	"math"
	"testing"
)

func TestFastLogarithms(t *testing.T) {
	for x := 1e-6; x < 1e12; x *= 1.37 {
		if d := fastLog2(x) - math.Log2(x+1e-9); math.Abs(d) > 0.03 {
			t.Errorf("fastLog2(%g) is off by %.3f, want at most 0.03", x, d)
		}
	}
	for x := -40.0; x < 40; x += 0.173 {
		if d := fastExp2(x)/math.Exp2(x) - 1; math.Abs(d) > 0.004 {
			t.Errorf("fastExp2(%g) is off by %.4f, want at most 0.004", x, d)
		}
	}
}
