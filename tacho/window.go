package tacho

import (
	"context"
	"math"
	"strings"
)

// Window is a weighting of the samples of a block, made to fade out at both
// ends so that a line in the spectrum does not leak over all the others.
//
// Windows are periodic unless asked otherwise: the n weights are one period of
// a sequence of period n, symmetric about sample n/2, so that overlapping
// blocks add up to a constant. The zero Window is [Hann]. Windows may be
// compared with ==.
type Window struct{ d *windowDesign }

// windowDesign is what a window is made of: the coefficients of a sum of
// cosines, or a shape.
type windowDesign struct {
	name string
	// cosines are c0, c1 … of
	//	w(j) = c0 - c1 cos(2πj/n) + c2 cos(4πj/n) - …
	cosines []float64
	// shape is the weight at -1 <= u <= 1, u being 0 in the middle.
	shape   func(u float64) float64
	overlap float64 // recommended, as a share of the block
	source  string
}

// The windows. The names, the coefficients and the recommended overlaps of the
// sums of cosines are those of G. Heinzel, A. Rüdiger and R. Schilling,
// "Spectrum and spectral density estimation by the DFT", 2002, appendices C
// and D, unless the window's own text names another source.
var (
	// Rectangle weighs every sample 1: the sharpest lines and the worst leakage.
	Rectangle = Window{&windowDesign{name: "rectangle", cosines: []float64{1}, overlap: 0, source: heinzel}}
	// Bartlett is a triangle that is 0 at the first sample and 1 in the middle.
	Bartlett = Window{&windowDesign{name: "Bartlett", overlap: 0.5, source: heinzel,
		shape: func(u float64) float64 { return 1 - math.Abs(u) }}}
	// Welch is a parabola that is 0 at the first sample and 1 in the middle.
	Welch = Window{&windowDesign{name: "Welch", overlap: 0.293, source: heinzel,
		shape: func(u float64) float64 { return 1 - u*u }}}
	// Hann is a cosine period lifted to begin and end at 0: the usual choice.
	Hann = Window{&windowDesign{name: "Hann", cosines: []float64{0.5, 0.5}, overlap: 0.5, source: heinzel}}
	// Hamming is a Hann window on a pedestal that cancels the nearest side lobe.
	Hamming = Window{&windowDesign{name: "Hamming", cosines: []float64{0.54, 0.46}, overlap: 0.5, source: heinzel}}
	// Blackman has the rounded coefficients 0.42, 0.5, 0.08 in common use.
	Blackman = Window{&windowDesign{name: "Blackman", cosines: []float64{0.42, 0.5, 0.08}, overlap: 0.625,
		source: "R. B. Blackman and J. W. Tukey 1958; rounded coefficients as in F. J. Harris 1978"}}
	// BlackmanHarris has side lobes 92 dB down.
	BlackmanHarris = Window{&windowDesign{name: "Blackman-Harris", cosines: []float64{0.35875, 0.48829, 0.14128, 0.01168},
		overlap: 0.661, source: heinzel}}

	// Nuttall3 to Nuttall4c trade side lobes against width and fall-off.
	Nuttall3  = Window{&windowDesign{name: "Nuttall3", cosines: []float64{0.375, 0.5, 0.125}, overlap: 0.647, source: heinzel}}
	Nuttall3a = Window{&windowDesign{name: "Nuttall3a", cosines: []float64{0.40897, 0.5, 0.09103}, overlap: 0.612, source: heinzel}}
	Nuttall3b = Window{&windowDesign{name: "Nuttall3b", cosines: []float64{0.4243801, 0.4973406, 0.0782793}, overlap: 0.598, source: heinzel}}
	Nuttall4  = Window{&windowDesign{name: "Nuttall4", cosines: []float64{0.3125, 0.46875, 0.1875, 0.03125}, overlap: 0.705, source: heinzel}}
	Nuttall4a = Window{&windowDesign{name: "Nuttall4a", cosines: []float64{0.338946, 0.481973, 0.161054, 0.018027}, overlap: 0.680, source: heinzel}}
	Nuttall4b = Window{&windowDesign{name: "Nuttall4b", cosines: []float64{0.355768, 0.487396, 0.144232, 0.012604}, overlap: 0.663, source: heinzel}}
	Nuttall4c = Window{&windowDesign{name: "Nuttall4c", cosines: []float64{0.3635819, 0.4891775, 0.1365995, 0.0106411}, overlap: 0.656, source: heinzel}}

	// HFT70 to HFT248D are flat-tops: wide lines whose height is right wherever
	// the tone lies between two bins. The number is the side-lobe level in dB.
	HFT70  = Window{&windowDesign{name: "HFT70", cosines: []float64{1, 1.90796, 1.07349, 0.18199}, overlap: 0.722, source: heinzel}}
	HFT95  = Window{&windowDesign{name: "HFT95", cosines: []float64{1, 1.9383379, 1.3045202, 0.4028270, 0.0350665}, overlap: 0.756, source: heinzel}}
	HFT90D = Window{&windowDesign{name: "HFT90D", cosines: []float64{1, 1.942604, 1.340318, 0.440811, 0.043097}, overlap: 0.760, source: heinzel}}

	HFT116D = Window{&windowDesign{name: "HFT116D", overlap: 0.782, source: heinzel,
		cosines: []float64{1, 1.9575375, 1.4780705, 0.6367431, 0.1228389, 0.0066288}}}
	HFT144D = Window{&windowDesign{name: "HFT144D", overlap: 0.799, source: heinzel,
		cosines: []float64{1, 1.96760033, 1.57983607, 0.81123644, 0.22583558, 0.02773848, 0.00090360}}}
	HFT169D = Window{&windowDesign{name: "HFT169D", overlap: 0.812, source: heinzel,
		cosines: []float64{1, 1.97441843, 1.65409889, 0.95788187, 0.33673420, 0.06364622, 0.00521942, 0.00010599}}}
	HFT196D = Window{&windowDesign{name: "HFT196D", overlap: 0.823, source: heinzel,
		cosines: []float64{1, 1.979280420, 1.710288951, 1.081629853, 0.448734314, 0.112376628, 0.015122992, 0.000871252, 0.000011896}}}
	HFT223D = Window{&windowDesign{name: "HFT223D", overlap: 0.833, source: heinzel,
		cosines: []float64{1, 1.98298997309, 1.75556083063, 1.19037717712, 0.56155440797, 0.17296769663, 0.03233247087,
			0.00324954578, 0.00013801040, 0.00000132725}}}
	HFT248D = Window{&windowDesign{name: "HFT248D", overlap: 0.841, source: heinzel,
		cosines: []float64{1, 1.985844164102, 1.791176438506, 1.282075284005, 0.667777530266, 0.240160796576, 0.056656381764,
			0.008134974479, 0.000624544650, 0.000019808998, 0.000000132974}}}

	// FlatTop is HFT95, the flat-top for reading amplitudes.
	FlatTop = HFT95
)

