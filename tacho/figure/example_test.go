package figure_test

import (
	"fmt"
	"math"

	"rotorhum/tacho"
	"rotorhum/tacho/figure"
	"rotorhum/tacho/synth"
)

// recording is an invented recording of a five-vane whirligig that speeds up
// from 10 to 20 turns a second.
func recording() *tacho.Recording {
	scene := synth.Scene{
		Rate: 16000, Seconds: 3, Seed: 7,
		Rotors: []synth.Rotor{{Pulses: 5, Profile: synth.Ramp(10, 20, 0.5, 2)}},
		Noise:  []synth.Noise{{SNR: 20}},
	}
	take, err := scene.Make()
	if err != nil {
		panic(err)
	}
	rec, err := tacho.NewRecording("whirligig.wav", 16000, take.Samples...)
	if err != nil {
		panic(err)
	}
	return rec
}

func ExampleWaveform() {
	p, err := figure.Waveform(recording(), figure.View{From: 1, To: 1.1})
	if err != nil {
		fmt.Println(err)
		return
	}
	png, err := p.PNG()
	w, h := p.Size()
	fmt.Printf("%d by %d pixels, PNG %t, %v\n", w, h, string(png[1:4]) == "PNG", err)
	// Output: 800 by 280 pixels, PNG true, <nil>
}

func ExampleSpectrum() {
	rec := recording()
	family := &tacho.Family{
		Tone:  tacho.Measured(50, 0.1, "Hz", "tone"),
		Lines: []tacho.Harmonic{{M: 1, Freq: 50}, {M: 2, Freq: 100}},
	}
	start, err := rec.Slice(0, 0.5)
	if err != nil {
		fmt.Println(err)
		return
	}
	spec, err := start.Spectrum(tacho.SpectrumOptions{})
	if err != nil {
		fmt.Println(err)
		return
	}
	p, err := figure.Spectrum(spec, family, figure.View{Hi: 400})
	if err != nil {
		fmt.Println(err)
		return
	}
	_, err = p.SVG()
	fmt.Println(err)
	// Output: <nil>
}

func ExampleSpectrogram() {
	rec := recording()
	sg, err := rec.Spectrogram(tacho.SpectrogramOptions{Len: 2048, Band: tacho.Range{Hi: 500}})
	if err != nil {
		fmt.Println(err)
		return
	}
	p, err := figure.Spectrogram(sg, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	w, h := p.Size()
	fmt.Printf("%d by %d pixels\n", w, h)
	// Output: 800 by 460 pixels
}

func ExampleSpeed() {
	track := &tacho.Track{Step: 0.02, Seconds: 3}
	for i := 0; i <= 100; i++ {
		f := tacho.Hertz(50 + 0.5*float64(i))
		track.Points = append(track.Points, tacho.TrackPoint{T: 0.5 + 0.02*float64(i), Tone: f, Lo95: f - 1, Hi95: f + 1})
	}
	p, err := figure.Speed(track, tacho.Rotor{Name: "whirligig", Pulses: 5}, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(p)
	// Output: Shaft speed of the whirligig against time. The rotor is heard from 0.50 s to 2.50 s, in one stretch; the speed lies between 10 and 20 rev/s.
}

func ExampleSpeedRPM() {
	track := &tacho.Track{Step: 0.02, Seconds: 1, Points: []tacho.TrackPoint{{T: 0.5, Tone: 50, Lo95: 49, Hi95: 51}}}
	_, err := figure.SpeedRPM(track, tacho.Rotor{}, nil)
	fmt.Println(err)
	// Output: figure: pulses per revolution must be at least 1: it is 0
}

// Samples of a tone, beside the tone itself.
func ExamplePlot() {
	t := synth.Times(40, 20)
	x := synth.Tone(3, 40, 20)
	p, err := figure.Plot(figure.Axes{X: "time (s)", Y: "sound"},
		figure.Function("the tone", func(t float64) float64 { return math.Cos(2 * math.Pi * 3 * t) }),
		figure.Stems("its samples", t, x))
	if err != nil {
		fmt.Println(err)
		return
	}
	w, h := p.Size()
	fmt.Printf("%d by %d pixels\n", w, h)
	// Output: 800 by 380 pixels
}

// Everything at once: the pictures for the page of a measurement.
func ExampleStory() {
	rec := recording()
	m, err := tacho.Measure(rec, tacho.Rotor{Name: "whirligig", Pulses: 5}, tacho.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	pictures, err := figure.Story(rec, m)
	fmt.Println(len(pictures), "pictures", err)
	// Output: 4 pictures <nil>
}
