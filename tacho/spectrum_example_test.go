package tacho_test

import (
	"fmt"
	"math"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// A tone of amplitude 0.5 is one line, read at its height.
func ExampleNewSpectrum() {
	s, err := tacho.NewSpectrum(synth.ToneAt(250, 0.5, 0, 8000, 800), 8000, tacho.SpectrumOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(s)
	k := s.Bin(250)
	fmt.Printf("bin %d, %v: amplitude %.3f, %.1f dB\n", k, s.Freq(k), s.Amplitude(k), s.DB(k))
	// Output:
	// spectrum of 1 × 800 samples at 8000 Hz, Hann window: 401 bins of 10 Hz, lines 14.4 Hz wide
	// bin 25, 250 Hz: amplitude 0.500, -6.0 dB
}

// The same tone between two bins reads low through Hann, and right through a
// flat-top.
func ExampleSpectrum_Amplitude() {
	tone := synth.ToneAt(255, 0.5, 0, 8000, 800)
	for _, w := range []tacho.Window{tacho.Hann, tacho.FlatTop} {
		s, err := tacho.NewSpectrum(tone, 8000, tacho.SpectrumOptions{Window: w})
		if err != nil {
			fmt.Println(err)
			return
		}
		highest := 0.0
		for _, a := range s.Amplitudes() {
			highest = math.Max(highest, a)
		}
		fmt.Printf("%v: %.3f\n", w, highest)
	}
	// Output:
	// Hann: 0.424
	// HFT95: 0.500
}

// A seven-blade fan at 2400 rpm (a fan maker's tutorial): lines at 280, 560 and
// 840 Hz belong to its blades, the one at 960 Hz does not.
func ExampleSpectrum_Peaks() {
	x := synth.Tones([]float64{280, 560, 840, 960}, []float64{0.4, 0.2, 0.1, 0.05}, 8000, 8000)
	s, err := tacho.NewSpectrum(x, 8000, tacho.SpectrumOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range s.Peaks(0) {
		order := float64(p.Freq) / (2400.0 / 60)
		fmt.Printf("%.1f Hz at %.1f dB is order %.0f\n", float64(p.Freq), p.DB(), order)
	}
	// Output:
	// 280.0 Hz at -8.0 dB is order 7
	// 560.0 Hz at -14.0 dB is order 14
	// 840.0 Hz at -20.0 dB is order 21
	// 960.0 Hz at -26.0 dB is order 24
}

func ExampleRecording_Spectrogram() {
	rec, err := tacho.NewRecording("run-up", 8000, synth.Chirp(100, 500, 8000, 16000))
	if err != nil {
		fmt.Println(err)
		return
	}
	g, err := rec.Spectrogram(tacho.SpectrogramOptions{Len: 1024, Hop: 4000})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(g)
	for i, at := range g.Times {
		top := 0
		for k := range g.Freqs {
			if g.At(i, k) > g.At(i, top) {
				top = k
			}
		}
		fmt.Printf("%.2f s: %.0f Hz\n", at, g.Freqs[top])
	}
	// Output:
	// spectrogram of 4 times every 500 ms by 513 frequencies every 7.812 Hz, Hann window of 1024 samples
	// 0.06 s: 109 Hz
	// 0.56 s: 211 Hz
	// 1.06 s: 312 Hz
	// 1.56 s: 414 Hz
}

// The figures of merit that Heinzel, Rüdiger and Schilling published in 2002 for
// these windows.
func ExampleWindow_Figures() {
	fmt.Println("window   ENBW   3 dB width  worst height  side lobe")
	for _, w := range []tacho.Window{tacho.Hann, tacho.BlackmanHarris, tacho.HFT95} {
		f := w.Figures(1024)
		fmt.Printf("%-16v %.4f %.4f %+.4f dB %.1f dB\n", f.Name, f.ENBW, f.Width3dB, f.Flatness, f.SideLobe)
	}
	// Output:
	// window   ENBW   3 dB width  worst height  side lobe
	// Hann             1.5000 1.4382 -1.4236 dB -31.5 dB
	// Blackman-Harris  2.0044 1.8962 -0.8256 dB -92.0 dB
	// HFT95            3.8112 3.7592 +0.0044 dB -95.0 dB
}

func ExampleWindowByName() {
	w, err := tacho.WindowByName("blackman-harris")
	fmt.Println(w, err)
	_, err = tacho.WindowByName("round")
	fmt.Println(err)
	// Output:
	// Blackman-Harris <nil>
	// bad option: no window is called "round": choose one of rectangle, Bartlett, Welch, Hann, Hamming, Blackman, Blackman-Harris, Nuttall3, Nuttall3a, Nuttall3b, Nuttall4, Nuttall4a, Nuttall4b, Nuttall4c, HFT70, HFT95, HFT90D, HFT116D, HFT144D, HFT169D, HFT196D, HFT223D, HFT248D
}

// How far the usual readings between the bins go wrong for a tone 0.3 bins off.
func ExampleInterpolator_Offset() {
	const n = 512
	x := make([]float64, n)
	for j := range x {
		x[j] = math.Cos(2 * math.Pi * 60.3 * float64(j) / n)
	}
	s, err := tacho.NewSpectrum(x, n, tacho.SpectrumOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	below, _ := s.Coefficient(59)
	centre, _ := s.Coefficient(60)
	above, _ := s.Coefficient(61)
	for _, by := range []tacho.Interpolator{tacho.Parabola, tacho.LogParabola, tacho.HannThreeLine} {
		fmt.Printf("%v: %.3f bins\n", by, by.Offset(below, centre, above, n))
	}
	// Output:
	// parabola: 0.247 bins
	// log parabola: 0.316 bins
	// Hann three-line: 0.300 bins
}
