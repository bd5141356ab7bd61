package synth

import (
	"fmt"
	"math"
)

// GainControl is a recorder that turns its own gain: by a hand on the knob
// (Steps), or by itself (Strength), so that soft passages swell and loud ones
// are pushed down.
type GainControl struct {
	// Strength, from 0 to 1, is how far the recorder evens out the level.
	Strength float64 `json:"strength,omitempty"`
	// Attack and Release, in seconds, are how long it takes to turn down and up;
	// 0 means 0.02 and 0.8.
	Attack  float64 `json:"attack_s,omitempty"`
	Release float64 `json:"release_s,omitempty"`
	// MaxGain, in dB, bounds the gain for soft sounds; 0 means 30.
	MaxGain float64 `json:"max_gain_db,omitempty"`
	// Steps change the gain for good at a time.
	Steps []GainStep `json:"steps,omitempty"`
}

// GainStep sets the gain to Gain dB from T seconds on.
type GainStep struct {
	T    float64 `json:"t_s"`
	Gain float64 `json:"gain_db"`
}

// apply changes all channels together, in place.
func (g GainControl) apply(w *work, samples [][]float64, fs float64) {
	if len(g.Steps) > 0 {
		g.turnKnob(w, samples, fs)
	}
	if g.Strength > 0 {
		g.pump(w, samples, fs)
	}
}

// turnKnob applies the steps; each takes 2 ms, so that it does not click.
func (g GainControl) turnKnob(w *work, samples [][]float64, fs float64) {
	gain, goal, next := 1.0, 1.0, 0
	slew := 1 - math.Exp(-1/(0.002*fs))
	for from, to := range w.pieces(len(samples[0])) {
		for i := from; i < to; i++ {
			for next < len(g.Steps) && float64(i) >= g.Steps[next].T*fs {
				goal = math.Sqrt(dB(g.Steps[next].Gain))
				next++
			}
			gain += slew * (goal - gain)
			for _, x := range samples {
				x[i] *= gain
			}
		}
	}
}

// pump follows the power of the loudest channel, fast upwards and slowly
// downwards, and steers it towards its mean over the recording.
func (g GainControl) pump(w *work, samples [][]float64, fs float64) {
	attack, release, limit := g.Attack, g.Release, g.MaxGain
	if attack == 0 {
		attack = 0.02
	}
	if release == 0 {
		release = 0.8
	}
	if limit == 0 {
		limit = 30
	}
	mean := 0.0
	for _, x := range samples {
		sum := 0.0
		for _, v := range x {
			sum += v * v
		}
		mean = math.Max(mean, sum/float64(len(x)))
	}
	if mean == 0 {
		return
	}
	up, down := 1-math.Exp(-1/(attack*fs)), 1-math.Exp(-1/(release*fs))
	floor := mean / dB(limit/g.Strength)
	power := mean
	for from, to := range w.pieces(len(samples[0])) {
		for i := from; i < to; i++ {
			now := 0.0
			for _, x := range samples {
				now = math.Max(now, x[i]*x[i])
			}
			if now > power {
				power += up * (now - power)
			} else {
				power += down * (now - power)
			}
			gain := math.Pow(mean/math.Max(power, floor), g.Strength/2)
			for _, x := range samples {
				x[i] *= gain
			}
		}
	}
}

func (g GainControl) check() error {
	if !(g.Strength >= 0 && g.Strength <= 1) || !(g.Attack >= 0 && g.Attack <= 60) || !(g.Release >= 0 && g.Release <= 60) || !(g.MaxGain >= 0 && g.MaxGain <= 120) {
		return fmt.Errorf("gain_control: give strength from 0 to 1, attack_s and release_s from 0 to 60, max_gain_db from 0 to 120")
	}
	for i, s := range g.Steps {
		if !finite(s.T) || !(math.Abs(s.Gain) <= 120) || i > 0 && s.T < g.Steps[i-1].T {
			return fmt.Errorf("gain_control: step %d needs a time not before the last step's and a gain from -120 to 120 dB", i+1)
		}
	}
	return nil
}
