package synth

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// Clicks are short knocks at random times: steps, cups, a gate.
type Clicks struct {
	// PerSecond is how many there are on average.
	PerSecond float64 `json:"per_second"`
	// LevelDB is the peak of a usual click, squared, over the power of the first
	// rotor's lines.
	LevelDB float64 `json:"level_db"`
}

// addTo adds clicks of usual peak amplitude peak to x.
func (c Clicks) addTo(w *work, x []float64, peak, fs float64, src *rand.Rand) {
	if c.PerSecond == 0 {
		return
	}
	for at := src.ExpFloat64() / c.PerSecond; at*fs < float64(len(x)) && w.err() == nil; at += src.ExpFloat64() / c.PerSecond {
		f := math.Min(0.4*fs, 600*math.Pow(8, src.Float64())) // 0.6 to 4.8 kHz
		decay := 0.001 * math.Pow(6, src.Float64())           // 1 to 6 ms
		size := peak * math.Exp(0.5*src.NormFloat64())
		first := int(math.Ceil(at * fs))
		for i := first; i < len(x) && float64(i-first) < 8*decay*fs; i++ {
			t := float64(i)/fs - at
			x[i] += size * math.Exp(-t/decay) * math.Sin(2*math.Pi*f*t)
		}
	}
}

func (c Clicks) check(which int) error {
	if !(c.PerSecond >= 0 && c.PerSecond <= 1000) || !(math.Abs(c.LevelDB) <= 200) {
		return fmt.Errorf("clicks %d: give per_second from 0 to 1000 and level_db from -200 to 200", which)
	}
	return nil
}
