package live

import (
	"math"

	"rotorhum/tacho/internal/sound"
)

// workingRate is the sampling rate, in hertz, that following wants.
const workingRate = 15000.0

// intake brings samples down to the working rate as they come.
type intake struct {
	by    int     // decimation factor
	fs    float64 // working rate
	rate  float64
	reach int // working samples that the filter sees on either side
	buf   []float64
}

func newIntake(rate, highest float64) *intake {
	least := math.Max(workingRate, 2.3*highest)
	by := max(1, int(rate/least))
	t := &intake{by: by, fs: rate / float64(by), rate: rate}
	if by > 1 {
		t.reach = filterReach
	}
	t.buf = make([]float64, t.reach*by) // silence before the first sample
	return t
}

// filterReach is half the length of the filter of a sound.Source, in samples at
// the lower rate.
const filterReach = 14

// feed takes raw samples in and returns the working samples that are complete.
// Working sample k stands for raw sample k*by; the last filterReach are still to
// come.
func (t *intake) feed(raw []float64) ([]float64, error) {
	t.buf = append(t.buf, raw...)
	last := (len(t.buf)-1)/t.by - t.reach
	n := last - t.reach + 1
	if n < 1 {
		return nil, nil
	}
	src, err := sourceOf(t.buf, t.rate, t.fs)
	if err != nil {
		return nil, err
	}
	x, err := src.Block(nil, t.reach, n)
	if err != nil {
		return nil, err
	}
	t.buf = append(t.buf[:0], t.buf[n*t.by:]...)
	return x[0], nil
}

// sourceOf returns samples at rate as a source at the rate least.
func sourceOf(x []float64, rate, least float64) (*sound.Source, error) {
	read := func(_, start int, dst []float64) (int, error) { return copy(dst, x[start:]), nil }
	return sound.New(read, []int{0}, len(x), rate, least)
}

// memory holds the newest working samples.
type memory struct {
	x     []float64
	start int // number of the first in x since the start of listening
	keep  int
}

func (m *memory) add(x []float64) {
	m.x = append(m.x, x...)
	if drop := len(m.x) - m.keep; drop > m.keep/2 {
		m.x = append(m.x[:0], m.x[drop:]...)
		m.start += drop
	}
}

// end returns the number of samples since the start of listening.
func (m *memory) end() int { return m.start + len(m.x) }

// from returns the samples from number first on, and the number of the first of
// them: later than asked for where older ones are forgotten.
func (m *memory) from(first int) (x []float64, at int) {
	at = max(first, m.start)
	return m.x[min(at-m.start, len(m.x)):], at
}
