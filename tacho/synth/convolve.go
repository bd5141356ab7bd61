package synth

import "gonum.org/v1/gonum/dsp/fourier"

// convolve returns the first len(x) samples of x convolved with h, by transforms
// of blocks whose results overlap and add. h must not be empty.
func convolve(w *work, x, h []float64) []float64 {
	block := 1024
	for block < len(h) {
		block *= 2
	}
	size := 2 * block
	fft := fourier.NewFFT(size)
	buf := make([]float64, size)
	copy(buf, h)
	filter := fft.Coefficients(nil, buf)
	spectrum := make([]complex128, len(filter))
	y := make([]float64, len(x))
	for at := 0; at < len(x) && w.err() == nil; at += block {
		clear(buf)
		copy(buf, x[at:min(len(x), at+block)])
		spectrum = fft.Coefficients(spectrum, buf)
		for k := range spectrum {
			spectrum[k] *= filter[k]
		}
		buf = fft.Sequence(buf, spectrum)
		end := min(len(y), at+size)
		for i := at; i < end; i++ {
			y[i] += buf[i-at] / float64(size) // the transform pair multiplies by size
		}
	}
	return y
}
