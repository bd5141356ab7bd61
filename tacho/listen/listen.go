package listen

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"sync"
	"sync/atomic"
	"time"

	"rotorhum/tacho"
	"rotorhum/tacho/listen/live"
)

// Listen follows the speed of a rotor while sound comes, keeps the sound in the
// WAV file keep, and returns what was heard when the trial is over: after the
// planned length, when the sound ends, or when it is told to end.
//
// With s.Live the file is made now and must not exist; its folder must. Where the
// disk is full or the microphone is taken away, the listening ends, and the
// result, with everything heard until then, says so in Trouble. Without s.Live,
// the file that was kept before is followed again.
//
// A rehearsal may go without a file, keep being "".
//
// Beside the result or instead of it, there is an error: tacho.ErrOption for
// settings out of range, ErrNoMicrophone, fs.ErrExist for a file that exists and
// fs.ErrNotExist for one that does not, tacho.ErrNoSamples if the sound ended
// before it began, and the errors of tacho.Open.
func Listen(keep string, s Settings) (*Result, error) {
	s, err := s.normal()
	if err != nil {
		return nil, err
	}
	if !s.Live {
		return s.again(keep)
	}
	return s.now(keep)
}

// again follows a kept recording as if it came from a microphone.
func (s Settings) again(keep string) (*Result, error) {
	rec, err := tacho.OpenWith(keep, tacho.Watch{Context: s.Context})
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%w: nothing has been recorded under this name yet; set Live to true to listen now", err)
	}
	if err != nil {
		return nil, err
	}
	s.Source, s.Seconds = Rehearse(rec, 0), 0
	t, err := s.start("", nil)
	if err != nil {
		return nil, err
	}
	t.result.File = keep
	t.run()
	if t.panicked != nil {
		panic(t.panicked)
	}
	if err := s.Context.Err(); err != nil {
		return nil, err // a part of it would be another recording
	}
	t.result.Recording = rec
	return t.result, nil
}

// now listens to the source and keeps what comes.
func (s Settings) now(keep string) (*Result, error) {
	if keep == "" && s.Source.rehearsed == nil {
		return nil, optionError("name a file, ending in .wav, in which to keep what is heard")
	}
	if _, err := os.Lstat(keep); err == nil {
		return nil, fmt.Errorf("%s: %w: it is left as it is; keep this trial under another name, or set Live to false to follow the kept recording again", keep, fs.ErrExist)
	}
	t, err := s.start(keep, createKept)
	if err != nil {
		return nil, err
	}
	t.run()
	r := t.result
	if t.panicked != nil {
		if t.keeper != nil {
			t.keeper.Close()
		}
		panic(t.panicked)
	}
	if t.keeper == nil {
		if r.Seconds == 0 {
			return nil, fmt.Errorf("%s: %w", s.Source, tacho.ErrNoSamples)
		}
		rec := s.Source.rehearsed
		if r.Recording, err = rec.Slice(0, min(r.Seconds, rec.Seconds())); err != nil {
			return r, err
		}
		return r, nil
	}
	kept := t.keeper.frames()
	if err := t.keeper.Close(); err != nil {
		r.trouble(fmt.Errorf("%s may not be whole: %w", keep, err))
	}
	if kept == 0 {
		os.Remove(keep) // made above, and nothing is in it
		if r.Trouble != "" {
			return nil, fmt.Errorf("nothing was heard: %s", r.Trouble)
		}
		return nil, fmt.Errorf("%s: %w", s.Source, tacho.ErrNoSamples)
	}
	r.Recording, err = tacho.Open(keep)
	return r, err
}

// trial is one listening that goes on.
type trial struct {
	settings Settings
	stream   *stream
	keeper   *keeper // nil if nothing is kept
	follower *live.Follower
	mono     *mono
	queue    *queue
	screen   *shower // nil if nothing is shown
	result   *Result
	panicked any // what Watch panicked with

	mu     sync.Mutex
	ending Ending // "" while the trial goes on
	bad    error
	shut   sync.Once
}

// start opens the source, and the file with create if keep is not "".
func (s Settings) start(keep string, create func(string, Format) (*keeper, error)) (*trial, error) {
	if s.Source.used.Swap(true) {
		return nil, optionError("%s has been listened to already; make a new source for every trial", s.Source)
	}
	stream, err := s.Source.open()
	if err != nil {
		return nil, err
	}
	t := &trial{settings: s, stream: stream, queue: newQueue(stream.format)}
	if err := t.prepare(keep, create); err != nil {
		stream.shut()
		return nil, err
	}
	return t, nil
}

