// Package sound delivers the samples of a long recording in blocks, at a lower
// rate where that is enough, and with its channels turned so that their noise
// is uncorrelated.
package sound

import (
	"errors"
	"math"
	"sync"

	"gonum.org/v1/gonum/mat"
)

// Reader reads len(dst) samples of channel ch (counted from 0) from frame
// start. Outside the recording it need not write anything; it returns how many
// samples it wrote.
type Reader func(ch, start int, dst []float64) (int, error)

// Source is a recording as the analysis wants it. It is safe for use by
// several goroutines if its Reader is.
type Source struct {
	// Rate is the sampling rate after decimation, in hertz.
	Rate float64
	// Frames is the number of samples per channel after decimation.
	Frames int
	// Channels is the number of channels after turning; identical channels of
	// the recording count once.
	Channels int
	// Stop, if not nil, returns an error once the work is no longer wanted.
	Stop func() error

	read    Reader
	in      []int // channels of the recording that are read
	inCount int   // frames of the recording
	by      int   // decimation factor
	taps    []float64
	turn    *mat.Dense // Channels x len(in)
	hum     *Hum
	store   store
	// of a part of another source: that one, and where the part begins in it
	whole *Source
	from  int
	// of another source from which something is taken: what takes it
	take func(x [][]float64, start int)
}

// New returns a source for the given channels of a recording of frames samples
// at rate, decimated to the lowest rate of rate/1, rate/2, ... that is at
// least least.
func New(read Reader, channels []int, frames int, rate, least float64) (*Source, error) {
	if len(channels) == 0 || frames == 0 {
		return nil, errors.New("sound: no samples")
	}
	by := max(1, int(rate/least))
	s := &Source{Rate: rate / float64(by), Frames: (frames + by - 1) / by, Channels: len(channels),
		read: read, in: channels, inCount: frames, by: by, taps: lowpass(by)}
	if len(channels) > 1 {
		if err := s.decorrelate(); err != nil {
			return nil, err
		}
	}
	return s, nil
}

// Part returns the samples from to end-1 of s as a source of its own; what lies
// outside of them is what s has there. The hum must have been looked for before.
func (s *Source) Part(from, end int) *Source {
	from, end = max(0, from), min(s.Frames, end)
	return &Source{Rate: s.Rate, Frames: end - from, Channels: s.Channels, Stop: s.Stop, hum: s.hum, whole: s, from: from}
}

// Without returns a source of what is left of s when take has taken what it takes
// out of every piece of sound x, which begins at frame start.
func (s *Source) Without(take func(x [][]float64, start int)) *Source {
	return &Source{Rate: s.Rate, Frames: s.Frames, Channels: s.Channels, Stop: s.Stop, hum: s.hum, whole: s, take: take}
}

// lowpass returns the taps of a linear-phase filter for decimation by d: flat
// to about lowpassFlat of the new rate, down some 70 dB from 0.58 on. What folds
// back lies above lowpassFlat only.
func lowpass(d int) []float64 {
	if d == 1 {
		return []float64{1}
	}
	half := 14 * d
	h := make([]float64, 2*half+1)
	sum := 0.0
	for i := range h {
		x := float64(i - half)
		v := 1.0
		if x != 0 {
			v = math.Sin(math.Pi*x/float64(d)) / (math.Pi * x / float64(d))
		}
		u := x / float64(half+1)
		h[i] = v * kaiser(u, 7)
		sum += h[i]
	}
	for i := range h {
		h[i] /= sum
	}
	return h
}

// lowpassFlat is the share of the new rate up to which lowpass leaves all as it is.
const lowpassFlat = 0.42

// kaiser is the Kaiser-Bessel window at -1 <= u <= 1, not normalised.
func kaiser(u, beta float64) float64 { return bessel0(beta * math.Sqrt(math.Max(0, 1-u*u))) }

// bessel0 is the modified Bessel function of order 0 by its power series.
func bessel0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1; term > 1e-12*sum; k++ {
		term *= x / 2 / float64(k) * x / 2 / float64(k)
		sum += term
	}
	return sum
}

