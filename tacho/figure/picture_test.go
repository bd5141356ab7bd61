package figure

import (
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// hum is a recording of 2 s at 8 kHz: a hum of 200 Hz and a little noise.
func hum(t *testing.T, name string) *tacho.Recording {
	t.Helper()
	x := synth.Hum(200, []float64{0.3, 0.2, 0.1}, 8000, 16000)
	for i, n := range synth.WhiteNoise(synth.Source(3), 1e-3, len(x)) {
		x[i] += n
	}
	rec, err := tacho.NewRecording(name, 8000, x)
	if err != nil {
		t.Fatal(err)
	}
	return rec
}

// course is a hand-made track from 0 to 2 s at the given pulse rate, with the
// rotor silent from 0.8 to 1.2 s.
func course(rate func(t float64) float64) *tacho.Track {
	tr := &tacho.Track{Verdict: tacho.VerdictVarying, Step: 0.02, Seconds: 2}
	for i := 0; i <= 100; i++ {
		t := 0.02 * float64(i)
		if t > 0.8 && t < 1.2 {
			continue
		}
		f := tacho.Hertz(rate(t))
		tr.Points = append(tr.Points, tacho.TrackPoint{T: t, Tone: f, Lo95: 0.99 * f, Hi95: 1.01 * f})
	}
	return tr
}

func rising(t float64) float64 { return 100 + 60*t }

func top() *tacho.PeakSpeed {
	return &tacho.PeakSpeed{T: 2, TLo95: 1.97, THi95: 2, Tone: tacho.Measured(220, 0.5, "Hz", "tone")}
}

func family() *tacho.Family {
	f := &tacho.Family{Tone: tacho.Measured(200, 0.01, "Hz", "tone")}
	for _, m := range []float64{1, 2, 2.2, 3} {
		f.Lines = append(f.Lines, tacho.Harmonic{M: m, Freq: tacho.Hertz(200 * m), Amp: 0.1})
	}
	return f
}

// whirligig is the rotor of the tests.
var whirligig = tacho.Rotor{Name: "whirligig", Pulses: 5}

// all makes one picture of each kind.
func all(t *testing.T, name string, view ...View) map[string]*Picture {
	t.Helper()
	rec := hum(t, name)
	spec, err := rec.Spectrum(tacho.SpectrumOptions{})
	if err != nil {
		t.Fatal(err)
	}
	sg, err := rec.Spectrogram(tacho.SpectrogramOptions{})
	if err != nil {
		t.Fatal(err)
	}
	rotor := whirligig
	rotor.Name = name
	out := map[string]*Picture{}
	for kind, draw := range map[string]func() (*Picture, error){
		"waveform":    func() (*Picture, error) { return Waveform(rec, view...) },
		"spectrum":    func() (*Picture, error) { return Spectrum(spec, family(), view...) },
		"spectrogram": func() (*Picture, error) { return Spectrogram(sg, course(rising), view...) },
		"speed":       func() (*Picture, error) { return Speed(course(rising), rotor, top(), view...) },
		"rpm":         func() (*Picture, error) { return SpeedRPM(course(rising), rotor, nil, view...) },
	} {
		if out[kind], err = draw(); err != nil {
			t.Fatalf("%s: %v", kind, err)
		}
	}
	return out
}

// pixels returns the picture as an image of one dot to the pixel.
func pixels(t *testing.T, p *Picture, err error) image.Image {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	data, err := p.Raster(1)
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// resembles reports whether a dot is nearly of colour c; anti-aliasing mixes
// colours at edges.
func resembles(dot color.Color, c color.NRGBA) bool {
	r, g, b, _ := dot.RGBA()
	far := func(a uint32, b uint8) bool { return math.Abs(float64(a>>8)-float64(b)) > 24 }
	return !far(r, c.R) && !far(g, c.G) && !far(b, c.B)
}

// Same in, same out: two drawings of one picture, and two pictures of the same
// results, have the same bytes.
func TestSameBytes(t *testing.T) {
	first, second := all(t, "push.wav"), all(t, "push.wav")
	for kind, p := range first {
		for form, bytesOf := range map[string]func(*Picture) ([]byte, error){"PNG": (*Picture).PNG, "SVG": (*Picture).SVG} {
			a, err := bytesOf(p)
			if err != nil {
				t.Fatal(err)
			}
			b, _ := bytesOf(p)
			c, _ := bytesOf(second[kind])
			if !bytes.Equal(a, b) || !bytes.Equal(a, c) {
				t.Errorf("%s as %s: bytes differ from drawing to drawing", kind, form)
			}
		}
		plain, _ := p.Raster(3)
		if watched, err := p.Raster(3, tacho.Watch{Context: context.Background()}); err != nil || !bytes.Equal(plain, watched) {
			t.Errorf("%s: bytes differ when a context is watched (%v)", kind, err)
		}
		if p.Alt != second[kind].Alt {
			t.Errorf("%s: alternative texts %q and %q differ", kind, p.Alt, second[kind].Alt)
		}
	}
}

func TestPixelSize(t *testing.T) {
	for kind, p := range all(t, "push.wav") {
		w, h := p.Size()
		if w != 800 {
			t.Errorf("%s is %d pixels wide, want 800", kind, w)
		}
		for _, scale := range []int{1, 2, 3} {
			data, err := p.Raster(scale)
			if err != nil {
				t.Fatal(err)
			}
			cfg, err := png.DecodeConfig(bytes.NewReader(data))
			if err != nil || cfg.Width != scale*w || cfg.Height != scale*h {
				t.Errorf("%s at scale %d is %d by %d dots (%v), want %d by %d", kind, scale, cfg.Width, cfg.Height, err, scale*w, scale*h)
			}
		}
		data, err := p.PNG()
		if cfg, _ := png.DecodeConfig(bytes.NewReader(data)); cfg.Width != 1600 || err != nil {
			t.Errorf("%s as PNG is %d dots wide (%v), want 1600", kind, cfg.Width, err)
		}
	}
	for kind, p := range all(t, "push.wav", View{Width: 500, Height: 300, Title: "small"}) {
		if w, h := p.Size(); w != 500 || h != 300 {
			t.Errorf("%s is %d by %d, want 500 by 300", kind, w, h)
		}
	}
	for _, scale := range []int{0, -1, 9} {
		if _, err := all(t, "push.wav")["speed"].Raster(scale); err == nil {
			t.Errorf("scale %d: no error, want one", scale)
		}
	}
}

// A document that any XML reader takes, with the alternative text as its title;
// a hostile name stays text, and heat maps are embedded as PNG.
func TestSVG(t *testing.T) {
	const name = `<script>alert("1")</script>&amp;`
	for kind, p := range all(t, name, View{Title: name}) {
		data, err := p.SVG()
		if err != nil {
			t.Fatal(err)
		}
		var title string
		d := xml.NewDecoder(bytes.NewReader(data))
		for {
			token, err := d.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", kind, err)
			}
			if e, ok := token.(xml.StartElement); ok {
				switch e.Name.Local {
				case "title":
					if err := d.DecodeElement(&title, &e); err != nil {
						t.Fatal(err)
					}
				case "script":
					t.Errorf("%s: the name became a script", kind)
				}
			}
		}
		if title != p.Alt || title != p.String() || len(title) < 40 {
			t.Errorf("%s: title %q, alternative text %q; want the same, and a sentence", kind, title, p.Alt)
		}
		if bytes.Contains(data, []byte("image/jpg")) {
			t.Errorf("%s: an embedded PNG is called JPEG", kind)
		}
		if image := bytes.Contains(data, []byte("data:image/png;base64,")); image != (kind == "spectrogram") {
			t.Errorf("%s: embeds an image: %t", kind, image)
		}
	}
}

func TestSave(t *testing.T) {
	p := all(t, "push.wav")["speed"]
	dir := t.TempDir()
	for _, name := range []string{"a.png", "a.svg", "b.PNG"} {
		path := filepath.Join(dir, name)
		if err := p.Save(path); err != nil {
			t.Errorf("Save(%s): %v", name, err)
		}
		if err := p.Save(path); !errors.Is(err, os.ErrExist) {
			t.Errorf("Save(%s) over a file: error %v, want one of kind %v", name, err, os.ErrExist)
		}
	}
	if err := p.Save(filepath.Join(dir, "a.gif")); err == nil || !strings.Contains(err.Error(), ".svg") {
		t.Errorf("Save(a.gif): error %v, want one that names .svg", err)
	}
}

func TestIllustration(t *testing.T) {
	p := all(t, "push.wav")["speed"]
	ill, err := p.Illustration()
	if err != nil || ill.Alt != p.Alt || ill.Width != 800 || !bytes.HasPrefix(ill.PNG, []byte("\x89PNG")) {
		t.Errorf("Illustration = %q, width %d, %v", ill.Alt, ill.Width, err)
	}
}
