package live

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/png"
	"math"
	"strings"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/internal/hue"
	"rotorhum/tacho/synth"
)

// shown returns a screen after some seconds of the first trial.
func shown(t testing.TB, view View, seconds float64) *Screen {
	t.Helper()
	c := trials()[0]
	x, take := soundOf(t, c.scene)
	f := follower(t, float64(take.Rate), tacho.Options{Pulses: c.pulses})
	s, err := NewScreen(f, view)
	if err != nil {
		t.Fatal(err)
	}
	s.Add(f.Push(x[:int(seconds*float64(take.Rate))])...)
	return s
}

// picture decodes what a screen draws.
func picture(t *testing.T, s *Screen) image.Image {
	t.Helper()
	data, err := s.PNG()
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	if w, h := s.Size(); img.Bounds().Dx() != w || img.Bounds().Dy() != h {
		t.Fatalf("a picture of %v, its size is said to be %d by %d", img.Bounds(), w, h)
	}
	return img
}

// The line of the rotor lies where its pulse rate is, at the right edge now.
func TestScreenDrawsTheRotorWhereItIs(t *testing.T) {
	s := shown(t, View{}, 3)
	if !s.now.Heard {
		t.Fatal("not heard at 3 s")
	}
	img := picture(t, s)
	x := s.view.Width - panelRoom - 30 // before the number in its disc
	column := s.columns[len(s.columns)-1-30*s.room/(s.view.Width-panelRoom-leftRoom)]
	want := float64(s.view.Height-bottomRoom) - column.hz/s.top*float64(s.view.Height-bottomRoom-topRoom)
	sum, n := 0.0, 0.0
	for y := topRoom; y < s.view.Height-bottomRoom; y++ {
		if r, g, b, _ := img.At(x, y).RGBA(); uint8(r>>8) == hue.Buoy.R && uint8(g>>8) == hue.Buoy.G && uint8(b>>8) == hue.Buoy.B && math.Abs(float64(y)-want) < 12 {
			sum += float64(y)
			n++
		}
	}
	if n == 0 || math.Abs(sum/n-want) > 4 {
		t.Errorf("the line lies at row %.1f (%g dots), want %.1f", sum/n, n, want)
	}
}

// The same readings give the same picture, and every size is drawn without a panic,
// before the first reading too.
func TestScreenSizes(t *testing.T) {
	a, err := shown(t, View{}, 2).PNG()
	if err != nil {
		t.Fatal(err)
	}
	b, _ := shown(t, View{}, 2).PNG()
	if !bytes.Equal(a, b) {
		t.Error("two screens of the same readings differ")
	}
	for _, v := range []View{{Width: leastWidth, Height: leastHeight}, {Width: 1600, Height: 900, Seconds: 30}, {Seconds: 1, Hi: 77}, {Hi: 1e6}} {
		picture(t, shown(t, v, 0.01))
		picture(t, shown(t, v, 2.5))
	}
}

func TestScreenSaysWhatItShows(t *testing.T) {
	s := shown(t, View{}, 3)
	alt := s.String()
	h := s.now.Highest
	for _, want := range []string{"last 10 s", s.now.Speed.Rounded(), s.now.Speed.Between(), s.now.RPM().Rounded(), h.Speed.Rounded(), fmt.Sprintf("at %.2f s", h.T), "dB"} {
		if !strings.Contains(alt, want) {
			t.Errorf("the words %q do not say %q", alt, want)
		}
	}
	if strings.Contains(alt, "clipped") {
		t.Errorf("clipped? %q", alt)
	}
	loud := follower(t, 48000, tacho.Options{})
	s, err := NewScreen(loud, View{})
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float32, 4800)
	for i, v := range synth.Square(100, 48000, len(x)) {
		x[i] = float32(math.Max(-1, math.Min(1, 3*v)))
	}
	s.Add(loud.Push(x)...)
	if alt := s.String(); !strings.Contains(alt, "clipped") || !strings.Contains(alt, "Not heard") {
		t.Errorf("a clipped sound says %q", alt)
	}
	img := picture(t, s)
	found := false
	for y := 0; y < img.Bounds().Dy() && !found; y++ {
		r, _, b, _ := img.At(s.view.Width-panelRoom+30, y).RGBA()
		found = uint8(r>>8) == hue.Buoy.R && uint8(b>>8) == hue.Buoy.B
	}
	if !found {
		t.Error("the warning of clipping is not drawn")
	}
}

func TestNewScreenRefuses(t *testing.T) {
	f := follower(t, 48000, tacho.Options{})
	if _, err := NewScreen(nil, View{}); !errors.Is(err, tacho.ErrOption) {
		t.Errorf("no follower: %v", err)
	}
	for _, v := range []View{{Width: 100}, {Height: 100}, {Width: 1e6}, {Seconds: -1}, {Seconds: math.NaN()}, {Seconds: 1e5}, {Hi: -1}, {Hi: tacho.Hertz(math.Inf(1))}} {
		if _, err := NewScreen(f, v); !errors.Is(err, tacho.ErrOption) {
			t.Errorf("%+v: %v, want ErrOption", v, err)
		}
	}
}

func BenchmarkPNG(b *testing.B) {
	s := shown(b, View{}, 6)
	for b.Loop() {
		if _, err := s.PNG(); err != nil {
			b.Fatal(err)
		}
	}
}
