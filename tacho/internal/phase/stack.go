package phase

import (
	"math"
	"sort"

	"rotorhum/tacho/internal/sound"
)

// Stack is the lines of a course as they sound: their complex amplitudes around
// every block, of those that stand out there.
type Stack struct {
	course Course
	rate   float64   // samples per second
	turns  []float64 // of the course before every knot
	at     []float64 // the middles of the blocks, seconds
	amp    [][][]complex128
	every  int       // the lines of the pulses
	power  []float64 // mean of every line, all channels; 0 for those that are not there
	shared []bool    // lines that lie near those of others for most of the time
}

// apart is how near, in hertz, two lines may come to each other for both to be
// told: nearer ones pass for one that wavers.
const apart = 3.0

// near reports whether a line of the stack, or a place for one of the pulses' below
// its highest, is so near to f at time t that a line there cannot be told from its own.
func (s *Stack) near(f, t float64) bool {
	c := s.course
	if t < c.T[0] || t > c.T[len(c.T)-1] {
		return false
	}
	rate := c.At(t)
	k := int(math.Round(f / rate))
	if k < 1 || k > len(s.power) || math.Abs(f-float64(k)*rate) >= apart {
		return false
	}
	return s.lies(k)
}

// lies reports whether there is a line k of the stack, or a place for one of the pulses'.
func (s *Stack) lies(k int) bool {
	return s.power[k-1] > 0 || k%s.every == 0 && k <= places*s.every
}

// places is the number of the pulses' lines, or places for them, that count.
const places = 20

// Lines calls tell with the range in which each line of the stack, or place for one of
// the pulses' below its highest, lies between two times, and around it what cannot be told
// apart from it or is nearer than within, all in units of a rate.
func (s *Stack) Lines(rate func(t float64) float64, from, to, within float64, tell func(lo, hi float64)) {
	c := s.course
	from, to = math.Max(from, c.T[0]), math.Min(to, c.T[len(c.T)-1])
	if from > to {
		return
	}
	// what moves on by more than the width of a line, in units of within, passes for none
	const looks, width = 3, 4
	lo, hi := math.Inf(1), 0.0
	for i := range looks {
		t := from + (to-from)*float64(i)/(looks-1)
		unit := rate(t)
		lo, hi = math.Min(lo, c.At(t)/unit), math.Max(hi, c.At(t)/unit)
		within = math.Max(within, apart/unit)
	}
	for k := 1; k <= len(s.power); k++ {
		if s.lies(k) && float64(k)*(hi-lo) < width*within {
			tell(float64(k)*lo-within, float64(k)*hi+within)
		}
	}
}

// near reports the same of several stacks.
func near(beside []*Stack, f, t float64) bool {
	for _, s := range beside {
		if s.near(f, t) {
			return true
		}
	}
	return false
}

// deafen leaves what is near the lines of others without a say.
func (l *locked) deafen(c Course, beside []*Stack) {
	if len(beside) == 0 {
		return
	}
	for i, b := range l.blocks {
		rate := c.At(b.T)
		for m := range l.noise[0] {
			if near(beside, float64(m+1)*rate, b.T) {
				for ch := range l.noise {
					l.noise[ch][m][i] *= unheard
				}
			}
		}
	}
}

// unheard is by how much the noise of a line that has no say is raised.
const unheard = 1e8

// NewStack measures up to harmonics lines along a course, of which every every-th is
// of the pulses: the amplitude of each as the mean over memory seconds around, of
// those that stand out of their noise and do not lie near the lines of others. It
// returns nil for a course too brief.
func NewStack(src *sound.Source, c Course, harmonics, every int, memory float64, beside []*Stack) (*Stack, error) {
	top := 0.0
	for _, f := range c.Rate {
		top = math.Max(top, f)
	}
	if harmonics = min(harmonics, int(0.45*src.Rate/top)); harmonics < 1 {
		return nil, nil
	}
	blocks, err := Demodulate(src, c, harmonics, blockCycles, shortestBlock)
	if err != nil || len(blocks) < fewestBlocks {
		return nil, err
	}
	l := newLocked(src, blocks, harmonics)
	if err := l.measureNoise(harmonics); err != nil {
		return nil, err
	}
	s := &Stack{course: c, rate: src.Rate, every: every, turns: make([]float64, len(c.T)), at: make([]float64, len(blocks)),
		power: make([]float64, harmonics), shared: make([]bool, harmonics)}
	for k := 1; k < len(c.T); k++ {
		s.turns[k] = s.turns[k-1] + (c.Rate[k]+c.Rate[k-1])/2*(c.T[k]-c.T[k-1])
	}
	for i, b := range blocks {
		s.at[i], l.memory[i] = b.T, math.Max(memory, 1.5*b.Length)
	}
	// the phase of the blocks begins at the first sample of the course
	begin := s.turn(math.Ceil(c.T[0]*src.Rate) / src.Rate)
	around, alone := l.within(), make([]bool, len(blocks))
	for ch := range l.lines {
		lines := make([][]complex128, harmonics)
		for m := range lines {
			told := 0 // blocks in which the line lies apart from those of others
			for i, b := range blocks {
				if alone[i] = !near(beside, float64(m+1)*c.At(b.T), b.T); alone[i] {
					told++
				}
			}
			s.shared[m] = 2*told < len(blocks)
			if s.shared[m] || !l.stands(ch, m, places*every) {
				continue
			}
			a := make([]complex128, len(blocks))
			l.amplitudes(a, l.lines[ch][m], l.noise[ch][m], around)
			sin, cos := math.Sincos(-2 * math.Pi * float64(m+1) * begin)
			power := 0.0
			for i := range blocks {
				if !alone[i] {
					a[i] = 0
					continue
				}
				// the course's own phase was counted from its first knot
				a[i] *= complex(2/l.sum[i], 0) * complex(cos, sin)
				power += (real(a[i])*real(a[i]) + imag(a[i])*imag(a[i])) / 2
			}
			lines[m] = a
			s.power[m] += power / float64(told)
		}
		s.amp = append(s.amp, lines)
	}
	s.trim()
	return s, nil
}

