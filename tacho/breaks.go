package tacho

import (
	"math"
	"slices"

	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/rank"
	"rotorhum/tacho/internal/sound"
)

// A thing with inertia sounds on. While its rate holds, its lines neither set in
// nor break off nor take each other's places, whatever else sounds with them. A
// note does the one at its beginning and the other at its end, and a rate that
// several notes have in common does the last with every change of harmony.
const (
	// breakStep is the time between the moments that are looked at, breakReach the
	// least time before and after a moment over which lines are compared, and
	// breakPause the least time between two breaks, all in seconds.
	breakStep, breakReach, breakPause = 0.02, 0.08, 0.15
	// lineShare is the share of the power, of all lines, that must go on through
	// a moment: be there before and after, and be as strong as it is for most of
	// the time around.
	lineShare = 0.35
	// holds is the change in hertz, of the frequency where most of the power lies,
	// up to which a rate holds: a hall that rings for 2 s brings out other lines with
	// every hertz.
	holds = 0.5
	// clearLine and clearMost are the power over the noise beside it from which
	// on a line counts, at a moment and for most of the time.
	clearLine, clearMost = 6.0, 3.0
	// usualRank is the rank of the power that a line has for most of the time, among
	// all its powers within usualReach seconds: below the middle, as a talker adds
	// to it for half of the time. Rates up to usualRates times higher or lower count, as a
	// rotor is louder the faster it turns.
	usualRank, usualReach, usualRates = 0.4, 1.0, 1.25
	// loudest is the power of the speed by which a rotor's sound may grow.
	loudest = 4.0
	// lost is the power, as a share of the usual one, below which the recorder has
	// lost the sound.
	lost = 1e-4
)

// continuity is how the lines and the rate of a fit go on: how often the lines break
// off and the rate steps, for how many seconds the rate holds, and by how many decibels
// their loudness swells.
type continuity struct {
	fit           *phase.Result
	breaks, steps int
	held, swell   float64
}

// continuity looks at the stretch as it is now, once.
func (s *stretch) continuity(src *sound.Source) (continuity, error) {
	if s.went.fit != s.fit {
		went := continuity{fit: s.fit, steps: s.steps()}
		// of a long course only mean strengths are kept: it is no note
		if !slices.ContainsFunc(s.fit.Blocks, func(b phase.Block) bool { return b.Y == nil }) {
			gap, err := s.gaps(src)
			if err != nil {
				return continuity{}, err
			}
			sums := s.sumLines()
			went.breaks, went.held = sums.breaks(gap)
			if voiceShare(s.agility()) > mostlyNotes {
				went.swell = sums.swell(gap)
			}
		}
		s.went = went
	}
	return s.went, nil
}

// mostlyNotes is the share of voices among what is as agile up to which none is looked
// for.
const mostlyNotes = 0.01

// breaks counts the moments at which the lines of a stretch break off, and returns
// for how long, in seconds, its rate holds so that breaks could be noticed.
func (sums *lineSums) breaks(gap func(from, to float64) bool) (n int, held float64) {
	b := sums.s.fit.Blocks
	from, to := sums.s.times()
	at, last := 0, math.Inf(-1)
	for t := from; t < to; t += breakStep {
		for at+1 < len(b) && b[at+1].T <= t {
			at++
		}
		skip := b[at].Length/2 + 0.005
		reach := math.Max(breakReach, b[at].Length)
		if gap(t-skip-reach-b[at].Length/2, t+skip+reach+b[at].Length/2) {
			continue
		}
		before, after := sums.mean(t-skip-reach, t-skip), sums.mean(t+skip, t+skip+reach)
		if before == nil || after == nil || !before.holdsTo(after) {
			continue
		}
		held += breakStep
		if t > last+breakPause && math.Max(before.common(after), before.goingOn(after, sums.usual(at))) < lineShare {
			n++
			last = t
		}
	}
	return n, held
}

// lineSums are running sums over the blocks of a stretch.
type lineSums struct {
	s     *stretch
	lines int
	// power of every line and of the noise beside it, and the rate
	line, noise []float64 // lines to a block
	omega       []float64
	// what each line has for most of the time, at every so many blocks
	most [][]float64
	mark []int
}

func (s *stretch) sumLines() *lineSums {
	b, m := s.fit.Blocks, s.fit.Motion
	l := &lineSums{s: s, lines: len(s.fit.Lines), omega: make([]float64, len(b)+1)}
	l.line = make([]float64, (len(b)+1)*l.lines)
	l.noise = make([]float64, (len(b)+1)*l.lines)
	for i := range b {
		l.omega[i+1] = l.omega[i] + m[i].Omega
		here, next := i*l.lines, (i+1)*l.lines
		copy(l.line[next:], l.line[here:next])
		copy(l.noise[next:], l.noise[here:next])
		scale := 4 / (b[i].Sum * b[i].Sum)
		for _, y := range b[i].Y {
			power := func(h int) float64 { return scale * (real(y[h])*real(y[h]) + imag(y[h])*imag(y[h])) }
			for k := range l.lines {
				l.line[next+k] += power(2*k + 1)
				l.noise[next+k] += (power(2*k) + power(2*k+2)) / 2
			}
		}
	}
	const every = 0.25 // seconds
	var buf []float64
	for i := range b {
		if i > 0 && b[i].T < b[l.mark[len(l.mark)-1]].T+every {
			continue
		}
		first, end := i, i
		for first > 0 && b[first-1].T > b[i].T-usualReach {
			first--
		}
		for end < len(b) && b[end].T < b[i].T+usualReach {
			end++
		}
		most := make([]float64, l.lines)
		for k := range most {
			buf = buf[:0]
			for j := first; j < end; j++ {
				if r := m[j].Omega / m[i].Omega; r < usualRates && r > 1/usualRates {
					buf = append(buf, l.excess(j, k))
				}
			}
			most[k] = math.Max(0, rank.Select(buf, int(usualRank*float64(len(buf)))))
		}
		l.mark, l.most = append(l.mark, i), append(l.most, most)
	}
	return l
}

