package synth

import (
	"fmt"
	"math"
)

// Jet is the rush of an air jet through the blades: noise whose loudness goes up
// and down with every blade that passes.
type Jet struct {
	// LevelDB is the power of the full rush over that of the first rotor's lines.
	LevelDB float64 `json:"level_db"`
	// Depth, from 0 to 1, is how far the blades chop the rush.
	Depth float64 `json:"depth,omitempty"`
	// Slope, Low and High colour the rush as in [Noise].
	Slope float64 `json:"slope_db_per_octave,omitempty"`
	Low   float64 `json:"low_hz,omitempty"`
	High  float64 `json:"high_hz,omitempty"`
	// Always keeps the jet on; otherwise it blows during the pushes of a trial,
	// and throughout for profiles without pushes.
	Always bool `json:"always,omitempty"`
	// Growth, when not 0, makes the rush follow the speed as [Rotor] does: the
	// air that the blades stir up themselves.
	Growth float64 `json:"growth,omitempty"`
}

// jetting is a jet at work on one rotor.
type jetting struct {
	Jet
	noise  []float64                // of variance 1
	stir   func(fr float64) float64 // nil: does not depend on the speed
	pushes []Push                   // empty: always on
	pulses float64
	out    []float64
}

func (p *player) startJet(st *stage, index int) *jetting {
	if p.Jet == nil {
		return nil
	}
	j := &jetting{Jet: *p.Jet, pulses: float64(p.Pulses), out: make([]float64, len(st.dry))}
	if !j.Always && p.Speed == nil && p.Profile.Kind == KindTrial {
		j.pushes = p.Profile.Pushes
	}
	if j.Growth > 0 {
		blades, top := Rotor{Growth: j.Growth}, p.about.PeakSpeed
		j.stir = func(fr float64) float64 { return blades.loudness(fr, top) }
	}
	n := Noise{Slope: j.Slope, Low: j.Low, High: j.High}
	j.noise = n.render(st.work, stream(st.scene.Seed, streamJet, index), 1, st.fs, len(st.dry))
	return j
}

// blow adds sample i, at t seconds, an angle of turn turns and a speed of fr.
func (j *jetting) blow(i int, t, turn, fr float64) {
	on := 1.0
	if len(j.pushes) > 0 {
		on = 0
		for _, p := range j.pushes {
			on = math.Max(on, p.strength(t))
		}
		if on == 0 {
			return
		}
	}
	if j.stir != nil {
		on *= j.stir(fr)
	}
	if j.Depth > 0 {
		on *= 1 + j.Depth*math.Cos(2*math.Pi*math.Mod(j.pulses*turn, 1))
	}
	j.out[i] = on * j.noise[i]
}

func (j *Jet) check(fs float64) error {
	if !(math.Abs(j.LevelDB) <= 200) || !(j.Depth >= 0 && j.Depth <= 1) || !(math.Abs(j.Slope) <= 24) || !(j.Growth >= 0 && j.Growth <= 10) {
		return fmt.Errorf("jet needs a level_db from -200 to 200, a depth from 0 to 1 a slope from -24 to 24 dB per octave and a growth from 0 to 10")
	}
	if err := checkBand(j.Low, j.High, fs); err != nil {
		return fmt.Errorf("jet: %v", err)
	}
	return nil
}
