package figure

import (
	"math"
	"testing"

	"rotorhum/tacho"
)

// Every constructor refuses what it cannot draw honestly.
func TestRefuses(t *testing.T) {
	nan, inf := tacho.Hertz(math.NaN()), tacho.Hertz(math.Inf(1))
	rec := hum(t, "push.wav")
	spec, err := rec.Spectrum(tacho.SpectrumOptions{})
	if err != nil {
		t.Fatal(err)
	}
	sg, err := rec.Spectrogram(tacho.SpectrogramOptions{})
	if err != nil {
		t.Fatal(err)
	}
	silent, err := tacho.NewRecording("silence", 8000, make([]float64, 8000))
	if err != nil {
		t.Fatal(err)
	}
	silentSpec, err := silent.Spectrum(tacho.SpectrumOptions{})
	if err != nil {
		t.Fatal(err)
	}
	silentSg, err := silent.Spectrogram(tacho.SpectrogramOptions{})
	if err != nil {
		t.Fatal(err)
	}
	spoiled := func(spoil func(p []tacho.TrackPoint)) *tacho.Track {
		tr := course(rising)
		spoil(tr.Points)
		return tr
	}
	speedOf := func(tr *tacho.Track) error { _, err := Speed(tr, whirligig, nil); return err }
	over := func(tr *tacho.Track) error { _, err := Spectrogram(sg, tr); return err }
	peakOf := func(spoil func(*tacho.PeakSpeed)) error {
		p := top()
		spoil(p)
		_, err := Speed(course(rising), whirligig, p)
		return err
	}
	viewed := func(v View) error { _, err := Waveform(rec, v); return err }
	familyOf := func(hz float64) error {
		_, err := Spectrum(spec, &tacho.Family{Tone: tacho.Exact(hz, "Hz")})
		return err
	}
	second := func(_ *Picture, err error) error { return err }
	for name, err := range map[string]error{
		"no recording":               second(Waveform(nil)),
		"view behind the end":        viewed(View{From: 5}),
		"view backwards":             viewed(View{From: 1, To: 0.5}),
		"view from NaN":              viewed(View{From: math.NaN()}),
		"view to infinity":           viewed(View{To: math.Inf(1)}),
		"view before the start":      viewed(View{From: -1}),
		"too small":                  viewed(View{Width: 100}),
		"too large":                  viewed(View{Width: 100000}),
		"two views":                  second(Waveform(rec, View{}, View{})),
		"no spectrum":                second(Spectrum(nil, nil)),
		"silent spectrum":            second(Spectrum(silentSpec, nil)),
		"spectrum beyond its end":    second(Spectrum(spec, nil, View{Lo: 5000, Hi: 6000})),
		"NaN tone":                   familyOf(math.NaN()),
		"tone 0":                     familyOf(0),
		"infinite tone":              familyOf(math.Inf(1)),
		"no spectrogram":             second(Spectrogram(nil, nil)),
		"empty spectrogram":          second(Spectrogram(&tacho.Spectrogram{}, nil)),
		"silent spectrogram":         second(Spectrogram(silentSg, nil)),
		"spectrogram beyond its end": second(Spectrogram(sg, nil, View{Lo: 5000, Hi: 6000})),
		"NaN in the track over it":   over(spoiled(func(p []tacho.TrackPoint) { p[3].Tone = nan })),
		"no track":                   speedOf(nil),
		"empty track":                speedOf(&tacho.Track{}),
		"NaN point":                  speedOf(spoiled(func(p []tacho.TrackPoint) { p[3].Tone = nan })),
		"NaN time":                   speedOf(spoiled(func(p []tacho.TrackPoint) { p[3].T = math.NaN() })),
		"infinite interval":          speedOf(spoiled(func(p []tacho.TrackPoint) { p[3].Hi95 = inf })),
		"point outside its interval": speedOf(spoiled(func(p []tacho.TrackPoint) { p[3].Lo95 = p[3].Tone + 1 })),
		"points out of order":        speedOf(spoiled(func(p []tacho.TrackPoint) { p[3].T = 0 })),
		"no pulses":                  second(Speed(course(rising), tacho.Rotor{}, nil)),
		"view without points":        second(Speed(course(rising), whirligig, nil, View{From: 0.9, To: 1.1})),
		"NaN peak":                   peakOf(func(p *tacho.PeakSpeed) { p.Tone.X = math.NaN() }),
		"NaN peak time":              peakOf(func(p *tacho.PeakSpeed) { p.T = math.NaN() }),
		"infinite peak interval":     peakOf(func(p *tacho.PeakSpeed) { p.THi95 = math.Inf(1) }),
		"peak without unit":          peakOf(func(p *tacho.PeakSpeed) { p.Tone.Unit = "" }),
	} {
		if err == nil {
			t.Errorf("%s: no error, want one", name)
		}
	}
}
