package main

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os/exec"
	"sync"
	"time"

	"rotorhum/tacho/synth"
)

// sound is an invented trial, ready to be played.
type sound struct {
	samples []int16
	truth   synth.Truth
}

// makeSound invents the trial of the given number: the club's five-vane whirligig
// in a small room, pushed once or twice to a speed that differs from trial to
// trial.
func makeSound(number int) (*sound, error) {
	x := float64(number)
	first := 5 + 1.3*math.Mod(3*x, 7)
	scene := synth.Scene{
		Rate: sinkRate, Seconds: 8, Seed: uint64(900 + number), Peak: 0.3 + 0.05*math.Mod(x, 5),
		Rotors: []synth.Rotor{{
			Name: "five-vane whirligig", Pulses: 5, TipRadius: 0.06, Growth: 2, GainSpread: 0.1,
			Profile: synth.Trial(synth.Friction{Coulomb: 0.3, Viscous: 0.05},
				synth.Push{Start: 0.4, Seconds: 1.2, Accel: first, Top: 40},
				synth.Push{Start: 3.5, Seconds: 1.5, Accel: 4 + math.Mod(x, 6), Top: 40}),
		}},
		Room:  &synth.Room{RT60: 0.4, Direct: 8},
		Noise: []synth.Noise{synth.Pink(18)},
	}
	take, err := scene.Make()
	if err != nil {
		return nil, err
	}
	s := &sound{truth: take.Truth}
	for _, v := range take.Samples[0] {
		s.samples = append(s.samples, int16(math.Round(32767*v)))
	}
	return s, nil
}

// seconds returns its length.
func (s *sound) seconds() float64 { return float64(len(s.samples)) / sinkRate }

// player plays a sound into the sink.
type player struct {
	mu      sync.Mutex
	written []time.Time // when each piece was handed to the sound server, if it was paced
}

// piece is how many samples a paced player hands over at a time.
const piece = sinkRate / 100

// pacat starts the program that plays, with that much sound held by the server.
func pacat(latency time.Duration) (*exec.Cmd, io.WriteCloser, error) {
	cmd := exec.Command("pacat", "--playback", "--raw", "--format=s16le", fmt.Sprintf("--rate=%d", sinkRate), "--channels=1",
		fmt.Sprintf("--latency-msec=%d", latency.Milliseconds()), "--device="+sink)
	in, err := cmd.StdinPipe()
	if err != nil {
		return nil, nil, err
	}
	return cmd, in, cmd.Start()
}

// play hands everything over at once, so that the server has it when it is due,
// however busy the machine is.
func (p *player) play(s *sound) error {
	cmd, in, err := pacat(2 * time.Duration(s.seconds()*float64(time.Second)))
	if err != nil {
		return err
	}
	// The server may take back what it has rendered ahead when a stream begins:
	// let that be silence.
	lead := make([]byte, sinkRate)
	_, err = in.Write(append(lead, s.bytes(0, len(s.samples))...))
	return errors.Join(err, in.Close(), cmd.Wait())
}

// playPaced hands ten milliseconds over at a time, each when it is due, and notes
// when it did. On a busy machine that may be too late, and the server plays silence
// or something twice.
func (p *player) playPaced(s *sound) error {
	cmd, in, err := pacat(30 * time.Millisecond)
	if err != nil {
		return err
	}
	defer cmd.Wait()
	defer in.Close()
	// A first silence fills the buffers on the way.
	const lead = 6
	if _, err := in.Write(make([]byte, 2*lead*piece)); err != nil {
		return err
	}
	began := time.Now()
	for i := 0; i+piece <= len(s.samples); i += piece {
		time.Sleep(time.Until(began.Add(time.Duration(i/piece) * 10 * time.Millisecond)))
		p.mu.Lock()
		p.written = append(p.written, time.Now())
		p.mu.Unlock()
		if _, err := in.Write(s.bytes(i, i+piece)); err != nil {
			return err
		}
	}
	return nil
}

// bytes returns samples as they are played.
func (s *sound) bytes(from, to int) (b []byte) {
	for _, v := range s.samples[from:to] {
		b = binary.LittleEndian.AppendUint16(b, uint16(v))
	}
	return b
}

// when returns the moment at which a sample was handed over.
func (p *player) when(sample int) (time.Time, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if i := sample / piece; sample >= 0 && i < len(p.written) {
		return p.written[i], true
	}
	return time.Time{}, false
}
