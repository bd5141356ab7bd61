package exam

import (
	"fmt"
	"runtime"
	"sync"
	"time"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// Examine runs the given draws of a class, several at once, and returns their
// outcomes in the same order. tick, if not nil, is called after each.
func Examine(c Class, seed uint64, draws []int, tick func(Outcome)) []Outcome {
	out := make([]Outcome, len(draws))
	var wait sync.WaitGroup
	var lock sync.Mutex
	next := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for i := range next {
				out[i] = c.one(seed, draws[i])
				if tick != nil {
					lock.Lock()
					tick(out[i])
					lock.Unlock()
				}
			}
		}()
	}
	for i := range draws {
		next <- i
	}
	close(next)
	wait.Wait()
	return out
}

// First returns the first n draws.
func First(n int) []int {
	d := make([]int, n)
	for i := range d {
		d[i] = i
	}
	return d
}

func (c Class) one(seed uint64, draw int) (o Outcome) {
	k := c.Case(seed, draw)
	defer func() {
		o.Class, o.Draw, o.Seed, o.About, o.Group = c.Name, draw, seed, k.describe(), k.Group
		if o.Err != nil {
			o.Result, o.Said = Failed, o.Err.Error()
		}
	}()
	take, err := k.Scene.Make()
	if err != nil {
		return Outcome{Err: fmt.Errorf("the case itself is wrong: %w", err)}
	}
	track, wall, err := follow(k, take)
	if err != nil {
		return Outcome{Err: err}
	}
	o = judge(k, take, track)
	o.Wall = wall
	return o
}

// follow has a take measured. A panic of the engine is an error of that case.
func follow(k Case, take *synth.Take) (track *tacho.Track, wall time.Duration, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("panic: %v", p)
		}
	}()
	rec, err := tacho.NewRecording("exam", float64(take.Rate), take.Samples...)
	if err != nil {
		return nil, 0, err
	}
	start := time.Now()
	track, err = tacho.Follow(rec, k.Options)
	return track, time.Since(start), err
}

// Brief returns the first n draws of a class whose recordings last at most the
// given seconds.
func Brief(c Class, seed uint64, n int, seconds float64) []int {
	var out []int
	for i := 0; len(out) < n && i < 1000*n; i++ {
		if c.Case(seed, i).Scene.Seconds <= seconds {
			out = append(out, i)
		}
	}
	return out
}
