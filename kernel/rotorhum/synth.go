package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"rotorhum/kernel/notebook"
	"rotorhum/tacho/synth"
)

const synthHelp = `usage: rotorhum synth [-o FILE.wav] [-truth FILE.json] [-bits 16|24|32] [-force] SCENE.json
       rotorhum synth [-force] -all DIR

Makes a recording of something spinning from the few lines of JSON that describe
it, so that the true speed is known at every moment.

The recording goes to SCENE.wav in the current folder unless -o says otherwise.
-truth writes what is known about the rotor: peak, intervals, lines, and the speed
every 10 ms. -all makes DIR/NAME.wav for every DIR/scenes/NAME.json and lists them
with their truths in DIR/manifest.json. Nothing is overwritten without -force.

Example: a five-vane whirligig that speeds up from 2 to 14 turns a second

  cat > whirligig.json <<END
  {"rate_hz": 44100, "seconds": 6, "seed": 1, "peak": 0.5,
   "rotors": [{"pulses_per_rev": 5, "tip_radius_m": 0.06, "growth": 2,
               "profile": {"kind": "ramp", "from_rev_per_s": 2, "to_rev_per_s": 14,
                           "start_s": 1, "seconds": 4}}],
   "noise": [{"snr_db": 15, "slope_db_per_octave": -3}]}
  END
  rotorhum synth -truth whirligig-truth.json whirligig.json
  rotorhum measure -pulses 5 -radius 6cm whirligig.wav

Flags:
`

