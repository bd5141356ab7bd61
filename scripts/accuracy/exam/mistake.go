package exam

import (
	"fmt"
	"math"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// instead says what a wrong reading is of, by the middle of its points, and with
// what odds the right speed is listed.
func instead(take *synth.Take, truth synth.Truth, t *tacho.Track) (of string, odds float64) {
	var ratios, others []float64
	for _, p := range t.Points {
		if atRest(truth, p.T) {
			continue
		}
		ratios = append(ratios, float64(p.Tone)/truth.PulseRate(p.T))
		if len(take.Others) > 0 && take.Others[0].Speed(p.T) > 0 {
			others = append(others, float64(p.Tone)/take.Others[0].PulseRate(p.T))
		}
	}
	r := median(ratios)
	for _, a := range t.Alternatives {
		top := truth.PeakSpeed * float64(truth.Pulses)
		if math.Abs(float64(a.Tone)/top-1) < gross {
			odds = a.Odds
		}
	}
	same := 0 // points at the same ratio
	for _, v := range ratios {
		if math.Abs(v/r-1) < gross {
			same++
		}
	}
	if math.Abs(r-1) < gross {
		return "itself in part", odds
	}
	if 10*same > 6*len(ratios) {
		if m := multiple(r); m != "" {
			return m, odds
		}
	}
	if len(others) > 0 {
		if m := multiple(median(others)); m != "" {
			return "other rotor's " + m, odds
		}
	}
	if 10*same > 6*len(ratios) {
		return fmt.Sprintf("%.3g", r), odds
	}
	return "no one multiple", odds
}

// multiple writes r as a ratio of whole numbers up to 12 and 6, if it is one.
func multiple(r float64) string {
	for q := 1; q <= 6; q++ {
		p := math.Round(r * float64(q))
		if p < 1 || p > 40 || p > 12 && q > 1 || math.Abs(r*float64(q)/p-1) > 0.003 {
			continue
		}
		if q == 1 {
			return fmt.Sprint(p)
		}
		return fmt.Sprintf("%.0f/%d", p, q)
	}
	if p := math.Round(1 / r); p <= 40 && math.Abs(r*p-1) < 0.003 {
		return fmt.Sprintf("1/%.0f", p)
	}
	return ""
}

// nearer reports whether the track follows a rather than b.
func nearer(a, b synth.Truth, t *tacho.Track) bool {
	n := 0
	for _, p := range t.Points {
		f := float64(p.Tone)
		if math.Abs(f/a.PulseRate(p.T)-1) < math.Abs(f/b.PulseRate(p.T)-1) {
			n++
		}
	}
	return 2*n > len(t.Points)
}

// namesOther reports whether the rotor that was not followed is among the
// alternatives.
func namesOther(t *tacho.Track, take *synth.Take, followed synth.Truth) bool {
	ratio := take.Others[0].PeakSpeed / take.Truth.PeakSpeed
	if followed.PeakSpeed != take.Truth.PeakSpeed {
		ratio = 1 / ratio
	}
	top := followed.PeakSpeed * float64(followed.Pulses)
	for _, a := range t.Alternatives {
		if math.Abs(float64(a.Tone)/top/ratio-1) < gross {
			return true
		}
	}
	return false
}
