// Package datasets_test remakes the recordings of this folder from their scenes
// and compares.
package datasets_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"strings"
	"testing"

	"github.com/go-audio/wav"

	"rotorhum/tacho/synth"
)

type manifest struct {
	Schema     string  `json:"schema"`
	Statement  string  `json:"statement"`
	MadeBy     string  `json:"made_by"`
	Licence    string  `json:"licence"`
	Recordings []entry `json:"recordings"`
}

type entry struct {
	File     string       `json:"file"`
	Scene    string       `json:"scene"`
	Title    string       `json:"title"`
	Note     string       `json:"note"`
	Rate     int          `json:"rate_hz"`
	Channels int          `json:"channels"`
	Bits     int          `json:"bits"`
	Samples  int          `json:"samples"`
	Seconds  float64      `json:"seconds"`
	Bytes    int          `json:"bytes"`
	SHA256   string       `json:"sha256"`
	Seed     uint64       `json:"seed"`
	Truth    *synth.Truth `json:"truth"`
}

func readManifest(t *testing.T) manifest {
	t.Helper()
	text, err := os.ReadFile("manifest.json")
	if err != nil {
		t.Fatal(err)
	}
	var m manifest
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&m); err != nil {
		t.Fatal(err)
	}
	return m
}

func makeTake(t *testing.T, path string) (synth.Scene, *synth.Take) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	scene, err := synth.ReadScene(f)
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	take, err := scene.Make()
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	return scene, take
}

// samplesOf decodes a 16-bit WAV file into its channels, in steps of 1/32768.
func samplesOf(t *testing.T, file []byte) (rate int, channels [][]int) {
	t.Helper()
	dec := wav.NewDecoder(bytes.NewReader(file))
	buf, err := dec.FullPCMBuffer()
	if err != nil {
		t.Fatal(err)
	}
	if dec.BitDepth != 16 || dec.WavAudioFormat != 1 {
		t.Fatalf("%d bits in format %d, want 16 bits of plain PCM", dec.BitDepth, dec.WavAudioFormat)
	}
	channels = make([][]int, dec.NumChans)
	for i, v := range buf.Data {
		c := i % len(channels)
		channels[c] = append(channels[c], v)
	}
	return int(dec.SampleRate), channels
}

// Every recording must come out of its scene again: to the last bit on the kind
// of processor it was made on, elsewhere to one step of 16 bits, because
// processors may round a product and a sum in one.
func TestRecordingsComeOutOfTheirScenes(t *testing.T) {
	for _, e := range readManifest(t).Recordings {
		t.Run(e.File, func(t *testing.T) {
			t.Parallel()
			file, err := os.ReadFile(e.File)
			if err != nil {
				t.Fatal(err)
			}
			sum := sha256.Sum256(file)
			if got := hex.EncodeToString(sum[:]); got != e.SHA256 {
				t.Errorf("SHA-256 %s, manifest %s", got, e.SHA256)
			}
			scene, take := makeTake(t, e.Scene)
			remade, err := take.WAV(16)
			if err != nil {
				t.Fatal(err)
			}
			rate, kept := samplesOf(t, file)
			_, made := samplesOf(t, remade)
			if len(kept) != len(made) || len(kept[0]) != len(made[0]) {
				t.Fatalf("kept %d x %d samples, remade %d x %d", len(kept), len(kept[0]), len(made), len(made[0]))
			}
			for c := range kept {
				for i, v := range kept[c] {
					if d := made[c][i] - v; d < -1 || d > 1 {
						t.Fatalf("channel %d, sample %d: kept %d, remade %d", c+1, i, v, made[c][i])
					}
				}
			}
			if runtime.GOARCH == "amd64" && !bytes.Equal(file, remade) {
				t.Error("remade on the same kind of processor, the file differs")
			}
			want := entry{
				File: e.File, Scene: e.Scene, Title: scene.Title, Note: scene.Note, Rate: rate, Channels: len(kept), Bits: 16,
				Samples: len(kept[0]), Seconds: float64(len(kept[0])) / float64(rate), Bytes: len(file), SHA256: e.SHA256, Seed: scene.Seed, Truth: e.Truth,
			}
			if !reflect.DeepEqual(e, want) {
				t.Errorf("manifest says\n%+v\nwant\n%+v", e, want)
			}
			compareTruth(t, e.Truth, take.Truth)
		})
	}
}

