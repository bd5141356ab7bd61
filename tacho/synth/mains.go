package synth

import (
	"fmt"
	"math"
)

// Mains is the hum of the electric supply.
type Mains struct {
	// Hz is the supply's frequency, near 50 or 60.
	Hz float64 `json:"hz"`
	// LevelDB is the power of the whole hum over that of the first rotor's lines.
	LevelDB float64 `json:"level_db"`
	// Harmonics are the relative amplitudes at Hz, 2 Hz, ...; none means a usual
	// mixture of nine, strongest at twice the supply's frequency.
	Harmonics []float64 `json:"harmonics,omitempty"`
	// Electronic hum creeps in behind the microphone and passes no roll-off.
	Electronic bool `json:"electronic,omitempty"`
}

// usualHum is a plausible transformer: strong even harmonics, weaker odd ones.
var usualHum = [...]float64{0.6, 1, 0.25, 0.45, 0.15, 0.25, 0.08, 0.12, 0.05}

// addTo adds the hum to x, sampled at fs, with total power power.
func (m Mains) addTo(w *work, x []float64, power, fs float64, seed uint64, index int) {
	h := m.Harmonics
	if len(h) == 0 {
		h = usualHum[:]
	}
	rnd := stream(seed, streamHum, index)
	var lines []Line
	sum := 0.0
	for i, a := range h {
		phase := 2 * math.Pi * rnd.Float64()
		if a > 0 && float64(i+1)*m.Hz < fadeFrom*fs {
			lines = append(lines, Line{Order: i + 1, Amplitude: a, Phase: phase})
			sum += a * a / 2
		}
	}
	if sum == 0 {
		return
	}
	t, g := newTimbre(lines), math.Sqrt(power/sum)
	for from, to := range w.pieces(len(x)) {
		for i := from; i < to; i++ {
			x[i] += g * t.at(math.Mod(m.Hz*float64(i)/fs, 1), 0)
		}
	}
}

func (m Mains) check(which int) error {
	if !(m.Hz >= 10 && m.Hz <= 1000) {
		return fmt.Errorf("mains %d: hz is %v; give the supply's frequency, 50 or 60 in most places", which, m.Hz)
	}
	if !(math.Abs(m.LevelDB) <= 200) {
		return fmt.Errorf("mains %d: level_db is %v; give a number from -200 to 200", which, m.LevelDB)
	}
	for _, a := range m.Harmonics {
		if !(a >= 0 && finite(a)) {
			return fmt.Errorf("mains %d: harmonic amplitudes are zero or more", which)
		}
	}
	return nil
}
