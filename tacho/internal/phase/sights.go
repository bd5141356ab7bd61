package phase

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// What turns each line in its own way, as it goes with the frequency, is told from the
// motion, which turns each by its order, by the phases of all of them over short whiles.

const (
	// cornerSpan is over how many seconds a line is looked at; cornerTurn over which change
	// of the rate's logarithm at most, and cornerPart over which part of all its change. After
	// cornerGap of these without the line its phase counts anew.
	cornerSpan, cornerTurn, cornerPart, cornerGap = 0.25, 0.05, 0.2, 4
	// mostWays bounds the unknown phases, for whose sake the cost grows with their square: of
	// lines that come and go those count that say most.
	mostWays = 150
)

// sight is one line over a while: its phase y along the course with the weight w, the
// inverse of its variance, and the logarithm of its frequency to the base of two.
type sight struct {
	y, w, order, octave float64
	line, span          int
}

// sights are those of all lines: what of their phases neither the motion, which turns
// each by its order, nor the unknown phase of each line explains, is to be explained.
type sights struct {
	all     []sight
	orders  []int       // of the lines
	spans   []float64   // what is known of the motion in each
	share   [][]float64 // by span and line: the weight that ties these together
	between mat.Cholesky
	y       []float64 // the phases, without motion and the lines' own
	chi     float64   // their sum of squares over their variances
	// scratch
	g, perSpan, perLine []float64
}

// see collects the lines, of a motion with the given rate; nil if they are too few.
func (l *locked) see(rate func(i int) float64) *sights {
	n := len(l.blocks)
	var from []int // the first block of each span, and the end
	var octaves []float64
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range n {
		lo, hi = math.Min(lo, rate(i)), math.Max(hi, rate(i))
	}
	most := math.Min(cornerTurn/math.Ln2, cornerPart*math.Log2(hi/lo))
	for i := 0; i < n; {
		from = append(from, i)
		first, sum := math.Log2(rate(i)), 0.0
		j := i
		for ; j < n && l.since[j]-l.since[i] < cornerSpan; j++ {
			now := math.Log2(rate(j))
			if math.Abs(now-first) > most {
				break
			}
			sum += now
		}
		octaves = append(octaves, sum/float64(j-i))
		i = j
	}
	from = append(from, n)
	s := &sights{spans: make([]float64, len(octaves))}
	turned, back := make([]complex128, n), make([]complex128, n)
	for i, v := range l.theta {
		sn, cs := math.Sincos(v)
		back[i] = complex(cs, -sn)
	}
	top := slices.Max(l.used)
	for c := range l.lines {
		for i := range turned {
			turned[i] = complex(l.sum[i], 0)
		}
		for m := 1; m <= top; m++ {
			line, floor := l.lines[c][m-1][:n], l.noise[c][m-1][:n]
			last, before := -cornerGap-1, 0.0
			for k, octave := range octaves {
				var sum complex128
				energy, noise, used := 0.0, 0.0, true
				for i := from[k]; i < from[k+1]; i++ {
					turned[i] *= back[i]
					sum += line[i] * turned[i]
					energy += l.sum[i] * l.sum[i]
					noise += floor[i]
					used = used && m <= l.used[i]
				}
				noise /= float64(from[k+1] - from[k])
				p := (real(sum)*real(sum) + imag(sum)*imag(sum)) / energy
				if !used || !(p >= 12*noise) { // a line that hardly stands out has no opinion
					continue
				}
				y := math.Atan2(imag(sum), real(sum))
				if k-last > cornerGap {
					s.orders = append(s.orders, m)
				} else {
					y += 2 * math.Pi * math.Round((before-y)/(2*math.Pi))
				}
				last, before = k, y
				// Hann blocks share noise
				s.all = append(s.all, sight{y, 2 * 0.75 * p / noise, float64(m), octave + math.Log2(float64(m)), len(s.orders) - 1, k})
			}
		}
	}
	s.keep(mostWays)
	if len(s.all) <= len(s.spans)+2*len(s.orders) || !s.tie() {
		return nil
	}
	s.y = make([]float64, len(s.all))
	for i, v := range s.all {
		s.y[i] = v.y
	}
	s.strip(s.y)
	for i, v := range s.all {
		s.chi += v.w * s.y[i] * s.y[i]
	}
	return s
}