func compareTruth(t *testing.T, kept *synth.Truth, made synth.Truth) {
	t.Helper()
	if (kept == nil) != (made.Pulses == 0) {
		t.Fatalf("manifest has a truth: %v; the scene has %d pulses", kept != nil, made.Pulses)
	}
	if kept == nil {
		return
	}
	// Times of a flat maximum can be told to the root of the rounding only.
	const tolSpeed, tolTime = 1e-9, 1e-5
	near := func(what string, got, want, tol float64) {
		t.Helper()
		if !(math.Abs(got-want) <= tol) {
			t.Errorf("%s: manifest %v, remade %v", what, got, want)
		}
	}
	near("peak", kept.PeakSpeed, made.PeakSpeed, tolSpeed)
	near("time of the peak", kept.PeakTime, made.PeakTime, tolTime)
	near("lowest speed", kept.MinSpeed, made.MinSpeed, tolSpeed)
	near("turns", kept.Turns, made.Turns, 1e-6)
	near("tip radius", kept.TipRadius, made.TipRadius, 0)
	if kept.Name != made.Name || kept.Pulses != made.Pulses || kept.Steady != made.Steady || len(kept.Sounding) != len(made.Sounding) || len(kept.Standstill) != len(made.Standstill) {
		t.Fatalf("manifest %+v, remade %+v", *kept, made)
	}
	for i, s := range made.Sounding {
		near("sounding from", kept.Sounding[i].From, s.From, tolTime)
		near("sounding to", kept.Sounding[i].To, s.To, tolTime)
	}
	for i, s := range made.Standstill {
		near("standstill from", kept.Standstill[i].From, s.From, tolTime)
		near("standstill to", kept.Standstill[i].To, s.To, tolTime)
	}
}

func TestFolderIsInOrder(t *testing.T) {
	m := readManifest(t)
	if m.Schema != "rotorhum.datasets/1" || !strings.Contains(m.Statement, "invented") || !strings.Contains(m.Licence, "CC0") || m.MadeBy == "" {
		t.Errorf("manifest: schema %q, statement %q, licence %q, made by %q", m.Schema, m.Statement, m.Licence, m.MadeBy)
	}
	readme, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	listed := map[string]bool{}
	total := 0
	for _, e := range m.Recordings {
		listed[e.File] = true
		total += e.Bytes
		if e.Bytes > 2<<20 {
			t.Errorf("%s has %d bytes, more than 2 MiB", e.File, e.Bytes)
		}
		if e.Title == "" || e.Note == "" {
			t.Errorf("%s has no title or note", e.File)
		}
		if want := "scenes/" + strings.TrimSuffix(e.File, ".wav") + ".json"; e.Scene != want {
			t.Errorf("%s comes from %s, want %s", e.File, e.Scene, want)
		}
		if !bytes.Contains(readme, []byte(e.File)) {
			t.Errorf("README.md does not speak of %s", e.File)
		}
	}
	for _, line := range strings.Split(string(readme), "\n") {
		for _, e := range m.Recordings {
			if !strings.HasPrefix(line, "| `"+e.File) {
				continue
			}
			all := []string{fmt.Sprintf("| %g kHz, %d, %g s |", float64(e.Rate)/1000, e.Channels, e.Seconds), "no rotor"}
			if truth := e.Truth; truth != nil {
				all = append(all[:1], fmt.Sprintf("z = %d, r = %g cm;", truth.Pulses, math.Round(1e3*100*truth.TipRadius)/1e3), fmt.Sprintf("%.3f rev/s", truth.PeakSpeed))
				if truth.PeakTime > 0 {
					all = append(all, fmt.Sprintf("at %.3f s", truth.PeakTime))
				}
				if rest := truth.Standstill; strings.Contains(line, "at rest") && len(rest) > 0 {
					all = append(all, fmt.Sprintf("at rest before %.2f s and after %.2f s", rest[0].To, rest[len(rest)-1].From))
				}
			}
			for _, says := range all {
				if !strings.Contains(line, says) {
					t.Errorf("README.md does not say %q of %s", says, e.File)
				}
			}
		}
	}
	if total > 8<<20 {
		t.Errorf("all recordings together have %d bytes, more than 8 MiB", total)
	}
	for _, pattern := range []string{"*.wav", "scenes/*.json"} {
		files, err := filepath.Glob(pattern)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range files {
			if name := strings.TrimSuffix(filepath.Base(f), filepath.Ext(f)) + ".wav"; !listed[name] {
				t.Errorf("%s is not in the manifest", f)
			}
		}
		if len(files) != len(m.Recordings) {
			t.Errorf("%d files %s, %d recordings in the manifest", len(files), pattern, len(m.Recordings))
		}
	}
}

