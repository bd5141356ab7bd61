package tacho

import (
	"errors"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// Odd WAV files that other projects test their readers with: those of the module
// github.com/go-audio/wav (in the module cache of whoever builds this), of
// Debian's python3-scipy and of libpython3.11-testsuite. They are read where
// they are installed and left there. Frames, first samples and RMS are what
// libsndfile 1.2 decodes them to.
var oddWAVs = []struct {
	from, file string
	rate       float64
	channels   int
	frames     int
	first      []float64 // interleaved
	rms        float64
	warns      string
}{
	{"goaudio", "32bit.wav", 44100, 1, 88200, []float64{0, 0.050118659, 0.100040421}, 0.565685424, ""},
	{"goaudio", "8bit.wav", 44100, 1, 88200, []float64{0, 0.046875, 0.09375}, 0.348827613, ""},
	{"goaudio", "bass.wav", 44100, 2, 23957, []float64{0, 0, 1.3113e-05, 1.2279e-05, 7.51e-06, 6.914e-06}, 0.328140844, ""},
	{"goaudio", "bwf.wav", 44100, 1, 7287, []float64{0, 0.220879555, 0.481271386}, 0.349382233, ""},
	{"goaudio", "dirty-kick-24b441k.wav", 44100, 2, 21340, []float64{0.004822135, 0.004822135, -0.002652168, -0.002652168}, 0.320066789, ""},
	{"goaudio", "flloop.wav", 44100, 2, 108281, []float64{0.000305176, -0.000396729, 0.000335693, -9.1553e-05}, 0.094484392, ""},
	{"goaudio", "kick-16b441k.wav", 44100, 2, 7782, []float64{0, 0, 0, 0}, 0.566726772, ""},
	{"goaudio", "kick.wav", 22050, 1, 4484, []float64{0.002319336, 0.002288818, 0.002349854}, 0.297010895, ""},
	{"goaudio", "listChunkInHeader.wav", 44100, 2, 15318, []float64{6.1035e-05, 0, -0.00012219, -3.0518e-05}, 0.175651908, ""},
	{"goaudio", "listinfo.wav", 44100, 1, 88200, []float64{-0.182617188, -0.554077148, -0.4246521}, 0.462169889, ""},
	{"goaudio", "misaligned-chunk.wav", 44100, 2, 564480, []float64{0, 0, 0, 0, 1.19e-07, 1.19e-07}, 0.099456409, ""},
	{"goaudio", "padded24b.wav", 44100, 1, 3713, []float64{0.003336191, 0.011306286, 0.006733894}, 0.086850767, "less than a frame"},
	{"scipy", "test-44100Hz-2ch-32bit-float-le.wav", 44100, 2, 441, []float64{0, 0, 0.050118685, 0.050118685}, 0.570303689, ""},
	{"scipy", "test-44100Hz-le-1ch-4bytes-early-eof.wav", 44100, 1, 236, []float64{0.004441557, 0.098438052, 0.199363807}, 0.501341564, "cut short"},
	{"scipy", "test-44100Hz-le-1ch-4bytes.wav", 44100, 1, 4410, []float64{0.004441557, 0.098438052, 0.199363807}, 0.498510283, ""},
	{"scipy", "test-48000Hz-2ch-64bit-float-le-wavex.wav", 48000, 2, 480, []float64{0, 0, 0.046051223, 0.046051223}, 0.570322529, ""},
	{"scipy", "test-8000Hz-le-1ch-10S-20bit-extra.wav", 1234, 1, 10, []float64{0.999998093, -0.999998093, 0.499999046}, 0.516144586, ""},
	{"scipy", "test-8000Hz-le-2ch-1byteu.wav", 8000, 2, 800, []float64{0.0625, 0.0625, 0.4765625, 0.4765625}, 0.492626254, ""},
	{"scipy", "test-8000Hz-le-3ch-5S-24bit-inconsistent.wav", 8000, 3, 5, []float64{-1, -0.999999881, -2.38e-07, -0.5}, 0.577350214, "the latter is used"},
	{"scipy", "test-8000Hz-le-3ch-5S-24bit.wav", 8000, 3, 5, []float64{-1, -0.999999881, -2.38e-07, -0.5}, 0.577350214, ""},
	{"scipy", "test-8000Hz-le-4ch-9S-12bit.wav", 8000, 4, 9, []float64{0, 0, 0, 0, 0.70703125, 0.999511719}, 0.577302227, "channel 4 is silent"},
	{"scipy", "test-8000Hz-le-5ch-9S-5bit.wav", 8000, 5, 9, []float64{0, 0, 0, 0, 0, 0.6875}, 0.582961191, "channel 4 is silent"},
	{"python", "pluck-pcm8.wav", 11025, 2, 3307, []float64{0.015625, -0.0078125, 0.5859375, 0}, 0.168154577, "clipped"},
	{"python", "pluck-pcm16.wav", 11025, 2, 3307, []float64{0.017028809, -0.000671387, 0.588745117, 0.007598877}, 0.168089744, "clipped"},
	{"python", "pluck-pcm24.wav", 11025, 2, 3307, []float64{0.017010331, -0.000622153, 0.58868587, 0.007639408}, 0.168090286, "clipped"},
	{"python", "pluck-pcm32.wav", 11025, 2, 3307, []float64{0.017010419, -0.000622085, 0.58868593, 0.007639481}, 0.168090287, "clipped"},
}

// oddRefused are those that are not to be read without ffmpeg, and why.
var oddRefused = []struct {
	from, file string
	kind       error
	says       string
}{
	{"scipy", "test-44100Hz-2ch-32bit-float-be.wav", ErrUnsupported, "big-endian"},
	{"scipy", "test-44100Hz-be-1ch-4bytes.wav", ErrUnsupported, "big-endian"},
	{"scipy", "test-8000Hz-be-3ch-5S-24bit.wav", ErrUnsupported, "big-endian"},
	{"scipy", "test-44100Hz-le-1ch-4bytes-early-eof-no-data.wav", ErrDamaged, "at byte 72"},
	{"scipy", "test-44100Hz-le-1ch-4bytes-incomplete-chunk.wav", ErrDamaged, "at byte 12"},
	{"scipy", "test-8000Hz-le-1ch-1byte-ulaw.wav", ErrUnsupported, "mu-law"},
	{"scipy", "test-8000Hz-le-3ch-5S-36bit.wav", ErrUnsupported, "36 bits"},
	{"scipy", "test-8000Hz-le-3ch-5S-45bit.wav", ErrUnsupported, "45 bits"},
	{"scipy", "test-8000Hz-le-3ch-5S-53bit.wav", ErrUnsupported, "53 bits"},
	{"scipy", "test-8000Hz-le-3ch-5S-64bit.wav", ErrUnsupported, "64 bits"},
	{"goaudio", "bloop.aif", ErrUnsupported, "AIFF"},
	{"goaudio", "sample.avi", ErrUnsupported, "AVI"},
}

// oddFolder returns where the files of a package are installed, or skips.
func oddFolder(t *testing.T, from string) string {
	t.Helper()
	var candidates []string
	switch from {
	case "goaudio":
		out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/go-audio/wav").Output()
		if err != nil {
			t.Skipf("the go command does not say where github.com/go-audio/wav is: %v", err)
		}
		candidates = []string{filepath.Join(strings.TrimSpace(string(out)), "fixtures")}
	case "scipy":
		candidates = []string{"/usr/lib/python3/dist-packages/scipy/io/tests/data"}
	case "python":
		candidates, _ = filepath.Glob("/usr/lib/python3.*/test/audiodata")
	}
	for _, dir := range candidates {
		if _, err := os.Stat(dir); err == nil {
			return dir
		}
	}
	t.Skipf("the odd WAV files of %s are not installed", map[string]string{
		"goaudio": "the module github.com/go-audio/wav", "scipy": "Debian's python3-scipy", "python": "Debian's libpython3.11-testsuite"}[from])
	return ""
}

func TestOddWAVs(t *testing.T) {
	for _, from := range []string{"goaudio", "scipy", "python"} {
		t.Run(from, func(t *testing.T) {
			dir := oddFolder(t, from)
			for _, odd := range oddWAVs {
				if odd.from != from {
					continue
				}
				rec, err := Open(filepath.Join(dir, odd.file))
				if err != nil {
					t.Error(err)
					continue
				}
				if rec.Rate != odd.rate || rec.Channels != odd.channels || rec.Frames != odd.frames {
					t.Errorf("%s: %g Hz, %d channels, %d frames; want %g, %d, %d", odd.file, rec.Rate, rec.Channels, rec.Frames, odd.rate, odd.channels, odd.frames)
					continue
				}
				if warned := strings.Join(rec.Warnings, "; "); !strings.Contains(warned, odd.warns) || (odd.warns == "") != (warned == "") {
					t.Errorf("%s: warnings %q, want %q", odd.file, warned, odd.warns)
				}
				const tol = 1.1e-9 // the published figures have nine decimals
				var squares float64
				for ch, l := range rec.Levels() {
					squares += l.RMS * l.RMS / float64(rec.Channels)
					for j, x := range rec.Channel(ch + 1) {
						if i := j*rec.Channels + ch; i < len(odd.first) && math.Abs(x-odd.first[i]) > tol {
							t.Errorf("%s: sample %d of channel %d = %v, want %v", odd.file, j, ch+1, x, odd.first[i])
						}
					}
				}
				if rms := math.Sqrt(squares); math.Abs(rms-odd.rms) > tol {
					t.Errorf("%s: RMS %.9f, want %.9f", odd.file, rms, odd.rms)
				}
			}
			t.Setenv("PATH", t.TempDir())
			for _, odd := range oddRefused {
				if odd.from != from {
					continue
				}
				rec, err := Open(filepath.Join(dir, odd.file))
				if !errors.Is(err, odd.kind) || !strings.Contains(err.Error(), odd.says) || !strings.Contains(err.Error(), odd.file) {
					t.Errorf("%s: %v, %v, want %q with %q", odd.file, rec, err, odd.kind, odd.says)
				}
			}
		})
	}
}

// The module's 32bit.wav is a tone of 440 Hz (measured once with a harmonic
// least-squares fit; not stated by its author).
func TestOddWAVTone(t *testing.T) {
	rec, err := Open(filepath.Join(oddFolder(t, "goaudio"), "32bit.wav"))
	if err != nil {
		t.Fatal(err)
	}
	s, err := rec.Spectrum(SpectrumOptions{})
	if err != nil {
		t.Fatal(err)
	}
	peaks := s.Peaks(1)
	if len(peaks) != 1 || math.Abs(float64(peaks[0].Freq)-440) > 0.001 {
		t.Errorf("strongest line %v, want 440.000 Hz", peaks)
	}
}