// Stopped returns the error of Stop: every long loop over a source asks now and
// then.
func (s *Source) Stopped() error {
	if s.Stop == nil {
		return nil
	}
	return s.Stop()
}

// Seconds returns the length of the sound.
func (s *Source) Seconds() float64 { return float64(s.Frames) / s.Rate }

// Keep takes the removal of a hum back.
func (s *Source) Keep() {
	s.hum = nil
	s.store.clear()
}

// Hum returns what was removed, nil if nothing was.
func (s *Source) Hum() *Hum { return s.hum }

// decimated returns n samples of channel i of those read, at the lower rate.
func (s *Source) decimated(i, start, n int) ([]float64, error) {
	if s.by == 1 {
		in := make([]float64, n)
		return in, s.raw(i, start, in)
	}
	in := taken((n-1)*s.by + len(s.taps))
	defer spare.Put(in)
	if err := s.raw(i, start*s.by-len(s.taps)/2, *in); err != nil {
		return nil, err
	}
	out := make([]float64, n)
	for k := range out {
		if k%(1<<15) == 0 {
			if err := s.Stopped(); err != nil {
				return nil, err
			}
		}
		out[k] = dot(s.taps, (*in)[k*s.by:])
	}
	return out, nil
}

// raw reads samples as they are recorded, from the given one on, into dst; what
// lies outside the recording stays as it is.
func (s *Source) raw(i, from int, dst []float64) error {
	lo, hi := max(0, from), min(s.inCount, from+len(dst))
	if lo >= hi {
		return nil
	}
	_, err := s.read(s.in[i], lo, dst[lo-from:hi-from])
	return err
}

// spare is memory for samples that nobody needs now.
var spare = sync.Pool{New: func() any { return new([]float64) }}

// taken returns n zeros in spare memory, which is to be put back.
func taken(n int) *[]float64 {
	x := spare.Get().(*[]float64)
	if cap(*x) < n {
		*x = make([]float64, n)
	}
	*x = (*x)[:n]
	clear(*x)
	return x
}

// dotGo returns the sum of the products of taps and as many samples of x.
func dotGo(taps, x []float64) float64 {
	x = x[:len(taps)]
	a, b := 0.0, 0.0
	i := 0
	for ; i+2 <= len(taps); i += 2 {
		a += taps[i] * x[i]
		b += taps[i+1] * x[i+1]
	}
	if i < len(taps) {
		a += taps[i] * x[i]
	}
	return a + b
}

// decorrelate turns the channels to the principal axes of their covariance and
// drops those that hold nothing, so that evidence of several channels can be
// added: a copy of a channel is no second witness.
func (s *Source) decorrelate() error {
	k := len(s.in)
	cov := mat.NewSymDense(k, nil)
	const piece = 1 << 14
	// a long recording is sampled in pieces spread over its length
	step := max(piece, s.Frames/64)
	for start := 0; start < s.Frames; start += step {
		x, err := s.Block(nil, start, min(piece, s.Frames-start))
		if err != nil {
			return err
		}
		for a := range x {
			for b := a; b < k; b++ {
				sum := cov.At(a, b)
				for i, v := range x[a] {
					sum += v * x[b][i]
				}
				cov.SetSym(a, b, sum)
			}
		}
	}
	var eig mat.EigenSym
	if !eig.Factorize(cov, true) {
		return nil
	}
	val := eig.Values(nil)
	var vec mat.Dense
	eig.VectorsTo(&vec)
	var rows [][]float64
	for j := k - 1; j >= 0; j-- {
		if val[j] > 1e-7*val[k-1] {
			rows = append(rows, mat.Col(nil, j, &vec))
		}
	}
	if len(rows) == 0 {
		rows = [][]float64{mat.Col(nil, k-1, &vec)}
	}
	t := mat.NewDense(len(rows), k, nil)
	for i, r := range rows {
		t.SetRow(i, r)
	}
	s.turn, s.Channels = t, len(rows)
	s.store.each(func(_ int, x [][]float64) [][]float64 { return s.turned(x) })
	return nil
}
