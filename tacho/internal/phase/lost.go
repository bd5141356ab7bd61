package phase

import (
	"math"
	"sort"

	"rotorhum/tacho/internal/rank"
)

// straighten lays the course anew where the lines are lost amid it, as around a kink
// that the frames have rounded: the motion goes on from either side as it does there,
// until both meet. Phases that are found along a course which misses the lines by half
// a turn from block to block slip by whole turns, and keep it where it is.
func (f *follower) straighten() {
	b, m := f.r.Blocks, f.r.Motion
	n := len(b)
	for i := 0; i < n; {
		j := i
		for j < n && f.known[j] >= lostError {
			j++
		}
		// clear of what was lost
		first, last := i-lostBlocks, j+lostBlocks-1
		if j > i && first >= 0 && last < n {
			f.now = f.now.bent(b[first].T, m[first], b[last].T, m[last])
		}
		i = j + 1
	}
}

// bent returns the course with straight lines between two moments, from the motions a
// and b at either on to where they meet; the course as it is if they do not.
func (c Course) bent(from float64, a Smooth, to float64, b Smooth) Course {
	way := (b.Omega - b.Alpha*(to-from) - a.Omega) / (a.Alpha - b.Alpha)
	if !(way > 0 && way < to-from) {
		return c
	}
	out := Course{}
	knot := func(t, rate float64) { out.T, out.Rate = append(out.T, t), append(out.Rate, rate) }
	after := 0
	for ; after < len(c.T) && c.T[after] < from; after++ {
		knot(c.T[after], c.Rate[after])
	}
	knot(from, rateAt(a, 0))
	knot(from+way, rateAt(a, way))
	knot(to, rateAt(b, 0))
	for ; after < len(c.T); after++ {
		if c.T[after] > to {
			knot(c.T[after], c.Rate[after])
		}
	}
	return out
}

// tells is the share of what one block tells that must be told from an end of a
// course on for it to be heard.
const tells = 0.03

// openEnded raises the intensities q of the steps to the points, before the first phase
// that is heard and after the last one, to at least that for the whole course: nothing
// there tells of calm.
func openEnded(p []Point, q []float64, whole float64) {
	n := len(p)
	told := make([]float64, n)
	var heard []float64
	for i := range p {
		if told[i] = 1 / p[i].Var; told[i] > 0 {
			heard = append(heard, told[i])
		}
	}
	if len(heard) == 0 {
		return
	}
	least := tells * rank.Select(heard, len(heard)/2)
	for i, sum := 1, told[0]; i < n && sum < least; i++ {
		q[i] = math.Max(q[i], whole)
		sum += told[i]
	}
	for i, sum := n-1, told[n-1]; i > 0 && sum < least; i-- {
		q[i] = math.Max(q[i], whole)
		sum += told[i-1]
	}
}

// agreeing returns the times of the first and the last block between which the lines
// agree with the motion: at an end they may be there and go elsewhere, as before a push
// was over, while the motion goes on as it did later.
func (l *locked) agreeing() (from, to float64) {
	n := len(l.blocks)
	usual, _ := l.coherence(0, n)
	ends := [2]int{0, n - 1}
	for k, step := range [...]int{1, -1} {
		lost := false
		for i := ends[k]; i >= 0 && i < n; i += step {
			a, b := i, i+step*(lostBlocks-1)
			if min(a, b) < 0 || max(a, b) >= n {
				break
			}
			share, power := l.coherence(min(a, b), max(a, b)+1)
			if power > lostPower && share >= lostShare*usual {
				if lost {
					ends[k] = i
				}
				break
			}
			lost = lost || power > lostPower
		}
	}
	return l.blocks[ends[0]].T, l.blocks[ends[1]].T
}

// Agreeing returns the result without ends at which the lines disagree with it.
func (r *Result) Agreeing() *Result {
	b := r.Blocks
	from := sort.Search(len(b), func(i int) bool { return b[i].T >= r.from })
	end := sort.Search(len(b), func(i int) bool { return b[i].T > r.to })
	if from == 0 && end == len(b) {
		return r
	}
	if c := r.cut(from, end); c != nil {
		return c
	}
	return r
}