// excess is the power of line k in block i over the noise beside it.
func (l *lineSums) excess(i, k int) float64 {
	here, next := i*l.lines+k, (i+1)*l.lines+k
	return l.line[next] - l.line[here] - (l.noise[next] - l.noise[here])
}

// usual returns what each line has for most of the time around block i.
func (l *lineSums) usual(i int) []float64 {
	k := len(l.mark) - 1
	for l.mark[k] > i {
		k--
	}
	return l.most[k]
}

// lineMeans are the means over some blocks.
type lineMeans struct {
	excess, noise []float64 // of every line: power over the noise beside it, and that noise
	rate          float64   // Hz
}

// mean returns the means of the blocks from..to, nil if there are fewer than two.
func (l *lineSums) mean(from, to float64) *lineMeans {
	b := l.s.fit.Blocks
	i, j := blockAfter(b, from), blockAfter(b, to)
	if j-i < 2 {
		return nil
	}
	n := float64(j - i)
	m := &lineMeans{make([]float64, l.lines), make([]float64, l.lines), (l.omega[j] - l.omega[i]) / n / (2 * math.Pi)}
	for k := range l.lines {
		m.noise[k] = (l.noise[j*l.lines+k] - l.noise[i*l.lines+k]) / n
		m.excess[k] = math.Max(0, (l.line[j*l.lines+k]-l.line[i*l.lines+k])/n-m.noise[k])
	}
	return m
}

// holdsTo reports whether the rate holds from a to b.
func (a *lineMeans) holdsTo(b *lineMeans) bool {
	middle, power := 0.0, 0.0
	for k := range a.excess {
		p := a.excess[k] + b.excess[k]
		middle += float64(k+1) * p
		power += p
	}
	return power > 0 && math.Abs(b.rate-a.rate)*middle < holds*power
}

// common returns the share of the power of the lines that is there both in a and
// in b, if the gain changed between them as it may have.
func (a *lineMeans) common(b *lineMeans) float64 {
	share := func(gain float64) float64 {
		both, all := 0.0, 0.0
		for k := range a.excess {
			x, y, noise := a.excess[k]*gain, b.excess[k], (a.noise[k]*gain+b.noise[k])/2
			if math.Max(x, y) > clearLine*noise {
				both += math.Min(x, y) + 0.3*noise
				all += math.Max(x, y) + 0.3*noise
			}
		}
		if all == 0 {
			return 1
		}
		return both / all
	}
	best := share(1)
	if best > lineShare {
		return best
	}
	// a recorder that turns its gain changes the noise as well
	var change []float64
	for k := range a.noise {
		change = append(change, math.Log((b.noise[k]+1e-30)/(a.noise[k]+1e-30)))
	}
	turned := rank.Select(change, len(change)/2)
	grown := loudest * math.Abs(math.Log(b.rate/a.rate))
	lo, hi := math.Min(0, turned)-grown, math.Max(0, turned)+grown
	const steps = 20
	for i := 0; i <= steps; i++ {
		best = math.Max(best, share(math.Exp(lo+(hi-lo)*float64(i)/steps)))
	}
	return best
}

// goingOn returns the share of the power that the lines have for most of the time
// which they have both in a and in b: what a talker adds is no more missed
// than it was heard.
func (a *lineMeans) goingOn(b *lineMeans, most []float64) float64 {
	both, all := 0.0, 0.0
	for k, p := range most {
		if noise := (a.noise[k] + b.noise[k]) / 2; p > clearMost*noise {
			both += math.Min(p, math.Min(a.excess[k], b.excess[k])+0.3*noise)
			all += p
		}
	}
	if all == 0 {
		return 1
	}
	return both / all
}

// gaps returns a function that tells whether the recorder lost the sound between
// two moments of the stretch.
func (s *stretch) gaps(src *sound.Source) (func(from, to float64) bool, error) {
	const piece, atOnce = 0.004, 1024 // seconds, pieces
	start, end := s.times()
	n := max(8, int(piece*src.Rate))
	first, count := int(start*src.Rate), int((end-start)*src.Rate)/n
	power := make([]float64, 0, count)
	var x [][]float64
	var err error
	for k := 0; k < count; k += atOnce {
		if err = src.Stopped(); err != nil {
			return nil, err
		}
		pieces := min(atOnce, count-k)
		if x, err = src.Block(x, first+k*n, pieces*n); err != nil {
			return nil, err
		}
		for j := range pieces {
			sum := 0.0
			for _, ch := range x {
				for i := j * n; i < (j+1)*n-1; i++ {
					v := ch[i+1] - ch[i] // a sample that is held is silence too
					sum += v * v
				}
			}
			power = append(power, sum)
		}
	}
	least := 0.0
	if count > 0 {
		least = lost * rank.Select(append([]float64(nil), power...), count/2)
	}
	step := float64(n) / src.Rate
	return func(from, to float64) bool {
		for k := max(0, int((from-start)/step)); k < len(power) && start+float64(k)*step < to; k++ {
			if power[k] < least {
				return true
			}
		}
		return false
	}, nil
}