func TestWhirligigHasThreePushesAndRests(t *testing.T) {
	_, take := makeTake(t, "scenes/whirligig-three-pushes.json")
	tr := take.Truth
	if n := len(tr.Standstill); n != 2 || tr.Standstill[0].From != 0 || tr.Standstill[1].To != take.Seconds() {
		t.Errorf("standstill %v, want one at either end", tr.Standstill)
	}
	// Three tops, each higher than the last, at the scale of half a second.
	var tops []float64
	track := tr.Track(0.02, take.Seconds())
	for i := 25; i+25 < len(track); i++ {
		top := track[i].Speed > 0
		for d := 1; d <= 25; d++ {
			top = top && track[i].Speed >= track[i-d].Speed && track[i].Speed > track[i+d].Speed
		}
		if top {
			tops = append(tops, track[i].Speed)
		}
	}
	if len(tops) != 3 || tops[0] > tops[1] || tops[1] > tops[2] || math.Abs(tops[2]-tr.PeakSpeed) > 0.01 {
		t.Errorf("tops %v, want three rising ones, the last the peak %v", tops, tr.PeakSpeed)
	}
}

// The siren disc's tone, straight from the file: the phase of its first line
// advances by 12 x 24.6 turns a second.
func TestSirenDiscSoundsAtHolesTimesTurns(t *testing.T) {
	file, err := os.ReadFile("siren-disc-steady.wav")
	if err != nil {
		t.Fatal(err)
	}
	rate, channels := samplesOf(t, file)
	phase := func(from float64) float64 {
		var re, im float64
		first := int(from * float64(rate))
		for i := range rate { // one second under a Hann window
			s, c := math.Sincos(2 * math.Pi * math.Mod(295*float64(first+i)/float64(rate), 1))
			w := 1 - math.Cos(2*math.Pi*float64(i)/float64(rate))
			v := w * float64(channels[0][first+i])
			re, im = re+v*c, im-v*s
		}
		return math.Atan2(im, re)
	}
	const seconds = 4.5
	turns := math.Remainder(phase(0.2+seconds)-phase(0.2), 2*math.Pi) / (2 * math.Pi)
	// 0.2 Hz above 295 Hz is 0.9 of a turn in 4.5 s, which reads as -0.1.
	got := 295 + (turns+1)/seconds
	// Noise 22 dB down in all, far less in one hertz: the phase is good to 0.005 rad.
	if want := 12 * 24.6; math.Abs(got-want) > 1e-3 {
		t.Errorf("the tone is at %.5f Hz, want %v", got, want)
	}
}

// The fast top of textbooks: precession x spin = m g l / I in rad²/s², here over
// (2 pi)² for revolutions. g is standard gravity (NIST SP 811).
func TestTopPrecessesAsItsNoteSays(t *testing.T) {
	scene, _ := makeTake(t, "scenes/spinning-top-precession.json")
	const mass, arm, inertia, g = 0.080, 0.01, 2.5e-5, 9.80665
	want := mass * g * arm / inertia / (4 * math.Pi * math.Pi)
	if got := scene.Rotors[0].Beat.Precession; math.Abs(got-want) > 0.005 {
		t.Errorf("precession x spin is %v rev²/s², the note's top has %v", got, want)
	}
	for _, says := range []string{"80 g", "2.5e-5 kg m²", "1 cm"} {
		if !strings.Contains(scene.Note, says) {
			t.Errorf("the note does not say %q", says)
		}
	}
}
