package tacho_test

import (
	"context"
	"errors"
	"runtime"
	"sync"
	"testing"
	"time"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// looks is a context that counts how often it is asked whether it has ended,
// and ends at one of these looks.
type looks struct {
	context.Context
	mu      sync.Mutex
	end     int // the look at which it ends; 0 for never
	count   int
	last    time.Time
	longest time.Duration // between two looks
}

func (l *looks) Err() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := time.Now()
	if l.count > 0 {
		l.longest = max(l.longest, now.Sub(l.last))
	}
	l.count, l.last = l.count+1, now
	if l.end > 0 && l.count >= l.end {
		return context.Canceled
	}
	return nil
}

// pushes is a recording of a five-vane rotor that speeds up and slows down again.
func pushes(t testing.TB, seconds float64) *tacho.Recording {
	scene := synth.Scene{Rate: 44100, Seconds: seconds, Seed: 7,
		Rotors: []synth.Rotor{{Pulses: 5, Profile: synth.Ramp(4, 14, 0.5, seconds-0.5)}},
		Noise:  []synth.Noise{{SNR: 20}}}
	take, err := scene.Make()
	if err != nil {
		t.Fatal(err)
	}
	rec, err := tacho.NewRecording("pushes", 44100, take.Samples...)
	if err != nil {
		t.Fatal(err)
	}
	return rec
}

// Wherever a measurement is when its context ends, it gives up at the next look
// of each of its goroutines, and leaves none behind.
func TestFollowStopsWhereverItIs(t *testing.T) {
	rec := pushes(t, 2)
	all := &looks{Context: context.Background()}
	if track, err := tacho.Follow(rec, tacho.Options{Pulses: 5, Context: all}); err != nil || track.Verdict != tacho.VerdictVarying {
		t.Fatal(track, err)
	}
	if all.count < 300 {
		t.Fatalf("%d looks in the whole measurement: too few to stop soon", all.count)
	}
	before := runtime.NumGoroutine()
	const points = 12
	for i := 1; i <= points; i++ {
		l := &looks{Context: context.Background(), end: all.count * i / (points + 1)}
		if _, err := tacho.Follow(rec, tacho.Options{Pulses: 5, Context: l}); !errors.Is(err, context.Canceled) {
			t.Errorf("ended at look %d of %d: error %v", l.end, all.count, err)
		}
		// each goroutine may look once more, and the caller twice
		if more := l.count - l.end; more > runtime.GOMAXPROCS(0)+2 {
			t.Errorf("ended at look %d of %d: %d more", l.end, all.count, more)
		}
	}
	for range 1000 { // those that have done their work may still be ending
		if runtime.NumGoroutine() <= before {
			return
		}
		time.Sleep(time.Millisecond)
	}
	t.Errorf("%d goroutines before, %d after", before, runtime.NumGoroutine())
}

// The longest time between two looks is how long an interrupt may have to wait.
func BenchmarkLongestTimeBetweenLooks(b *testing.B) {
	rec := pushes(b, 120)
	var longest time.Duration
	for b.Loop() {
		l := &looks{Context: context.Background()}
		if _, err := tacho.Follow(rec, tacho.Options{Pulses: 5, Context: l}); err != nil {
			b.Fatal(err)
		}
		longest = max(longest, l.longest)
	}
	b.ReportMetric(float64(longest.Microseconds())/1000, "ms/longest")
}
