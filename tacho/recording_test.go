package tacho

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

func TestNewRecording(t *testing.T) {
	left, right := []float64{0, 0.5, -0.25, 1}, []float64{1, 0, 0.25, -1}
	rec, err := NewRecording("pier", 8000, left, right)
	if err != nil {
		t.Fatal(err)
	}
	left[1] = 99 // the recording keeps its own copy
	if got := rec.Channel(1); got[1] != 0.5 {
		t.Errorf("sample 1 = %v after the caller changed his slice, want 0.5", got[1])
	}
	if got, want := rec.Mix(), []float64{0.5, 0.25, 0, 0}; !equalSamples(got, want) {
		t.Errorf("Mix = %v, want %v", got, want)
	}
	if rec.Channels != 2 || rec.Frames != 4 || rec.Rate != 8000 || rec.Seconds() != 4.0/8000 || len(rec.SHA256) != 64 {
		t.Errorf("read %+v", rec)
	}
	other, _ := NewRecording("pier", 8000, []float64{0, 0.5, -0.25, 1}, []float64{1, 0, 0.25, -0.999})
	again, _ := NewRecording("quay", 8000, []float64{0, 0.5, -0.25, 1}, []float64{1, 0, 0.25, -1})
	if rec.SHA256 == other.SHA256 || rec.SHA256 != again.SHA256 {
		t.Error("SHA256 must tell the samples apart and nothing else")
	}
	if want := "pier: 0.0005 s, 8000 Hz, 2 channels, peak 0.0 dBFS, clipped 0 %"; rec.String() != want {
		t.Errorf("String = %q, want %q", rec, want)
	}
}

func equalSamples(a, b []float64) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

func TestNewRecordingRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		name     string
		fs       float64
		channels [][]float64
		kind     error
	}{
		{"rate 0", 0, [][]float64{{1}}, ErrOption},
		{"rate negative", -1, [][]float64{{1}}, ErrOption},
		{"rate NaN", nan, [][]float64{{1}}, ErrOption},
		{"rate infinite", inf, [][]float64{{1}}, ErrOption},
		{"no channel", 8000, nil, ErrOption},
		{"no samples", 8000, [][]float64{{}}, ErrNoSamples},
		{"unequal channels", 8000, [][]float64{{1, 2}, {1}}, ErrOption},
		{"NaN", 8000, [][]float64{{0, nan}}, ErrNotFinite},
		{"infinite", 8000, [][]float64{{0, 1}, {0, -inf}}, ErrNotFinite},
		{"huge", 8000, [][]float64{{2e9}}, ErrNotFinite},
	} {
		if rec, err := NewRecording("x", c.fs, c.channels...); !errors.Is(err, c.kind) {
			t.Errorf("%s: %v, %v, want %v", c.name, rec, err, c.kind)
		}
	}
}

func TestBlock(t *testing.T) {
	x := ramp(10, 0)
	rec, err := NewRecording("x", 100, x, ramp(10, 1))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ ch, start, len, want int }{
		{0, 0, 10, 10}, {0, 3, 4, 4}, {0, 8, 5, 2}, {1, 9, 1, 1}, {0, 10, 3, 0}, {0, 1 << 40, 3, 0}, {1, 0, 0, 0},
	} {
		dst := make([]float64, c.len)
		n, err := rec.Block(c.ch, c.start, dst)
		if n != c.want || err != nil {
			t.Errorf("Block(%d, %d, %d samples) = %d, %v, want %d", c.ch, c.start, c.len, n, err, c.want)
		}
		if want := rec.Channel(c.ch + 1); n > 0 && !equalSamples(dst[:n], want[c.start:c.start+n]) {
			t.Errorf("Block(%d, %d, %d samples) read %v", c.ch, c.start, c.len, dst[:n])
		}
	}
	for _, c := range [][2]int{{-1, 0}, {2, 0}, {0, -1}} {
		if _, err := rec.Block(c[0], c[1], make([]float64, 1)); !errors.Is(err, ErrOption) {
			t.Errorf("Block(%d, %d) gives %v, want ErrOption", c[0], c[1], err)
		}
	}
	func() {
		defer func() {
			if p, _ := recover().(string); !strings.Contains(p, "channels 1 to 2") {
				t.Errorf("Channel(3) panicked with %q", p)
			}
		}()
		rec.Channel(3)
	}()
}

