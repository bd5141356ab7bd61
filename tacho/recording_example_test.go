package tacho_test

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

func ExampleNewRecording() {
	hum := synth.Hum(60, []float64{0.2, 0.1, 0.05}, 8000, 4000)
	rec, err := tacho.NewRecording("a hum of three lines", 8000, hum)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(rec)
	fmt.Printf("%.1f s in %d frames\n", rec.Seconds(), rec.Frames)
	// Output:
	// a hum of three lines: 0.5 s, 8000 Hz, mono, peak -9.1 dBFS, clipped 0 %
	// 0.5 s in 4000 frames
}

// A file that is no recording is refused in words that say what to do.
func ExampleOpen() {
	dir, err := os.MkdirTemp("", "pier")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	os.Chdir(dir)
	os.WriteFile("notes.wav", []byte("Tuesday: the whirligig, three pushes"), 0o666)
	_, err = tacho.Open(filepath.Join(".", "notes.wav"))
	fmt.Println(errors.Is(err, tacho.ErrNotSound))
	var bad *tacho.FileError
	if errors.As(err, &bad) {
		fmt.Println(bad.Problem)
		fmt.Println(bad.Advice)
	}
	// Output:
	// true
	// it begins with "Tuesday: the", as no kind of sound or video file known here does
	// convert it to 16-bit PCM WAV, for example: ffmpeg -i IN -c:a pcm_s16le OUT.wav
}

// Reading a long recording piece by piece: the loudest tenth of a second.
func ExampleRecording_Block() {
	chirp := synth.Chirp(100, 400, 8000, 16000)
	for j := range chirp {
		chirp[j] *= math.Sin(math.Pi * float64(j) / 16000) // swells and fades
	}
	rec, err := tacho.NewRecording("swell", 8000, chirp)
	if err != nil {
		fmt.Println(err)
		return
	}
	block := make([]float64, 800)
	loudest, at := 0.0, 0.0
	for start := 0; start < rec.Frames; start += len(block) {
		n, err := rec.Block(0, start, block)
		if err != nil {
			fmt.Println(err)
			return
		}
		power := 0.0
		for _, x := range block[:n] {
			power += x * x / float64(n)
		}
		if power > loudest {
			loudest, at = power, float64(start)/rec.Rate
		}
	}
	fmt.Printf("loudest from %.1f s on\n", at)
	// Output:
	// loudest from 1.0 s on
}

func ExampleRecording_Slice() {
	rec, err := tacho.NewRecording("a minute", 1000, make([]float64, 60000))
	if err != nil {
		fmt.Println(err)
		return
	}
	part, err := rec.Slice(12, 15.5)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f s, cut at %.0f s\n", part.Seconds(), part.Start)
	_, err = rec.Slice(50, 70)
	fmt.Println(err)
	// Output:
	// 3.5 s, cut at 12 s
	// bad option: slice of "a minute" from 50 s to 70 s: give 0 <= from < to <= 60 s
}
