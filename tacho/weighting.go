package tacho

import "math"

// AWeighting returns the gain in decibels that a sound level meter set to dB(A)
// gives a tone of frequency f: 0 dB at 1 kHz, less for low tones, which the ear
// hears softer. It is minus infinity at 0 Hz.
//
// The formula is that of IEC 61672-1:2013, Annex E; it differs from the rounded
// table of that standard by at most 0.05 dB.
func AWeighting(f Hertz) float64 {
	x := float64(f) * float64(f)
	return decibels(weightingShape(x)*x/math.Sqrt((x+weightingPoles[1])*(x+weightingPoles[2]))) - weightingA1000
}

// CWeighting is [AWeighting] for dB(C), which is nearly flat from 60 Hz to 4 kHz.
func CWeighting(f Hertz) float64 {
	return decibels(weightingShape(float64(f)*float64(f))) - weightingC1000
}

// weightingPoles are the squares of the pole frequencies in hertz.
var weightingPoles = [4]float64{20.598997 * 20.598997, 107.65265 * 107.65265, 737.86223 * 737.86223, 12194.217 * 12194.217}

// What the shapes give at 1 kHz, in decibels.
var (
	weightingA1000 = func() float64 {
		x := 1e6
		return decibels(weightingShape(x) * x / math.Sqrt((x+weightingPoles[1])*(x+weightingPoles[2])))
	}()
	weightingC1000 = decibels(weightingShape(1e6))
)

// weightingShape is the part that A and C have in common, for the square of a
// frequency.
func weightingShape(x float64) float64 {
	return weightingPoles[3] * x / ((x + weightingPoles[0]) * (x + weightingPoles[3]))
}
