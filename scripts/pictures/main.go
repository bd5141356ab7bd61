// Command pictures remakes the pictures that the README shows, from the
// recording of the five-vane whirligig:
//
//	go run ./scripts/pictures
package main

import (
	"fmt"
	"os"
	"path/filepath"

	"rotorhum/tacho"
	"rotorhum/tacho/figure"
)

func main() {
	if err := draw(filepath.Join("notebooks", "pictures")); err != nil {
		fmt.Fprintln(os.Stderr, "pictures:", err)
		os.Exit(1)
	}
}

func draw(folder string) error {
	rec, err := tacho.Open(filepath.Join("datasets", "whirligig-three-pushes.wav"))
	if err != nil {
		return err
	}
	opt := tacho.Options{Pulses: 5}
	track, err := tacho.Follow(rec, opt)
	if err != nil {
		return err
	}
	peak, err := track.Peak()
	if err != nil {
		return err
	}
	gram, err := rec.Spectrogram(tacho.SpectrogramOptions{Len: 8192, Hop: 512})
	if err != nil {
		return err
	}
	over, err := figure.Spectrogram(gram, track, figure.View{Hi: 500, Title: "The sound of three pushes, and the pulse rate found in it"})
	if err != nil {
		return err
	}
	rotor := tacho.Rotor{Name: "five-vane whirligig", Pulses: 5}
	speed, err := figure.Speed(track, rotor, peak)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	for name, p := range map[string]*figure.Picture{"three-pushes-sound.png": over, "three-pushes-speed.png": speed} {
		png, err := p.PNG()
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(folder, name), png, 0o644); err != nil {
			return err
		}
		fmt.Println(filepath.Join(folder, name)+":", p.Alt)
	}
	return nil
}
