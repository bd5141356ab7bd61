package interp

import (
	"fmt"
	"reflect"
	"sync"
	"time"
)

// Compiled functions that go on until somebody has had enough, such as
// listen.Listen, ask for two more things in their options: Show, which shows a
// picture that changes, and Enough, through which they are told to end. The kernel
// fills both in. An interrupt then ends the call and not the cell, which goes on
// with what the call has come to; another interrupt ends the cell like any other.

// fillLive fills in Show and Enough where options have them and a cell left them
// out.
func (in *Interp) fillLive(options reflect.Value) {
	if f := options.FieldByName("Show"); f.IsValid() && f.Type() == reflect.TypeFor[func(any)]() && f.IsNil() {
		f.Set(reflect.ValueOf(in.changing()))
	}
	if f := options.FieldByName("Enough"); f.IsValid() && f.Type() == reflect.TypeFor[func(func()) func()]() && f.IsNil() {
		f.Set(reflect.ValueOf(in.stop.enough))
	}
}

// changing returns a function that shows a value in place of the one it has shown
// before. What cannot be rendered is left out: the next one may be.
func (in *Interp) changing() func(any) {
	in.named.mu.Lock()
	in.bars++
	name := fmt.Sprintf("live %d", in.bars)
	in.named.mu.Unlock()
	return func(v any) {
		if b, err := in.bundleOf(v); err == nil {
			in.displayAs(name, b)
		}
	}
}

// gentle are the calls of the running cell that an interrupt ends before it ends
// the cell.
type gentle struct {
	mu   sync.Mutex
	ends map[int]func()
	n    int
	rest time.Time // until when interrupts are repetitions of one that was heeded
}

// restTime is how long repetitions of an interrupt may come: front ends and
// runners send it again while the cell goes on.
const restTime = 2 * time.Second

// enough remembers how to end a call until the function it returns is called.
func (g *gentle) enough(end func()) (over func()) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.ends == nil {
		g.ends = map[int]func(){}
	}
	g.n++
	n := g.n
	g.ends[n] = end
	return func() {
		g.mu.Lock()
		defer g.mu.Unlock()
		delete(g.ends, n)
	}
}

// heed ends the calls that go on and reports whether there were any, or whether
// the interrupt only repeats one that has done so.
func (g *gentle) heed() bool {
	g.mu.Lock()
	ends := g.ends
	g.ends = nil
	if len(ends) > 0 {
		g.rest = time.Now().Add(restTime)
	}
	heeded := time.Now().Before(g.rest)
	g.mu.Unlock()
	for _, end := range ends {
		go end() // which may take its time
	}
	return heeded
}

// forget is for the beginning of a cell.
func (g *gentle) forget() {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.ends, g.rest = nil, time.Time{}
}
