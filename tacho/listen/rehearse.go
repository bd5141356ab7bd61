package listen

import (
	"encoding/binary"
	"io"
	"math"
	"time"

	"rotorhum/tacho"
)

// Rehearse is a recording, delivered as a microphone would: pace 1 is as fast as
// it was recorded, 2 twice as fast, 0 as fast as it can be followed. Nothing is
// heard while it plays.
func Rehearse(rec *tacho.Recording, pace float64) *Source {
	return &Source{name: "recording " + rec.Name, rehearsed: rec, open: func() (*stream, error) {
		if !(pace >= 0) || math.IsInf(pace, 1) {
			return nil, optionError("pace %v of the rehearsal: give 1 for real time, 0 for no waiting", pace)
		}
		f, err := Format{int(rec.Rate), rec.Channels, F32}.normal()
		if err != nil {
			return nil, err
		}
		if rec.Rate != float64(f.Rate) {
			return nil, optionError("%s has a sample rate of %v Hz; only whole numbers can be rehearsed", rec.Name, rec.Rate)
		}
		p := &player{rec: rec, format: f, pace: pace, stop: make(chan struct{})}
		return &stream{name: rec.Name, format: f, Reader: p, waits: pace == 0,
			lost: func() int64 { return 0 }, shut: func() { close(p.stop) }}, nil
	}}
}

// player reads a recording at a pace.
type player struct {
	rec    *tacho.Recording
	format Format
	pace   float64
	stop   chan struct{}
	began  time.Time
	at     int // frame
	x      []float64
}

// playSeconds is how much comes at a time.
const playSeconds = 0.01

// Read delivers whole frames, when it is time.
func (p *player) Read(b []byte) (int, error) {
	n := min(int(p.format.frames(playSeconds)), p.rec.Frames-p.at, len(b)/p.format.frameBytes())
	if n == 0 {
		return 0, io.EOF
	}
	if p.began.IsZero() {
		p.began = time.Now()
	}
	if p.pace > 0 {
		due := float64(p.at+n) / (p.rec.Rate * p.pace)
		select {
		case <-time.After(time.Until(p.began.Add(time.Duration(due * float64(time.Second))))):
		case <-p.stop:
			return 0, io.ErrClosedPipe
		}
	}
	p.x = append(p.x[:0], make([]float64, n)...)
	width := p.format.frameBytes()
	for ch := range p.rec.Channels {
		if _, err := p.rec.Block(ch, p.at, p.x); err != nil {
			return 0, err
		}
		for i, v := range p.x {
			binary.LittleEndian.PutUint32(b[i*width+4*ch:], math.Float32bits(float32(v)))
		}
	}
	p.at += n
	return n * width, nil
}
