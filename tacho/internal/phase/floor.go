package phase

import (
	"math"
	"slices"

	"rotorhum/tacho/internal/rank"
)

// quietest bounds the noise from below, as a share of the loudest line's power:
// 16-bit samples are no cleaner than that, and a synthetic sound without any
// noise would else be known with no error at all.
const quietest = 1e-8

// gap is the power of a block, as a share of its loudest neighbour's, below which
// the recording has a gap there that tells nothing of the noise.
const gap = 1e-6

// measureNoise estimates the noise around each harmonic from the half orders
// beside it over about a second.
func (l *locked) measureNoise(harmonics int) error {
	n := len(l.blocks)
	// per channel and harmonic, the median over time of the power between lines
	const half = 8
	buf := make([]float32, 0, 2*(2*half+1))
	between := make([]float32, n*(harmonics+1)) // power, by block and odd half order
	loud := make([]float64, n)
	guess := make([]float32, harmonics+1) // by harmonic, the median before
	var near []int                        // blocks around, without gaps
	for c := range l.lines {
		for i, b := range l.blocks {
			loud[i] = loudest(b.Y[c])
			row := between[i*(harmonics+1):][:harmonics+1]
			for m := range row {
				v := b.Y[c][2*m]
				row[m] = float32(real(v)*real(v) + imag(v)*imag(v))
			}
		}
		for i := 0; i < n; i += half / 2 {
			if err := l.src.Stopped(); err != nil {
				return err
			}
			lo, hi := max(0, i-half), min(n, i+half+1)
			top := slices.Max(loud[lo:hi])
			near = near[:0]
			for j := lo; j < hi; j++ {
				if loud[j] >= gap*top {
					near = append(near, j*(harmonics+1))
				}
			}
			for m := 1; m <= harmonics; m++ {
				buf = buf[:0]
				for _, j := range near {
					buf = append(buf, between[j+m-1], between[j+m])
				}
				v := 0.0
				if len(buf) > 0 {
					guess[m] = rank.Near(buf, len(buf)/2, guess[m], 12)
					// mean of exponential power from its median, and never less than
					// rounding would leave of the loudest line
					v = math.Max(float64(guess[m])/math.Ln2, quietest*top)
				}
				noise := l.noise[c][m-1]
				for j := i; j < min(n, i+half/2); j++ {
					noise[j] = math.Max(v, quietest*loud[j]) + 1e-30
				}
			}
		}
	}
	return nil
}

// loudest returns the largest power among demodulated orders.
func loudest(y []complex128) float64 {
	top := 0.0
	for _, v := range y {
		top = math.Max(top, real(v)*real(v)+imag(v)*imag(v))
	}
	return top
}