// keep keeps the lines with the most weight, so many at most.
func (s *sights) keep(most int) {
	if len(s.orders) <= most {
		return
	}
	weights := make([]float64, len(s.orders))
	for _, v := range s.all {
		weights[v.line] += v.w * v.order * v.order
	}
	best := make([]int, len(weights))
	for i := range best {
		best[i] = i
	}
	slices.SortStableFunc(best, func(a, b int) int { return cmp.Compare(weights[b], weights[a]) })
	best = best[:most]
	slices.Sort(best)
	orders, now := s.orders, make(map[int]int, most)
	s.orders = nil
	for k, i := range best {
		s.orders, now[i] = append(s.orders, orders[i]), k
	}
	s.all = slices.DeleteFunc(s.all, func(v sight) bool { _, kept := now[v.line]; return !kept })
	for i := range s.all {
		s.all[i].line = now[s.all[i].line]
	}
}

// tie lays out the equations for the motion in each span and the phase of each line.
func (s *sights) tie() bool {
	n := len(s.orders)
	s.share = make([][]float64, len(s.spans))
	for k := range s.share {
		s.share[k] = make([]float64, n)
	}
	own := make([]float64, n)
	for _, v := range s.all {
		s.spans[v.span] += v.w * v.order * v.order
		s.share[v.span][v.line] += v.w * v.order
		own[v.line] += v.w
	}
	left := mat.NewSymDense(n, nil)
	for i := range n {
		// a phase for all lines by their orders is one of the motion as well
		left.SetSym(i, i, own[i]*(1+1e-9))
	}
	for k, row := range s.share {
		if s.spans[k] == 0 {
			continue
		}
		for i, a := range row {
			if a == 0 {
				continue
			}
			for j := i; j < n; j++ {
				left.SetSym(i, j, left.At(i, j)-a*row[j]/s.spans[k])
			}
		}
	}
	s.g, s.perSpan, s.perLine = make([]float64, len(s.all)), make([]float64, len(s.spans)), make([]float64, n)
	return s.between.Factorize(left)
}

// sums fills in the sums of g over the spans and, without what the motion explains, the lines.
func (s *sights) sums(g []float64) {
	clear(s.perSpan)
	clear(s.perLine)
	for i, v := range s.all {
		a := v.w * g[i]
		s.perSpan[v.span] += v.order * a
		s.perLine[v.line] += a
	}
	for k, a := range s.perSpan {
		if a == 0 {
			continue
		}
		for j, b := range s.share[k] {
			s.perLine[j] -= b * a / s.spans[k]
		}
	}
}

// solved returns the phases of the lines that explain most of the sums.
func (s *sights) solved() []float64 {
	var x mat.VecDense
	if err := s.between.SolveVecTo(&x, mat.NewVecDense(len(s.perLine), s.perLine)); err != nil {
		return make([]float64, len(s.perLine))
	}
	return x.RawVector().Data
}

// strip takes from g what the motion and the lines' own phases explain.
func (s *sights) strip(g []float64) {
	s.sums(g)
	x := s.solved()
	for k, row := range s.share {
		for j, b := range row {
			s.perSpan[k] -= b * x[j]
		}
	}
	for i, v := range s.all {
		g[i] -= x[v.line] + v.order*s.perSpan[v.span]/s.spans[v.span]
	}
}

// scale returns by how much the variances of the lines are larger than by their noise with
// what makes them likelier by gain.
func (s *sights) scale(gain float64) float64 {
	return math.Max(1, (s.chi-2*gain)/s.dof())
}

// dof returns how many phases there are more than unknowns.
func (s *sights) dof() float64 { return float64(len(s.all) - len(s.spans) - len(s.orders)) }
