package phase

import (
	"math"
	"slices"

	"rotorhum/tacho/internal/sound"
)

// locked is the state of the lines along the blocks.
type locked struct {
	src    *sound.Source
	blocks []Block
	theta  []float64        // correction to the phase of the course per block
	lines  [][][]complex128 // channel, harmonic, block
	noise  [][][]float64    // the same, with what else disturbs the lines
	// between is the noise between the lines alone
	between [][][]float64
	sum     []float64 // of the blocks' windows
	since   []float64 // their times from the first one
	used    []int     // harmonics used, per block
	memory  []float64 // for how long lines keep their phases, in seconds, per block
	first   int       // the lowest that stands out as clearly as any
	strong  int       // the highest that stands out of its noise in every block
	// factors are how much larger than by noise the variance of the common rate is,
	// by what the lines disagree, per block and span, and widened by what the
	// variances of the points were multiplied; apart is the variance, in rad²/s², by
	// which the rates of the lines surely differ more than by noise
	factors        [][len(spans)]float64
	widened, apart []float64
	// looks are the comparisons of the lines over each span
	looks [][]comparison
	// kept and all are the lines' power that agrees with the local mean, and
	// the whole of it, over the noise between them, per block
	kept, all []float64
	// clear is the same over all blocks, in which lines count the less the more something
	// passes them
	clear clearing
}

// newLocked lays out the lines of blocks.
func newLocked(src *sound.Source, blocks []Block, harmonics int) *locked {
	n, channels := len(blocks), len(blocks[0].Y)
	l := &locked{src: src, blocks: blocks, theta: make([]float64, n), used: make([]int, n), memory: make([]float64, n),
		lines: make([][][]complex128, channels), noise: make([][][]float64, channels),
		sum: make([]float64, n), since: make([]float64, n)}
	for i, b := range blocks {
		l.sum[i], l.since[i] = b.Sum, b.T-blocks[0].T
	}
	room, more := make([]complex128, channels*harmonics*n), make([]float64, channels*harmonics*n)
	for c := range channels {
		l.lines[c], l.noise[c] = make([][]complex128, harmonics), make([][]float64, harmonics)
		for m := range harmonics {
			l.lines[c][m], room = room[:n:n], room[n:]
			l.noise[c][m], more = more[:n:n], more[n:]
		}
		for i, b := range blocks {
			y := b.Y[c]
			for m := range harmonics {
				l.lines[c][m][i] = y[2*m+1]
			}
		}
	}
	l.between, l.looks = l.noise, make([][]comparison, len(spans))
	return l
}

// near returns the blocks, lo to hi-1, up to so many seconds away from block i.
func (l *locked) near(i int, seconds float64) (lo, hi int) {
	lo, hi = i, i+1
	for lo > 0 && l.blocks[lo-1].T >= l.blocks[i].T-seconds {
		lo--
	}
	for hi < len(l.blocks) && l.blocks[hi].T <= l.blocks[i].T+seconds {
		hi++
	}
	return lo, hi
}

// mostStrong bounds the lines for whose sake the memory is shortened.
const mostStrong = 8

// standing returns the lowest harmonic that holds a tenth of the excess of the
// clearest one over its noise, as the pulse-rate line itself can be missing, and
// the highest that has the power of its noise in a block on its own.
func (l *locked) standing(harmonics int) (first, strong int) {
	clear := make([]float64, harmonics)
	top := 0.0
	for m := range clear {
		for c := range l.lines {
			noise := l.noise[c][m]
			for i, v := range l.lines[c][m] {
				clear[m] += (real(v)*real(v) + imag(v)*imag(v)) / noise[i]
			}
		}
		clear[m] = clear[m]/float64(len(l.blocks)*len(l.lines)) - 1
		top = math.Max(top, clear[m])
	}
	first = 1
	for m, v := range slices.Backward(clear) {
		if v >= 0.1*top {
			first = m + 1
		}
		if v >= 1 && strong == 0 {
			strong = m + 1
		}
	}
	return first, max(first, min(strong, mostStrong))
}

// clearing sums up power that agrees and all of it.
type clearing struct{ kept, all float64 }

// coherence returns the share of the lines' power in the blocks from to end-1
// that agrees with what is expected of it, and that power over the noise.
func (l *locked) coherence(from, end int) (share, power float64) {
	kept := 0.0
	for i := from; i < end; i++ {
		kept += l.kept[i]
		power += l.all[i]
	}
	if power > 0 {
		share = kept / power
	}
	return share, power
}

// Where the lines are there but agree with nothing, the course is not theirs: a
// push or a brake that was smoothed away. It is then looked for anew, as if its
// relative error were lostError, from lostBlocks blocks on that keep less than
// lostShare of what the whole course keeps.
const lostError, lostShare, lostBlocks, lostPower = 0.015, 0.5, 3, 30

// lost raises the relative errors to expect where the lines are lost, and reports
// whether they are anywhere.
func (l *locked) lost(known []float64) (anywhere bool) {
	n := len(l.blocks)
	usual, _ := l.coherence(0, n)
	for i := 0; i+lostBlocks <= n; i++ {
		if c, power := l.coherence(i, i+lostBlocks); power > lostPower && c < lostShare*usual {
			for j := max(0, i-lostBlocks); j < min(n, i+2*lostBlocks); j++ {
				known[j] = math.Max(known[j], lostError)
			}
			anywhere = true
		}
	}
	return anywhere
}

// stillTurns is by how much, in turns over a block, a line may differ from where
// the course has it for the blocks to stay as they are: they then lose a
// thousandth of its power, and nothing of its phase.
const stillTurns = 0.02

// still reports whether the lines used move along the course for which they were
// demodulated, so that demodulating them anew would show nothing new.
func (l *locked) still(motion []Smooth, c Course) bool {
	for i, b := range l.blocks {
		if math.Abs(motion[i].Omega/(2*math.Pi)-c.At(b.T))*b.Length*float64(l.used[i]) > stillTurns {
			return false
		}
	}
	return true
}
