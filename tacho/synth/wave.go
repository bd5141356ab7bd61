package synth

import "math"

// Square returns n samples of a square wave of frequency f hertz that swings
// between -1 and 1 and is high for the quarter period on either side of t = 0.
// It is made of its harmonics below fs/2, so nothing folds back:
//
//	amplitude of harmonic m: 4/(pi m) for odd m, 0 for even m
//
// Source: Fourier series, any textbook of analysis.
func Square(f, fs float64, n int, watch ...Watch) []float64 {
	return series(watched(watch), f, fs, n, func(m int) (float64, float64) {
		switch m % 4 {
		case 1:
			return 4 / (math.Pi * float64(m)), 0
		case 3:
			return -4 / (math.Pi * float64(m)), 0
		}
		return 0, 0
	})
}

// Sawtooth returns n samples of a wave of frequency f hertz that jumps to 1 at
// t = 0 and falls in a straight line to -1, made of its harmonics below fs/2:
//
//	amplitude of harmonic m: 2/(pi m), all sines
func Sawtooth(f, fs float64, n int, watch ...Watch) []float64 {
	return series(watched(watch), f, fs, n, func(m int) (float64, float64) { return 0, 2 / (math.Pi * float64(m)) })
}

// Triangle returns n samples of a triangle wave of frequency f hertz with its
// peak, 1, at t = 0, made of its harmonics below fs/2:
//
//	amplitude of harmonic m: 8/(pi m)² for odd m, 0 for even m, all cosines
func Triangle(f, fs float64, n int, watch ...Watch) []float64 {
	return series(watched(watch), f, fs, n, func(m int) (float64, float64) {
		if m%2 == 0 {
			return 0, 0
		}
		x := math.Pi * float64(m)
		return 8 / (x * x), 0
	})
}

// PulseTrain returns n samples of rectangular pulses, f per second, that are 1
// for the part duty (0 to 1) of the period, centred on t = 0, and 0 for the
// rest. The mean, duty, is kept. It is made of its harmonics below fs/2:
//
//	amplitude of harmonic m: 2/(pi m) sin(pi m duty), all cosines
func PulseTrain(f, duty, fs float64, n int, watch ...Watch) []float64 {
	x := series(watched(watch), f, fs, n, func(m int) (float64, float64) {
		return 2 / (math.Pi * float64(m)) * math.Sin(math.Pi*float64(m)*duty), 0
	})
	for i := range x {
		x[i] += duty
	}
	return x
}

// series sums the cosines and sines that term gives for m = 1, 2, ... while
// m f is below half the sample rate. The powers of one rotating number give all
// harmonics of a sample from one angle.
func series(w *work, f, fs float64, n int, term func(m int) (c, s float64)) []float64 {
	x := make([]float64, n)
	if !(f > 0) {
		return x
	}
	t := timbre{stride: 1}
	for m := 1; float64(m)*f < fs/2; m++ {
		c, s := term(m)
		t.re, t.im = append(t.re, c), append(t.im, -s)
	}
	for from, to := range w.pieces(n) {
		for i := from; i < to; i++ {
			x[i] = t.at(f*float64(i)/fs, 0) // rate 0: no line fades near fs/2
		}
	}
	return w.whole(x)
}