// stands reports whether a line stands out of its noise along the course; one beyond the
// usual number in most blocks, or what else passes its places would be taken for it.
func (l *locked) stands(ch, m, usual int) bool {
	const surely, clearly = 5, 2 // standard deviations of the mean of that many blocks, and units of the noise
	sum, clear := 0.0, 0
	for i, v := range l.lines[ch][m] {
		p := (real(v)*real(v) + imag(v)*imag(v)) / l.noise[ch][m][i]
		if p > clearly {
			clear++
		}
		sum += math.Min(most, p) - 1
	}
	n := float64(len(l.lines[ch][m]))
	return sum > surely*math.Sqrt(4.0/3*n) && (m < usual || 2*clear > len(l.lines[ch][m]))
}

// most is what one block may say of a line at most, in units of its noise.
const most = 100

// trim leaves out the places beyond the last line, or the last of which others'
// lines leave nothing to be known.
func (s *Stack) trim() {
	top := 0
	for m, p := range s.power {
		if s.lies(m+1) && (p > 0 || s.shared[m]) {
			top = m + 1
		}
	}
	s.power, s.shared = s.power[:top], s.shared[:top]
	for ch := range s.amp {
		s.amp[ch] = s.amp[ch][:top]
	}
}

// turn returns the phase of the course at t, which is inside, in turns.
func (s *Stack) turn(t float64) float64 {
	c := s.course
	k := min(max(0, sort.SearchFloat64s(c.T, t)-1), len(c.T)-2)
	f := c.rateAt(t, k)
	return s.turns[k] + (c.Rate[k]+f)/2*(t-c.T[k])
}

// Subtract takes the lines out of x, which begins at frame start.
func (s *Stack) Subtract(x [][]float64, start int) {
	c := s.course
	end := len(c.T) - 1
	lo := max(start, int(math.Ceil(c.T[0]*s.rate)))
	hi := min(start+len(x[0]), int(c.T[end]*s.rate)+1)
	knot, block := 0, 0
	for i := lo; i < hi; i++ {
		t := float64(i) / s.rate
		for knot+2 < len(c.T) && c.T[knot+1] < t {
			knot++
		}
		for block+2 < len(s.at) && s.at[block+1] < t {
			block++
		}
		dt := t - c.T[knot]
		turns := s.turns[knot] + dt*(c.Rate[knot]+c.rateAt(t, knot))/2
		sin, cos := math.Sincos(2 * math.Pi * (turns - math.Floor(turns)))
		one := complex(cos, sin)
		f := (t - s.at[block]) / (s.at[block+1] - s.at[block])
		f = math.Max(0, math.Min(1, f))
		for ch := range x {
			z, sum := one, 0.0
			for _, a := range s.amp[ch] {
				if a != nil {
					p, q := a[block], a[block+1]
					re := real(p) + f*(real(q)-real(p))
					im := imag(p) + f*(imag(q)-imag(p))
					sum += re*real(z) - im*imag(z)
				}
				z *= one
			}
			x[ch][i-start] -= sum
		}
	}
}

// Power returns the mean power of the lines, in squares of samples, over all
// channels. One that lies near a line of another is taken to be as strong as its
// neighbours.
func (s *Stack) Power() float64 {
	sum := 0.0
	for m, p := range s.power {
		if !s.shared[m] {
			sum += p
			continue
		}
		around, n := 0.0, 0.0
		for _, k := range [...]int{m - s.every, m + s.every} {
			if k >= 0 && k < len(s.power) && !s.shared[k] {
				around += s.power[k]
				n++
			}
		}
		sum += around / math.Max(1, n)
	}
	return sum
}