func TestSlice(t *testing.T) {
	x := ramp(1000, 0)
	rec, _ := NewRecording("x", 100, x)
	part, err := rec.Slice(2.5, 4)
	if err != nil {
		t.Fatal(err)
	}
	if part.Frames != 150 || part.Start != 2.5 || part.SHA256 != rec.SHA256 || !equalSamples(part.Channel(1), x[250:400]) {
		t.Errorf("Slice(2.5, 4) has %d frames from %g s", part.Frames, part.Start)
	}
	deeper, err := part.Slice(0.5, 1.5)
	if err != nil || deeper.Start != 3 || !equalSamples(deeper.Channel(1), x[300:400]) {
		t.Errorf("a slice of a slice: %v from %g s, %v", deeper, deeper.Start, err)
	}
	want := 0.0
	for _, v := range x[250:400] {
		want = max(want, math.Abs(v))
	}
	if got := part.Levels()[0].Peak; got != want {
		t.Errorf("the slice's peak is %v, want its own, %v", got, want)
	}
	for _, c := range [][2]float64{{-1, 2}, {2, 2}, {3, 2}, {0, 10.1}, {math.NaN(), 1}, {0, math.NaN()}, {0, math.Inf(1)}} {
		if _, err := rec.Slice(c[0], c[1]); !errors.Is(err, ErrOption) {
			t.Errorf("Slice(%g, %g) gives %v, want ErrOption", c[0], c[1], err)
		}
	}
	if _, err := rec.Slice(1, 1.001); !errors.Is(err, ErrNoSamples) {
		t.Errorf("a slice of less than half a frame gives %v, want ErrNoSamples", err)
	}
}

func TestOpen(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "whirligig.wav")
	s := wavSpec{channels: 2, rate: 48000, bits: 16, samples: [][]float64{ramp(5000, 0), ramp(5000, 1)}}
	if err := os.WriteFile(path, s.build(), 0o666); err != nil {
		t.Fatal(err)
	}
	rec, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	if rec.Name != path || rec.Frames != 5000 {
		t.Errorf("read %v", rec)
	}
	if _, err := Open(filepath.Join(dir, "missing.wav")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a missing file gives %v", err)
	}
	if _, err := Open(dir); !errors.Is(err, ErrNotSound) || !strings.Contains(err.Error(), "folder") {
		t.Errorf("a folder gives %v", err)
	}
	// A small file is not needed any more once it is read.
	os.Remove(path)
	if got := rec.Channel(2); len(got) != 5000 {
		t.Errorf("%d samples after the file was removed", len(got))
	}
}

// A large file stays on disk: its samples are right, several readers may share
// it, and if it shrinks meanwhile the reader says so.
func TestOpenLargeFile(t *testing.T) {
	if testing.Short() {
		t.Skip("writes a file of 34 MB")
	}
	path := filepath.Join(t.TempDir(), "long.wav")
	const frames = 4_300_000
	head := wavSpec{tag: 3, channels: 1, rate: 48000, bits: 64, rawData: []byte{}, lieSize: true, dataSize: 8 * frames}.build()
	tail := encodeSamples([][]float64{ramp(1000, 0)}, 3, 8)
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	size := int64(len(head) + 8*frames)
	f.Write(head)
	f.WriteAt(tail, size-int64(len(tail)))
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	rec, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	if rec.Frames != frames {
		t.Fatalf("%d frames, want %d", rec.Frames, frames)
	}
	part, err := rec.Slice(rec.Seconds()-1000.0/48000, rec.Seconds())
	if err != nil {
		t.Fatal(err)
	}
	got := part.Channel(1)
	for j, x := range ramp(1000, 0) {
		if got[j] != x {
			t.Fatalf("sample %d of the end = %v, want %v", j, got[j], x)
		}
	}
	if err := os.Truncate(path, size/2); err != nil {
		t.Fatal(err)
	}
	if n, err := rec.Block(0, frames-100, make([]float64, 100)); err == nil || n != 0 || !strings.Contains(err.Error(), path) {
		t.Errorf("reading behind the new end gives %d, %v", n, err)
	}
}

