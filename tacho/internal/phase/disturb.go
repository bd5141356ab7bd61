package phase

import (
	"math"
	"slices"

	"rotorhum/tacho/internal/rank"
)

const (
	// usualSeconds is how far around a block the mean amplitude of a line is taken,
	// in seconds, and usualClear the power over the noise from which on it tells
	// anything of the gain that all lines have in common.
	usualSeconds, usualClear = 0.35, 4
	// swells is by how much of its amplitude a line may swell on its own.
	swells = 0.1
	// disturbedReach is the number of blocks before and after one over which the
	// noise is told from the amplitudes; up to disturbedBy times what lies between
	// the lines is taken for chance.
	disturbedReach, disturbedBy = 8, 2
)

// disturb raises the noise of lines whose amplitudes vary by more than it explains.
// A voice that passes a line, or an echo that beats with it, does to the amplitude
// what it does to the phase, and shows there even if there is no other line to
// compare with, while a change of speed leaves amplitudes as they are. What all
// lines have in common is a gain that changes.
func (l *locked) disturb() {
	n := len(l.blocks)
	lo, hi := make([]int, n), make([]int, n)
	for i := range l.blocks {
		lo[i], hi[i] = l.near(i, usualSeconds)
	}
	// of every line, its mean amplitude around each block and the one there over that
	var usual, now [][]float64
	sum := make([]float64, n+1)
	for c := range l.lines {
		for _, line := range l.lines[c] {
			u, a := make([]float64, n), make([]float64, n)
			for i, v := range line {
				a[i] = math.Hypot(real(v), imag(v)) / l.sum[i]
				sum[i+1] = sum[i] + a[i]
			}
			for i := range u {
				u[i] = (sum[hi[i]]-sum[lo[i]])/float64(hi[i]-lo[i]) + 1e-30
				a[i] /= u[i]
				u[i] *= l.sum[i]
			}
			usual, now = append(usual, u), append(now, a)
		}
	}
	gain := l.commonGain(usual, now)
	l.between = make([][][]float64, len(l.noise))
	for c := range l.noise {
		l.between[c] = make([][]float64, len(l.noise[c]))
		for m, noise := range l.noise[c] {
			between, k := slices.Clone(noise), c*len(l.noise[c])+m
			l.between[c][m] = between
			for i, v := range now[k] {
				d := v - gain[i]
				sum[i+1] = sum[i] + math.Max(0, d*d-swells*swells)*usual[k][i]*usual[k][i]
			}
			for i := range noise {
				a, b := max(0, i-disturbedReach), min(n, i+disturbedReach+1)
				// neighbouring Hann blocks share noise, of which half is along the line;
				// four degrees of freedom stand for the belief that all is well
				dof := 0.75 * float64(b-a)
				more := (4 + 1.5*(sum[b]-sum[a])/between[i]) / (4 + dof)
				noise[i] = between[i] * math.Max(1, more/disturbedBy)
			}
		}
	}
}

// commonGain returns, for each block, the middle of what the lines that stand out
// have there over what is usual, 1 where too few do.
func (l *locked) commonGain(usual, now [][]float64) []float64 {
	const fewest = 3
	gain := make([]float64, len(l.blocks))
	var all []float64
	for i := range gain {
		all, gain[i] = all[:0], 1
		for k := range now {
			noise := l.noise[k/len(l.noise[0])][k%len(l.noise[0])][i]
			if usual[k][i]*usual[k][i] > usualClear*noise {
				all = append(all, now[k][i])
			}
		}
		if len(all) >= fewest {
			gain[i] = rank.Select(all, len(all)/2)
		}
	}
	return gain
}
