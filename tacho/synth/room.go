package synth

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// Room makes every sound ring on after it: a diffuse echo that decays
// exponentially, by 60 dB in RT60 seconds. A living room has about 0.4 s, a
// gymnasium 2 s (common practice).
type Room struct {
	RT60 float64 `json:"rt60_s"`
	// Direct, in dB, is the energy of the direct sound over that of the echo: 10
	// near the microphone, 0 or less far away.
	Direct float64 `json:"direct_to_echo_db"`
	// Gap, in seconds, is the time between the direct sound and the echo.
	Gap float64 `json:"gap_s,omitempty"`
}

// response draws an impulse response of the room: 1 for the direct sound, then
// Gaussian noise under the decay. High sounds die away faster: above 2 kHz the
// decay takes half as long.
func (r Room) response(src *rand.Rand, fs float64) []float64 {
	gap := r.Gap
	if gap == 0 {
		gap = 0.003
	}
	first := max(1, int(math.Round(gap*fs)))
	n := first + int(r.RT60*fs)
	h := make([]float64, n)
	slow, fast := math.Pow(10, -3/(r.RT60*fs)), math.Pow(10, -6/(r.RT60*fs))
	lowGain, highGain := 1.0, 1.0
	smooth := 1 - math.Exp(-2*math.Pi*2000/fs)
	low, energy := 0.0, 0.0
	for i := first; i < n; i++ {
		e := src.NormFloat64()
		low += smooth * (e - low)
		h[i] = lowGain*low + highGain*(e-low)
		energy += h[i] * h[i]
		lowGain *= slow
		highGain *= fast
	}
	if energy > 0 {
		g := math.Sqrt(1 / dB(r.Direct) / energy)
		for i := range h {
			h[i] *= g
		}
	}
	h[0] = 1
	return h
}

// lead returns how long, in seconds, sounds must be under way before the
// recording begins for its echo to be complete to 60 dB.
func (r Room) lead() float64 { return math.Min(r.RT60+r.Gap, 4) }

func (r Room) check() error {
	if !(r.RT60 >= 0.02 && r.RT60 <= 20) {
		return fmt.Errorf("room: rt60_s is %v; give a decay time from 0.02 to 20 s", r.RT60)
	}
	if !(math.Abs(r.Direct) <= 60) || !(r.Gap >= 0 && r.Gap <= 1) {
		return fmt.Errorf("room: give direct_to_echo_db from -60 to 60 and gap_s from 0 to 1")
	}
	return nil
}
