package sound

import (
	"maps"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"rotorhum/tacho/internal/work"
)

// The looks at a recording are many: at its hum, in frames, and along every
// course several times. Decoded and decimated samples are therefore kept in
// pieces of a fixed place and length, so that what is read does not depend on
// who reads it first; of a long recording only the pieces used last.
const (
	pieceFrames = 1 << 15
	// storeBytes bounds the memory of the pieces: two minutes of one channel at
	// 16 kHz, one of two, as long as the pieces in which a course is followed.
	storeBytes = 16 << 20
)

// piece is a run of samples of all channels.
type piece struct {
	once sync.Once
	x    [][]float64
	err  error
	used atomic.Int64
}

// store keeps the pieces that were used last.
type store struct {
	mu     sync.Mutex
	pieces map[int]*piece
	clock  atomic.Int64
}

// get returns piece number i, which make fills if it is not there.
func (s *store) get(i, most int, make func() ([][]float64, error)) ([][]float64, error) {
	s.mu.Lock()
	if s.pieces == nil {
		s.pieces = map[int]*piece{}
	}
	p := s.pieces[i]
	if p == nil {
		for len(s.pieces) >= most {
			oldest, at := int64(0), -1
			for k, q := range s.pieces {
				if u := q.used.Load(); at < 0 || u < oldest {
					oldest, at = u, k
				}
			}
			delete(s.pieces, at)
		}
		p = &piece{}
		s.pieces[i] = p
	}
	p.used.Store(s.clock.Add(1))
	s.mu.Unlock()
	p.once.Do(func() { p.x, p.err = make() })
	if p.err != nil { // it may do another time, when nobody interrupts
		s.mu.Lock()
		if s.pieces[i] == p {
			delete(s.pieces, i)
		}
		s.mu.Unlock()
	}
	return p.x, p.err
}

// clear forgets all pieces.
func (s *store) clear() {
	s.mu.Lock()
	s.pieces = nil
	s.mu.Unlock()
}

// each has every piece changed, several at once, by its number.
func (s *store) each(change func(i int, x [][]float64) [][]float64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	list := slices.Sorted(maps.Keys(s.pieces))
	work.Each(len(list), func(k int) {
		p := s.pieces[list[k]]
		p.x = change(list[k], p.x)
	})
}

// Block returns n samples of every channel from frame start on; what lies
// outside the recording is zero. The result reuses dst where it fits.
func (s *Source) Block(dst [][]float64, start, n int) ([][]float64, error) {
	if s.whole != nil && s.take == nil {
		return s.whole.Block(dst, s.from+start, n)
	}
	for len(dst) < s.Channels {
		dst = append(dst, nil)
	}
	dst = dst[:s.Channels]
	for c := range dst {
		if cap(dst[c]) < n {
			dst[c] = make([]float64, n)
		}
		dst[c] = dst[c][:n]
	}
	if err := s.Stopped(); err != nil || n == 0 {
		return dst, err
	}
	lo, hi := max(start, 0), min(start+n, s.Frames)
	for c := range dst {
		if lo >= hi {
			clear(dst[c])
			continue
		}
		clear(dst[c][:lo-start])
		clear(dst[c][hi-start:])
	}
	if lo >= hi {
		return dst, nil
	}
	first, last := lo/pieceFrames, (hi-1)/pieceFrames
	errs := make([]error, last-first+1)
	fetch := func(i int) {
		x, err := s.piece(i)
		if err != nil {
			errs[i-first] = err
			return
		}
		a, b := max(lo, i*pieceFrames), min(hi, (i+1)*pieceFrames)
		for c := range dst {
			copy(dst[c][a-start:b-start], x[c][a-i*pieceFrames:b-i*pieceFrames])
		}
	}
	work.Each(last-first+1, func(i int) {
		if s.Stopped() == nil {
			fetch(first + i)
		}
	})
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return dst, s.Stopped()
}

// piece returns the samples of one piece. They are not to be changed.
func (s *Source) piece(i int) ([][]float64, error) {
	channels := max(s.Channels, len(s.in))
	most := max(2*runtime.GOMAXPROCS(0), storeBytes/(8*pieceFrames*channels))
	return s.store.get(i, most, func() ([][]float64, error) {
		start := i * pieceFrames
		n := min(pieceFrames, s.Frames-start)
		if s.take != nil {
			x, err := s.whole.Block(nil, start, n)
			if err == nil {
				s.take(x, start)
			}
			return x, err
		}
		x := make([][]float64, len(s.in))
		for c := range x {
			var err error
			if x[c], err = s.decimated(c, start, n); err != nil {
				return nil, err
			}
		}
		if s.turn != nil {
			x = s.turned(x)
		}
		if s.hum != nil {
			s.hum.subtract(x, start)
		}
		return x, nil
	})
}

// turned returns channels turned to their principal axes.
func (s *Source) turned(raw [][]float64) [][]float64 {
	out := make([][]float64, s.Channels)
	for c := range out {
		out[c] = make([]float64, len(raw[0]))
		for i, r := range raw {
			w := s.turn.At(c, i)
			for k, v := range r {
				out[c][k] += w * v
			}
		}
	}
	return out
}