const heinzel = "Heinzel, Rüdiger and Schilling 2002"

// Windows returns every window, in the order of the documentation.
func Windows() []Window {
	return []Window{Rectangle, Bartlett, Welch, Hann, Hamming, Blackman, BlackmanHarris,
		Nuttall3, Nuttall3a, Nuttall3b, Nuttall4, Nuttall4a, Nuttall4b, Nuttall4c,
		HFT70, HFT95, HFT90D, HFT116D, HFT144D, HFT169D, HFT196D, HFT223D, HFT248D}
}

// WindowByName returns the window of that name; case, spaces and hyphens do not
// matter, and "flat-top" is HFT95. It returns ErrOption, with the list of names,
// if there is none.
func WindowByName(name string) (Window, error) {
	want := plainName(name)
	if want == "flattop" {
		return FlatTop, nil
	}
	var names []string
	for _, w := range Windows() {
		if plainName(w.Name()) == want {
			return w, nil
		}
		names = append(names, w.Name())
	}
	return Window{}, optionError("no window is called %q: choose one of %s", name, strings.Join(names, ", "))
}

func plainName(s string) string {
	return strings.NewReplacer(" ", "", "-", "", "_", "").Replace(strings.ToLower(s))
}

func (w Window) design() *windowDesign {
	if w.d == nil {
		return Hann.d
	}
	return w.d
}

// Name returns the name of the window.
func (w Window) Name() string { return w.design().name }

// String returns the name.
func (w Window) String() string { return w.Name() }

// Source returns where the definition was published.
func (w Window) Source() string { return w.design().source }

// Weights returns the n weights of the periodic window,
//
//	w(j) = c0 - c1 cos(2πj/n) + c2 cos(4πj/n) - …,  j = 0 … n-1
//
// for a sum of cosines. The single weight for n = 1 is that of the middle.
// It panics if n < 1.
func (w Window) Weights(n int) []float64 { return w.sample(nil, n, n) }

// Symmetric returns the n weights of the symmetric window, whose last weight
// equals its first: those of the periodic window of n-1 samples and one more.
// They are for designing filters, not for spectra. It panics if n < 1.
func (w Window) Symmetric(n int) []float64 { return w.sample(nil, n, n-1) }

// sample returns n weights of the window of the given period; only some if the
// context, which may be nil, ends.
func (w Window) sample(ctx context.Context, n, period int) []float64 {
	if n < 1 {
		panic("tacho: a window needs at least one sample")
	}
	x := make([]float64, n)
	if n == 1 {
		x[0] = w.at(0.5)
		return x
	}
	for from, to := range pieces(ctx, n) {
		for j := from; j < to; j++ {
			// Both halves are computed alike, so that they are equal bit by bit.
			i := min(j, period-j)
			x[j] = w.at(float64(i) / float64(period))
		}
	}
	return x
}

// at returns the weight at the given share of the period, 0 to 1.
func (w Window) at(share float64) float64 {
	d := w.design()
	if d.shape != nil {
		return d.shape(2*share - 1)
	}
	sum, sign := 0.0, 1.0
	for m, c := range d.cosines {
		sum += sign * c * math.Cos(2*math.Pi*float64(m)*share)
		sign = -sign
	}
	return sum
}
