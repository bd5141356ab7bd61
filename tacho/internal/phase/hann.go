package phase

import "math"

// A block shows the phase of a line as its mean under a Hann window.

// hannSpread is the variance of a Hann window over the square of its length.
const hannSpread = 1.0/12 - 1/(2*math.Pi*math.Pi)

// hannRamp returns the mean of (t-a)²/2, where t is after a, under a Hann window of
// length one whose middle lies u behind a.
func hannRamp(u float64) float64 {
	switch {
	case u <= -0.5:
		return 0
	case u >= 0.5:
		return (u*u + hannSpread) / 2
	}
	a := u + 0.5
	return a*a*a/6 - a/(4*math.Pi*math.Pi) - math.Sin(2*math.Pi*u)/(8*math.Pi*math.Pi*math.Pi)
}

// hannMean returns the mean of y under a Hann window of length l around 0.
func hannMean(y func(d float64) float64, l float64) float64 {
	const looks = 32
	sum := 0.0
	for i := range looks {
		x := (float64(i)+0.5)/looks - 0.5
		sum += (1 + math.Cos(2*math.Pi*x)) / looks * y(x*l)
	}
	return sum
}
