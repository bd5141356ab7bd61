package figure

import (
	"image"
	"image/color"
	"math"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// rowOf returns the mean row of the dots of a colour in the columns from x0 to
// x1, and how many of these columns have any.
func rowOf(img image.Image, resemble func(x, y int) bool, x0, x1 int) (row float64, columns int) {
	sum, n := 0.0, 0
	for x := x0; x < x1; x++ {
		any := false
		for y := img.Bounds().Min.Y; y < img.Bounds().Max.Y; y++ {
			if resemble(x, y) {
				sum += float64(y)
				n++
				any = true
			}
		}
		if any {
			columns++
		}
	}
	return sum / float64(n), columns
}

// The track lies over the spectrogram where its frequency is, and not at all
// where it has a gap.
func TestTrackOverSpectrogram(t *testing.T) {
	sg, err := hum(t, "push.wav").Spectrogram(tacho.SpectrogramOptions{})
	if err != nil {
		t.Fatal(err)
	}
	// Bands whose upper half the second multiple cannot reach.
	at := func(hz float64) image.Image {
		p, err := Spectrogram(sg, course(func(float64) float64 { return hz }), View{Hi: 1000})
		return pixels(t, p, err)
	}
	rows := map[float64]float64{}
	for _, hz := range []float64{600, 700, 800} {
		img := at(hz)
		orange := func(x, y int) bool { return resembles(img.At(x, y), buoy) }
		row, columns := rowOf(img, orange, 120, 300) // well inside the first stretch
		if columns != 180 {
			t.Errorf("track at %g Hz: drawn in %d of 180 columns", hz, columns)
		}
		rows[hz] = row
		// The gap from 0.8 to 1.2 s lies around the middle of the time axis.
		if _, columns := rowOf(img, orange, 365, 395); columns != 0 {
			t.Errorf("track at %g Hz: drawn in %d columns of its gap", hz, columns)
		}
	}
	// Equal steps of frequency are equal steps up the picture, 100 Hz of 1000
	// being a tenth of a height of some 345 dots; half a dot of rounding each.
	up, again := rows[600]-rows[700], rows[700]-rows[800]
	if math.Abs(up-again) > 1 || math.Abs(up-34.5) > 4 {
		t.Errorf("100 Hz are %g and then %g dots, want about 34.5 each", up, again)
	}
	p, err := Spectrogram(sg, nil, View{Hi: 1000})
	plain := pixels(t, p, err)
	if _, columns := rowOf(plain, func(x, y int) bool { return resembles(plain.At(x, y), buoy) }, 0, 800); columns != 0 {
		t.Errorf("without a track, %d columns have its colour", columns)
	}
}

// The heat map is darkest along the loudest line.
func TestSpectrogramShowsTheHum(t *testing.T) {
	sg, err := hum(t, "push.wav").Spectrogram(tacho.SpectrogramOptions{})
	if err != nil {
		t.Fatal(err)
	}
	// Below 390 Hz the multiples of a track at 200 Hz are out of the picture.
	band := View{Hi: 390}
	p, err := Spectrogram(sg, nil, band)
	img := pixels(t, p, err)
	p, err = Spectrogram(sg, course(func(float64) float64 { return 200 }), band)
	marked := pixels(t, p, err)
	want, columns := rowOf(marked, func(x, y int) bool { return resembles(marked.At(x, y), buoy) }, 240, 260)
	if columns != 20 {
		t.Fatalf("a track at 200 Hz is drawn in %d of 20 columns", columns)
	}
	darkest, row := math.Inf(1), 0
	for y := 70; y < int(want)+60; y++ { // below the title, above the axis
		if l := float64(color.Gray16Model.Convert(img.At(250, y)).(color.Gray16).Y); l < darkest {
			darkest, row = l, y
		}
	}
	// 200 Hz lies between bins 7.8 Hz apart, each some 7 dots high.
	if math.Abs(float64(row)-want) > 4 {
		t.Errorf("the darkest row is %d, want %.0f, where a track at 200 Hz lies", row, want)
	}
}

// The gap of a track stays empty, and the line rises where the speed does.
func TestSpeedGap(t *testing.T) {
	p, err := Speed(course(rising), whirligig, nil)
	img := pixels(t, p, err)
	blue := func(x, y int) bool { return resembles(img.At(x, y), tide) }
	early, drawn := rowOf(img, blue, 120, 280)
	if drawn != 160 {
		t.Errorf("the line is drawn in %d of 160 columns of the first stretch", drawn)
	}
	late, _ := rowOf(img, blue, 500, 660)
	if !(late < early-20) {
		t.Errorf("the line runs from row %.0f to row %.0f, want it to rise", early, late)
	}
	if _, n := rowOf(img, blue, 350, 420); n != 0 {
		t.Errorf("the line is drawn in %d columns of the gap", n)
	}
}

// The peak is marked in the marker's colour, and only if it is given.
func TestSpeedPeak(t *testing.T) {
	for _, c := range []struct {
		peak *tacho.PeakSpeed
		want bool
	}{{top(), true}, {nil, false}} {
		p, err := Speed(course(rising), whirligig, c.peak)
		img := pixels(t, p, err)
		_, columns := rowOf(img, func(x, y int) bool { return resembles(img.At(x, y), buoy) }, 0, 800)
		if (columns > 5) != c.want {
			t.Errorf("peak %v: %d columns have the marker's colour", c.peak, columns)
		}
	}
}

// One loud sample among ten minutes of quiet ones is still seen.
func TestWaveformKeepsSpikes(t *testing.T) {
	const fs, n = 1000, 600_000
	x := make([]float64, n)
	x[n/3] = 0.9
	x[0] = -0.01
	rec, err := tacho.NewRecording("click", fs, x)
	if err != nil {
		t.Fatal(err)
	}
	p, err := Waveform(rec)
	img := pixels(t, p, err)
	// Between the title and the quiet nothing else is dark.
	_, columns := rowOf(img, func(x, y int) bool {
		r, _, _, _ := img.At(x, y).RGBA()
		return y > 90 && y < 130 && r>>8 < 160
	}, 80, 780)
	if columns < 1 || columns > 3 {
		t.Errorf("%d columns stand above the quiet, want the one or two of the spike", columns)
	}
}

// Few samples are drawn one by one; two channels get two lanes.
func TestWaveformLanes(t *testing.T) {
	rec, err := tacho.NewRecording("two", 8000, synth.Tone(500, 8000, 40), synth.Tone(1000, 8000, 40))
	if err != nil {
		t.Fatal(err)
	}
	p, err := Waveform(rec)
	if err != nil {
		t.Fatal(err)
	}
	q, err := Waveform(rec, View{From: 0.001, To: 0.002})
	if err != nil {
		t.Fatal(err)
	}
	_, tall := p.Size()
	one, err := tacho.NewRecording("one", 8000, synth.Tone(500, 8000, 40))
	if err != nil {
		t.Fatal(err)
	}
	single, err := Waveform(one)
	if err != nil {
		t.Fatal(err)
	}
	if _, low := single.Size(); !(tall > low) {
		t.Errorf("two lanes take %d pixels and one takes %d", tall, low)
	}
	if a, b := p.Alt, q.Alt; a == b {
		t.Errorf("a part of the recording has the alternative text of the whole, %q", a)
	}
}

// A track longer than the picture is wide keeps its highest point.
func TestThinnedKeepsPeaks(t *testing.T) {
	tr := &tacho.Track{Step: 0.02, Seconds: 2000}
	for i := 0; i < 100_000; i++ {
		f := tacho.Hertz(50)
		if i == 33_333 {
			f = 200
		}
		tr.Points = append(tr.Points, tacho.TrackPoint{T: 0.02 * float64(i), Tone: f, Lo95: f, Hi95: f})
	}
	p, err := Speed(tr, whirligig, nil)
	img := pixels(t, p, err)
	_, n := rowOf(img, func(x, y int) bool { return resembles(img.At(x, y), tide) && y < 120 }, 60, 720)
	if n == 0 {
		t.Error("the one high point of the track is not drawn")
	}
	data, err := p.SVG()
	if err != nil || len(data) > 400_000 {
		t.Errorf("SVG of %d bytes (%v), want less than 400 kB however long the track", len(data), err)
	}
}
