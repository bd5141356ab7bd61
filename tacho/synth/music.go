package synth

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// Music is a tune of steady notes that follow each other by steps, in equal
// temperament on A = 440 Hz (ISO 16): the sound most like a rotor that is none.
type Music struct {
	// LevelDB is the mean power of the tune over that of the first rotor's lines.
	LevelDB float64 `json:"level_db"`
	// Parts is how many notes sound at once; 0 means 1.
	Parts int `json:"parts,omitempty"`
	// Tempo is the number of beats per minute; 0 means 100.
	Tempo float64 `json:"tempo_per_min,omitempty"`
	// Low, in hertz, is the lowest note; 0 means 110 Hz. The tune spans two octaves.
	Low float64 `json:"low_hz,omitempty"`
	// Harmonics are relative amplitudes; none means six, falling as 1/m.
	Harmonics []float64 `json:"harmonics,omitempty"`
	// Plucked notes die away; others are held like an organ's.
	Plucked bool `json:"plucked,omitempty"`
}

// pentatonic are the steps of the tune's scale, in semitones within an octave.
var pentatonic = [...]int{0, 2, 4, 7, 9}

// render returns n samples of the tune with mean power 1.
func (m Music) render(w *work, src *rand.Rand, fs float64, n int) []float64 {
	x := make([]float64, n)
	amps := m.Harmonics
	if len(amps) == 0 {
		amps = []float64{1, 1.0 / 2, 1.0 / 3, 1.0 / 4, 1.0 / 5, 1.0 / 6}
	}
	low, tempo := m.Low, m.Tempo
	if low == 0 {
		low = 110
	}
	if tempo == 0 {
		tempo = 100
	}
	base := math.Ceil(12 * math.Log2(low/440)) // nearest note of the scale, from A
	lengths := [...]float64{0.5, 0.5, 1, 1, 1, 2}
	for range max(1, m.Parts) {
		degree := src.IntN(2 * len(pentatonic))
		for at := 0; at < n; {
			last := int(math.Round(60 / tempo * lengths[src.IntN(len(lengths))] * fs))
			step := pentatonic[degree%len(pentatonic)] + 12*(degree/len(pentatonic))
			f := 440 * math.Pow(2, (base+float64(step))/12)
			var lines []Line
			for i, a := range amps {
				lines = append(lines, Line{Order: i + 1, Amplitude: a, Phase: 2 * math.Pi * src.Float64()})
			}
			note(w, x[at:min(n, at+last)], newTimbre(lines), f, fs, m.Plucked)
			at += max(1, last)
			degree = min(max(0, degree+src.IntN(5)-2), 2*len(pentatonic)-1)
		}
	}
	return unitPower(x)
}

// note adds one note that fills x, with soft ends of 15 ms.
func note(w *work, x []float64, t timbre, f, fs float64, plucked bool) {
	soft := math.Min(0.015*fs, float64(len(x))/3)
	for from, to := range w.pieces(len(x)) {
		for i := from; i < to; i++ {
			edge := math.Min(float64(i), float64(len(x)-i))
			g := 1.0
			if edge < soft {
				g = 0.5 - 0.5*math.Cos(math.Pi*edge/soft)
			}
			if plucked {
				g *= math.Exp(-float64(i) / (0.35 * fs))
			}
			x[i] += g * t.at(math.Mod(f*float64(i)/fs, 1), f/fs)
		}
	}
}

// unitPower scales x, in place, to mean power 1; silence stays silent.
func unitPower(x []float64) []float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	if sum > 0 {
		g := math.Sqrt(float64(len(x)) / sum)
		for i := range x {
			x[i] *= g
		}
	}
	return x
}

func (m Music) check(which int) error {
	if !(math.Abs(m.LevelDB) <= 200) || m.Parts < 0 || m.Parts > 32 || !(m.Tempo >= 0 && m.Tempo <= 1000) || !(m.Low >= 0 && m.Low <= 5000) {
		return fmt.Errorf("music %d: give level_db from -200 to 200, up to 32 parts, a tempo up to 1000 per minute and a lowest note up to 5000 Hz", which)
	}
	for _, a := range m.Harmonics {
		if !(a >= 0 && finite(a)) {
			return fmt.Errorf("music %d: harmonic amplitudes are zero or more", which)
		}
	}
	return nil
}