func (t *trial) prepare(keep string, create func(string, Format) (*keeper, error)) (err error) {
	s, f := t.settings, t.stream.format
	if t.follower, err = live.New(float64(f.Rate), s.Options); err != nil {
		return err
	}
	if t.mono, err = newMono(f, s.Options.Channel); err != nil {
		return err
	}
	if s.Show != nil {
		if t.screen, err = newShower(t.follower, s); err != nil {
			return err
		}
	}
	if keep != "" {
		if t.keeper, err = create(keep, f); err != nil {
			return err
		}
	}
	t.result = &Result{Source: t.stream.name, Format: f, File: keep}
	return nil
}

// run listens to the end.
func (t *trial) run() {
	stop := context.AfterFunc(t.settings.Context, func() { t.end(EndedAsked, nil) })
	defer stop()
	if t.settings.Enough != nil {
		over := t.settings.Enough(func() { t.end(EndedAsked, nil) })
		if over != nil {
			defer over()
		}
	}
	var following sync.WaitGroup
	following.Go(t.follow)
	frames := t.keep()
	t.queue.end()
	t.end(EndedSound, nil)
	following.Wait()
	t.finish(frames)
}

// end ends the trial once; of several reasons the first counts.
func (t *trial) end(how Ending, bad error) {
	t.mu.Lock()
	if t.ending == "" {
		t.ending, t.bad = how, bad
	}
	t.mu.Unlock()
	t.shut.Do(t.stream.shut)
}

// blockSeconds is about how much sound is taken from the source at most at once.
const blockSeconds = 0.05

// keep takes sound from the source, keeps it and offers it to the follower, until
// the end. It returns the number of frames.
func (t *trial) keep() int64 {
	f := t.stream.format
	width := f.frameBytes()
	buf := make([]byte, max(1, int(blockSeconds*float64(f.Rate)))*width)
	planned, frames, held := f.frames(t.settings.Seconds), int64(0), 0
	var still *time.Timer
	var began atomic.Bool
	if t.stream.still > 0 {
		still = time.AfterFunc(t.stream.still, func() {
			bad := fmt.Errorf("%w: nothing came for %v", ErrUnplugged, t.stream.still)
			if !began.Load() {
				bad = fmt.Errorf("%w for %v: is it switched on, and may this program use it?", ErrStill, t.stream.still)
			}
			t.end(EndedTrouble, bad)
		})
		defer still.Stop()
	}
	for {
		n, err := t.stream.Read(buf[held:])
		if n > 0 && still != nil {
			began.Store(true)
			still.Reset(t.stream.still)
		}
		n += held
		whole := n - n%width
		if planned > 0 {
			whole = int(min(int64(whole), (planned-frames)*int64(width)))
		}
		if block := buf[:whole]; whole > 0 {
			t.queue.offer(block, t.stream.waits)
			if t.keeper != nil {
				before := t.keeper.frames()
				err := t.keeper.Write(block)
				frames += t.keeper.frames() - before
				if err != nil {
					t.end(EndedTrouble, fmt.Errorf("no more could be kept: %w; what was heard until then is in %s", err, t.result.File))
					return frames
				}
			} else {
				frames += int64(whole / width)
			}
		}
		if planned > 0 && frames >= planned {
			t.end(EndedPlanned, nil)
			return frames
		}
		held = copy(buf, buf[whole:n])
		switch {
		case err == nil:
		case errors.Is(err, io.EOF):
			return frames
		default:
			t.end(EndedTrouble, err)
			return frames
		}
	}
}

// finish fills in the result.
func (t *trial) finish(frames int64) {
	r, f := t.result, t.stream.format
	r.Seconds, r.Ended, r.Lost = f.seconds(frames), t.ending, f.seconds(t.stream.lost())
	if t.bad != nil {
		r.trouble(t.bad)
	}
	if h, ok := t.follower.Highest(); ok {
		r.Highest = &h
	}
	if n := t.follower.Bad(); n > 0 {
		r.warn("%d samples were no usable numbers; silence was followed in their place", n)
	}
	if r.Lost > 0 {
		r.warn("%.3g s of sound were lost before they could be kept, the disk or the machine being too busy; silence stands in their place", r.Lost)
	}
	if r.Skipped > 0 {
		r.warn("%.3g s were kept but not followed live, the machine being too busy; the kept recording has them", r.Skipped)
	}
}
