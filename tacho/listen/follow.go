package listen

import (
	"sync"
	"time"

	"rotorhum/tacho"
	"rotorhum/tacho/listen/live"
)

// follow takes sound out of the queue and makes readings of it, until the end.
func (t *trial) follow() {
	if t.screen != nil {
		defer t.screen.close()
	}
	defer t.queue.abandon() // whatever becomes of the caller's functions
	f := t.stream.format
	state := State{Source: t.stream.name, Format: f, Kept: t.result.File, Planned: t.settings.Seconds, ColumnHz: t.follower.ColumnHz()}
	var block []byte
	full := false // since the last reading
	for {
		var thrown int
		var ok bool
		block, thrown, ok = t.queue.take(block)
		if thrown > 0 {
			n := thrown / f.frameBytes()
			t.follower.Skip(n)
			t.result.Skipped += f.seconds(int64(n))
		}
		if !ok {
			return
		}
		x, top := t.mono.mix(block)
		full = full || top
		for _, r := range t.follower.Push(x) {
			r.Clipped = r.Clipped || full
			full = false
			t.result.note(r)
			if t.screen != nil {
				t.screen.add(r)
			}
			if t.settings.Watch == nil || t.panicked != nil {
				continue
			}
			state.Reading = r
			state.Lost, state.Skipped = f.seconds(t.stream.lost()), t.result.Skipped
			t.watch(&state)
		}
	}
}

// watch calls the caller's function. If that panics, the listening ends, so that
// what was heard is kept before the panic goes on where Listen was called.
func (t *trial) watch(s *State) {
	defer func() {
		if r := recover(); r != nil {
			t.panicked = r
			t.end(EndedAsked, nil)
		}
	}()
	t.settings.Watch(s)
}

// shower shows the picture of the last seconds, from a goroutine of its own, so
// that to draw does not delay the readings.
type shower struct {
	screen *live.Screen
	show   func(any)
	paced  bool // while the sound comes; else only at the end

	mu      sync.Mutex
	waiting []live.Reading
	ended   bool
	wake    chan struct{}
	done    sync.WaitGroup
}

// showEvery is the shortest time between two pictures.
const showEvery = 60 * time.Millisecond

func newShower(f *live.Follower, s Settings) (*shower, error) {
	screen, err := live.NewScreen(f, s.View)
	if err != nil {
		return nil, err
	}
	w := &shower{screen: screen, show: s.Show, paced: s.Live, wake: make(chan struct{}, 1)}
	w.done.Go(w.run)
	return w, nil
}

// add hands over a reading.
func (w *shower) add(r live.Reading) {
	w.mu.Lock()
	w.waiting = append(w.waiting, r)
	w.mu.Unlock()
	w.nudge()
}

func (w *shower) nudge() {
	select {
	case w.wake <- struct{}{}:
	default: // it will look anyway
	}
}

// close waits for the last picture.
func (w *shower) close() {
	w.mu.Lock()
	w.ended = true
	w.mu.Unlock()
	w.nudge()
	w.done.Wait()
}

func (w *shower) run() {
	for {
		<-w.wake
		began := time.Now()
		w.mu.Lock()
		list, ended := w.waiting, w.ended
		w.waiting = nil
		w.mu.Unlock()
		w.screen.Add(list...)
		if ended || w.paced && len(list) > 0 {
			w.show(w.screen)
		}
		if ended {
			return
		}
		if w.paced {
			time.Sleep(time.Until(began.Add(showEvery)))
		}
	}
}

// note keeps the part of a reading that lasts.
func (r *Result) note(l live.Reading) {
	r.Readings++
	r.Clipped = r.Clipped || l.Clipped
	if !l.Heard {
		return
	}
	lo, hi := l.Speed.CI95()
	r.Points = append(r.Points, tacho.SpeedPoint{T: l.At, Fr: tacho.RevPerSec(l.Speed.X), Lo95: tacho.RevPerSec(lo), Hi95: tacho.RevPerSec(hi)})
}