// runSynth is the command "rotorhum synth".
func runSynth(args []string, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("synth", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	out := flags.String("o", "", "write the recording to this `file` instead of SCENE.wav")
	truth := flags.String("truth", "", "write what is known about the rotor to this `file`")
	bits := flags.Int("bits", 16, "bits per sample of the recording: 16, 24 or 32")
	all := flags.String("all", "", "make every recording of this `folder` and its manifest")
	force := flags.Bool("force", false, "overwrite files that are there")
	help := func(w io.Writer) {
		fmt.Fprint(w, synthHelp)
		flags.SetOutput(w)
		flags.PrintDefaults()
	}
	if err := flags.Parse(args); errors.Is(err, flag.ErrHelp) {
		help(stdout)
		return exitOK
	} else if err != nil {
		fmt.Fprintf(stderr, "rotorhum synth: %v; rotorhum synth -h explains\n", err)
		return exitBadUsage
	}
	var err error
	switch {
	case *all != "" && flags.NArg() == 0 && *out == "" && *truth == "":
		err = synthAll(*all, *force, stdout)
	case *all == "" && flags.NArg() == 1:
		err = synthOne(flags.Arg(0), *out, *truth, *bits, *force, stdout)
	default:
		fmt.Fprintln(stderr, "rotorhum synth: give one scene, or -all with a folder and nothing else; rotorhum synth -h explains")
		return exitBadUsage
	}
	if err != nil {
		fmt.Fprintf(stderr, "rotorhum synth: %v\n", err)
		return exitBadInput
	}
	return exitOK
}

// truthFile is what -truth writes. The schema is public; fields are only added.
type truthFile struct {
	Schema string `json:"schema"`
	Rate   int    `json:"rate_hz"`
	// Seconds is the length of the recording.
	Seconds float64       `json:"seconds"`
	Rotor   *synth.Truth  `json:"rotor"` // null: there is no rotor
	Others  []synth.Truth `json:"others,omitempty"`
	Track   []synth.Point `json:"track,omitempty"`
}

// truthStep, in seconds, is the spacing of the true track.
const truthStep = 0.01

func synthOne(scenePath, out, truthPath string, bits int, force bool, stdout io.Writer) error {
	_, take, err := takeScene(scenePath)
	if err != nil {
		return err
	}
	if out == "" {
		out = strings.TrimSuffix(filepath.Base(scenePath), ".json") + ".wav"
	}
	for _, path := range []string{out, truthPath} {
		if filepath.Clean(path) == filepath.Clean(scenePath) || path == out && path == truthPath {
			return fmt.Errorf("%s would be written over; give scene, recording and truth names of their own", path)
		}
	}
	sound, err := take.WAV(bits)
	if err != nil {
		return err
	}
	var truth []byte
	if truthPath != "" {
		f := truthFile{Schema: "rotorhum.truth/1", Rate: take.Rate, Seconds: take.Seconds(), Others: take.Others}
		if take.Truth.Pulses > 0 {
			f.Rotor = &take.Truth
			f.Track = take.Truth.Track(truthStep, take.Seconds())
		}
		if truth, err = indented(f); err != nil {
			return err
		}
		if err := mayWrite(truthPath, force); err != nil {
			return err
		}
	}
	if err := mayWrite(out, force); err != nil {
		return err
	}
	if err := notebook.ReplaceFile(out, sound); err != nil {
		return err
	}
	fmt.Fprintf(stdout, "%s: %s\n", out, take)
	if truthPath == "" {
		return nil
	}
	return notebook.ReplaceFile(truthPath, truth)
}

// manifest lists the recordings of a folder.
type manifest struct {
	Schema     string          `json:"schema"`
	Statement  string          `json:"statement"`
	MadeBy     string          `json:"made_by"`
	Licence    string          `json:"licence"`
	Recordings []manifestEntry `json:"recordings"`
}

// manifestEntry is what the manifest says about one recording.
type manifestEntry struct {
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
	Truth    *synth.Truth `json:"truth"` // null: there is no rotor
}

const (
	manifestSchema    = "rotorhum.datasets/1"
	manifestStatement = "Every recording here is invented: synthesised from the scene named beside it, for the made-up Gullwing Pier Science Club. Nothing was recorded."
	manifestLicence   = "CC0-1.0: the authors dedicate the recordings and the scenes to the public domain"
)

// synthAll makes the recordings and the manifest of a folder. All is made before
// anything is written, and files that are already right are left alone.
func synthAll(dir string, force bool, stdout io.Writer) error {
	scenes, err := filepath.Glob(filepath.Join(dir, "scenes", "*.json"))
	if err != nil {
		return err
	}
	if len(scenes) == 0 {
		return fmt.Errorf("%s holds no scenes; it needs a folder scenes with NAME.json files", dir)
	}
	m := manifest{Schema: manifestSchema, Statement: manifestStatement, MadeBy: "rotorhum synth -all datasets", Licence: manifestLicence}
	type file struct {
		path string
		data []byte
		note string
	}
	var files []file
	for _, path := range scenes {
		scene, take, err := takeScene(path)
		if err != nil {
			return err
		}
		sound, err := take.WAV(16)
		if err != nil {
			return err
		}
		name := strings.TrimSuffix(filepath.Base(path), ".json") + ".wav"
		sum := sha256.Sum256(sound)
		e := manifestEntry{
			File: name, Scene: "scenes/" + filepath.Base(path), Title: scene.Title, Note: scene.Note,
			Rate: take.Rate, Channels: len(take.Samples), Bits: 16, Samples: len(take.Samples[0]), Seconds: take.Seconds(),
			Bytes: len(sound), SHA256: hex.EncodeToString(sum[:]), Seed: scene.Seed,
		}
		if take.Truth.Pulses > 0 {
			t := take.Truth
			t.Lines = nil // the scene says them shorter
			e.Truth = &t
		}
		m.Recordings = append(m.Recordings, e)
		files = append(files, file{filepath.Join(dir, name), sound, take.String()})
	}
	text, err := indented(m)
	if err != nil {
		return err
	}
	files = append(files, file{filepath.Join(dir, "manifest.json"), text, fmt.Sprintf("%d recordings", len(m.Recordings))})
	var changed []file
	for _, f := range files {
		if old, err := os.ReadFile(f.path); err == nil && bytes.Equal(old, f.data) {
			fmt.Fprintf(stdout, "%s: as it was\n", f.path)
			continue
		}
		if err := mayWrite(f.path, force); err != nil {
			return err
		}
		changed = append(changed, f)
	}
	for _, f := range changed {
		if err := notebook.ReplaceFile(f.path, f.data); err != nil {
			return err
		}
		fmt.Fprintf(stdout, "%s: %s\n", f.path, f.note)
	}
	return nil
}

// takeScene reads a scene and makes its recording. Errors name the file.
func takeScene(path string) (synth.Scene, *synth.Take, error) {
	f, err := os.Open(path)
	if err != nil {
		return synth.Scene{}, nil, err
	}
	defer f.Close()
	scene, err := synth.ReadScene(f)
	if err != nil {
		return scene, nil, fmt.Errorf("%s: %w", path, err)
	}
	take, err := scene.Make()
	if err != nil {
		return scene, nil, fmt.Errorf("%s: %w", path, err)
	}
	return scene, take, nil
}

// mayWrite returns an error where writing path would overwrite something.
func mayWrite(path string, force bool) error {
	if force {
		return nil
	}
	if _, err := os.Lstat(path); err == nil {
		return fmt.Errorf("%s is there already; -force overwrites it, -o names another", path)
	} else if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

func indented(v any) ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	err := enc.Encode(v)
	return b.Bytes(), err
}
