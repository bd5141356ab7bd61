package sound

import (
	"cmp"
	"math"
	"sync"

	"rotorhum/tacho/internal/rank"
	"rotorhum/tacho/internal/transform"
	"rotorhum/tacho/internal/work"
)

// medians is the median of the power spectra of pieces spread over a recording: a
// rotor passing by does not stay in one bin.
type medians struct {
	rate     float64 // samples per second of the sound
	by       int     // every so many-th of them was taken
	df, cell float64 // hertz between bins, and what a piece resolves
	all      [][]float64
	mid      []float64 // as far as anybody has asked
	column   []float64
}

// medians returns those of pieces of n samples, of which every by-th is taken
// after a low-pass filter.
func (s *Source) medians(n, by int) (*medians, error) {
	rate := s.Rate / float64(by)
	size := transform.FastLen(2 * n / by)
	all, err := s.spectra(n, by, size)
	return &medians{rate: s.Rate, by: by, df: rate / float64(size), cell: s.Rate / float64(n), all: all, column: make([]float64, len(all))}, err
}

// until returns the medians of at least the bins before end.
func (m *medians) until(end int) []float64 {
	for k := len(m.mid); k < end; k++ {
		for i := range m.all {
			m.column[i] = m.all[i][k]
		}
		m.mid = append(m.mid, rank.Select(m.column, len(m.column)/2))
	}
	return m.mid
}

// ratio returns the power at f over the floor around it, and 0 where there is none.
func (m *medians) ratio(f float64) float64 {
	if floor := m.floor(f); floor > 0 {
		k := int(f/m.df + 0.5)
		return math.Max(m.mid[k-1], math.Max(m.mid[k], m.mid[k+1])) / floor
	}
	return 0
}

// floor returns the floor around f, a median too, and 0 where there is none.
func (m *medians) floor(f float64) float64 {
	around, guard := int(humAround/m.df), int(2.5*m.cell/m.df)+1
	k := int(f/m.df + 0.5)
	lo, hi := max(1, k-around), min(len(m.all[0]), k+around)
	if k-guard < lo || k+guard >= hi {
		return 0
	}
	mid := m.until(hi)
	b := append(append([]float64(nil), mid[lo:k-guard]...), mid[k+guard:hi]...)
	return rank.Select(b, len(b)/2)
}

// beside returns how many lines there are beside that at f, to within humBeside, which are
// half as strong or more: 0, 1, or 2 for a bundle, as a rotor has there whose speed swings
// or wanders.
func (m *medians) beside(f float64) (others int) {
	reach, guard := int(humBeside/m.df), int(2.5*m.cell/m.df)+1
	k := int(f/m.df + 0.5)
	lo, hi := max(1, k-reach), min(len(m.all[0]), k+reach)
	if k-guard <= lo || k+guard >= hi {
		return 2 // who knows
	}
	mid := m.until(hi)
	half := max(mid[k-1], mid[k], mid[k+1]) / 2
	other := -1 // the highest
	for i := lo; i < hi; i++ {
		if (i < k-guard || i >= k+guard) && mid[i] >= half && (other < 0 || mid[i] > mid[other]) {
			other = i
		}
	}
	if other < 0 {
		return 0
	}
	half = math.Min(half, mid[other]/2)
	for i := lo; i < hi; i++ {
		if (i < k-guard || i >= k+guard) && (i < other-guard || i >= other+guard) && mid[i] >= half {
			return 2
		}
	}
	return 1
}

// top returns the frequency at the top of the line near f.
func (m *medians) top(f float64) float64 {
	end := len(m.all[0])
	mid := m.until(end)
	k := int(f/m.df + 0.5)
	for k+1 < end-1 && mid[k+1] > mid[k] {
		k++
	}
	for k > 2 && mid[k-1] > mid[k] {
		k--
	}
	f = float64(k) * m.df
	if a, b, c := mid[k-1], mid[k], mid[k+1]; a > 0 && c > 0 && b > 0 {
		// parabola through the logarithms
		a, b, c = math.Log(a), math.Log(b), math.Log(c)
		if d := a - 2*b + c; d < 0 {
			f += math.Max(-0.5, math.Min(0.5, 0.5*(a-c)/d)) * m.df
		}
	}
	return f
}

// spectra returns the power spectra of Hann pieces of n samples spread over the
// recording, every by-th sample of them after a low-pass filter, channels added
// up, filled up with zeros to size samples.
func (s *Source) spectra(n, by, size int) ([][]float64, error) {
	taps := lowpass(by)
	half := len(taps) / 2
	window := make([]float64, n/by)
	for j := range window {
		window[j] = 1 - math.Cos(2*math.Pi*(float64(j)+0.5)/float64(len(window)))
	}
	first := transform.NewReal(size)
	all := make([][]float64, min(24, 1+2*(s.Frames-n)/n))
	errs := make([]error, len(all))
	type spectrist struct {
		plan       *transform.Real
		x          [][]float64
		buf, power []float64
	}
	scratch := sync.Pool{New: func() any {
		return &spectrist{plan: first.Clone(), buf: make([]float64, size), power: make([]float64, size/2+1)}
	}}
	work.Each(len(all), func(i int) {
		start := 0
		if len(all) > 1 {
			start = i * (s.Frames - n) / (len(all) - 1)
		}
		w := scratch.Get().(*spectrist)
		defer scratch.Put(w)
		var err error
		if w.x, err = s.Block(w.x, start-half, n+2*half); err != nil {
			errs[i] = err
			return
		}
		x, buf := w.x, w.buf
		sum := make([]float64, size/2)
		for _, ch := range x {
			for j, w := range window {
				v := ch[j*by+half]
				if by > 1 {
					v = dot(taps, ch[j*by:])
				}
				buf[j] = v * w
			}
			for k, p := range w.plan.Power(w.power, buf)[:len(sum)] {
				sum[k] += p
			}
		}
		all[i] = sum
	})
	return all, cmp.Or(errs...)
}