// A recording may be read by several goroutines at once (run with -race).
func TestRecordingIsShared(t *testing.T) {
	rec, err := readBytes(wavSpec{channels: 2, rate: 48000, bits: 24, samples: [][]float64{ramp(50000, 0), ramp(50000, 1)}}.build())
	if err != nil {
		t.Fatal(err)
	}
	want := rec.Channel(2)
	var wg sync.WaitGroup
	for i := range 4 {
		wg.Go(func() {
			block := make([]float64, 30000)
			for start := 1000 * i; start < 20000; start += 700 {
				if n, err := rec.Block(1, start, block); err != nil || !equalSamples(block[:n], want[start:start+n]) {
					t.Errorf("Block from %d: %d samples, %v, not those of the channel", start, n, err)
					return
				}
			}
		})
	}
	wg.Wait()
}

func TestLevels(t *testing.T) {
	sine := func(amplitude, f float64) []float64 {
		x := make([]float64, 48000)
		for j := range x {
			x[j] = amplitude * math.Sin(2*math.Pi*f*float64(j)/48000)
		}
		return x
	}
	limit := func(x []float64, at float64) []float64 {
		for j := range x {
			x[j] = max(-at, min(at, x[j]))
		}
		return x
	}
	// A sine of amplitude A limited at L stands at the limit for the share
	// 1 - 2 asin(L/A)/π of the time.
	share := func(a, l float64) float64 { return 1 - 2*math.Asin(l/a)/math.Pi }
	for _, c := range []struct {
		name          string
		x             []float64
		peak, clipped float64
	}{
		{"clean", sine(0.5, 997), 0.5, 0},
		{"clean and slow", sine(0.5, 20), 0.5, 0},
		{"very quiet", sine(0.01, 997), 0.01, 0},
		{"at full scale", sine(1, 991.1), 1, 0},
		{"clipped at full scale", limit(sine(1.4, 97), 1), 1, share(1.4, 1)},
		{"clipped, then turned down", limit(sine(1, 97), 0.6), 0.6, share(1, 0.6)},
		{"clipped a little", limit(sine(1.02, 997), 1), 1, share(1.02, 1)},
	} {
		for _, bits := range []int{8, 16, 24} {
			rec, err := readBytes(wavSpec{channels: 1, rate: 48000, bits: bits, samples: [][]float64{c.x}}.build())
			if err != nil {
				t.Fatal(err)
			}
			l := rec.Levels()[0]
			step := math.Ldexp(1, 1-bits)
			if math.Abs(l.Peak-c.peak) > 0.003*c.peak+step {
				t.Errorf("%s, %d bits: peak %v, want %v", c.name, bits, l.Peak, c.peak)
			}
			// The rounded crest of a sine at full scale cannot be told from
			// clipping: it stands within a step for sqrt(2 step)/π twice over.
			tol := 0.004
			if c.peak == 1 {
				tol += 2 * math.Sqrt(2*step) / math.Pi
			}
			if math.Abs(l.Clipped-c.clipped) > tol {
				t.Errorf("%s, %d bits: clipped %.4f, want %.4f", c.name, bits, l.Clipped, c.clipped)
			}
			if rec.ClippedFraction != l.Clipped || rec.PeakDBFS != l.PeakDBFS() {
				t.Errorf("%s: the recording says %v and %v, its channel %v and %v", c.name, rec.ClippedFraction, rec.PeakDBFS, l.Clipped, l.PeakDBFS())
			}
		}
	}
	// Levels by definition: RMS of a sine is A/√2, so that full scale is 0 dBFS.
	rec, _ := NewRecording("x", 48000, sine(0.5, 1000), limit(sine(0, 1), 1))
	l := rec.Levels()
	if got, want := l[0].RMSDBFS(), 20*math.Log10(0.5); math.Abs(got-want) > 1e-9 {
		t.Errorf("RMSDBFS of half scale = %v, want %v", got, want)
	}
	if !l[1].Silent() || l[0].Silent() || !math.IsInf(l[1].PeakDBFS(), -1) || len(rec.Warnings) != 1 {
		t.Errorf("silence: %+v, warnings %q", l[1], rec.Warnings)
	}
}
