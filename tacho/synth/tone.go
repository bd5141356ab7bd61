package synth

import "math"

// Tone returns n samples, taken fs times per second, of a cosine of frequency f
// hertz, amplitude 1 and phase 0:
//
//	x[i] = cos(2 pi f i / fs),  i = 0 ... n-1
//
// It makes what it is asked: a tone above fs/2 is sampled as it stands and so
// appears at another frequency, which is what a lesson on aliasing wants.
// Tone panics if n is negative.
//
// The context of a watch ends the making early, as in all plain signals that take
// one; the result is nil then.
func Tone(f, fs float64, n int, watch ...Watch) []float64 { return ToneAt(f, 1, 0, fs, n, watch...) }

// ToneAt is [Tone] with an amplitude and a phase in radians.
func ToneAt(f, amplitude, phase, fs float64, n int, watch ...Watch) []float64 {
	x, w := make([]float64, n), watched(watch)
	addTone(w, x, f, amplitude, phase, fs)
	return w.whole(x)
}

// Tones returns the sum of cosines at the frequencies f, in hertz, with phase 0.
// amplitudes may be nil, which makes all 1; otherwise it must be as long as f,
// or Tones panics.
func Tones(f, amplitudes []float64, fs float64, n int, watch ...Watch) []float64 {
	if amplitudes != nil && len(amplitudes) != len(f) {
		panic("synth: Tones needs one amplitude for each frequency")
	}
	x, w := make([]float64, n), watched(watch)
	for i, v := range f {
		a := 1.0
		if amplitudes != nil {
			a = amplitudes[i]
		}
		addTone(w, x, v, a, 0, fs)
	}
	return w.whole(x)
}

// Hum returns the sum of a tone at f and its harmonics, all with phase 0:
//
//	x[i] = sum over m of amplitudes[m-1] cos(2 pi m f i / fs)
//
// A zero leaves a harmonic out; amplitudes[0] = 0 is a hum whose pitch has no
// line of its own. Harmonics at fs/2 and above are left out.
func Hum(f float64, amplitudes []float64, fs float64, n int, watch ...Watch) []float64 {
	x, w := make([]float64, n), watched(watch)
	for i, a := range amplitudes {
		if h := float64(i+1) * f; a != 0 && math.Abs(h) < fs/2 {
			addTone(w, x, h, a, 0, fs)
		}
	}
	return w.whole(x)
}

// Chirp returns n samples of a tone of amplitude 1 whose frequency runs
// linearly from f0 hertz at the first sample to f1 at i = n:
//
//	x[i] = cos(2 pi (f0 t + (f1 - f0) t² / (2 T))),  t = i/fs,  T = n/fs
func Chirp(f0, f1, fs float64, n int, watch ...Watch) []float64 {
	x, w := make([]float64, n), watched(watch)
	for from, to := range w.pieces(n) {
		for i := from; i < to; i++ {
			t := float64(i) / fs
			turns := t * (f0 + (f1-f0)*float64(i)/(2*float64(n)))
			x[i] = math.Cos(2 * math.Pi * math.Mod(turns, 1))
		}
	}
	return w.whole(x)
}

// addTone adds amplitude cos(2 pi f i/fs + phase) to x. The angle is reduced in
// turns before the cosine, so a tone stays pure over hours.
func addTone(w *work, x []float64, f, amplitude, phase, fs float64) {
	for from, to := range w.pieces(len(x)) {
		for i := from; i < to; i++ {
			x[i] += amplitude * math.Cos(2*math.Pi*math.Mod(f*float64(i)/fs, 1)+phase)
		}
	}
}

// Times returns the moments of n samples taken fs times per second, in seconds
// from the first: 0, 1/fs, 2/fs … It panics if n is negative.
func Times(fs float64, n int) []float64 {
	t := make([]float64, n)
	for i := range t {
		t[i] = float64(i) / fs
	}
	return t
}
