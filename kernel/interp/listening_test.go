package interp_test

import (
	"context"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/gopherdata/gophernotes/imports"

	"rotorhum/kernel/cell"
)

// OpenEnd are like the settings of something that goes on until it is told to end.
type OpenEnd struct {
	Context context.Context
	Enough  func(end func()) (over func())
	Show    func(any)
}

// goOn shows what it has come to until somebody has had enough.
func goOn(o OpenEnd) (shown int, err error) {
	end := make(chan bool, 1)
	over := o.Enough(func() { end <- true })
	defer over()
	for {
		shown++
		o.Show(fmt.Sprintf("state %d", shown))
		select {
		case <-end:
			o.Show("the end")
			return shown, o.Context.Err()
		case <-time.After(time.Millisecond):
		}
	}
}

// interrupter interrupts the cell, several times as front ends do, once it has
// shown a picture twice.
type interrupter struct {
	ends
	b     *bench
	state int
}

func (r *interrupter) Update(b cell.Bundle, id string) {
	r.ends.Update(b, id)
	if r.state++; r.state == 1 {
		go func() {
			for range 3 {
				r.b.Interrupt()
				time.Sleep(5 * time.Millisecond)
			}
		}()
	}
}

// An interrupt ends the call that goes on, and the cell goes on with its result;
// the picture is one that was replaced.
func TestInterruptEndsWhatGoesOn(t *testing.T) {
	needsInterrupt(t)
	slow := imports.Packages[slowPath]
	slow.Binds["On"], slow.Types["OpenEnd"] = reflect.ValueOf(goOn), reflect.TypeFor[OpenEnd]()
	b := start(t)
	b.must("import slow \"" + slowPath + "\"")
	r := &interrupter{b: b, ends: ends{last: map[string]cell.Bundle{}}}
	o := b.Run(cell.Request{Code: "n := must(slow.On(slow.OpenEnd{}))\nn > 1", Sink: r})
	if o.Fault != nil {
		t.Fatal(strings.Join(o.Fault.Traceback, "\n"))
	}
	if o.Result.Data["text/plain"] != "true" || len(r.last) != 1 {
		t.Errorf("result %v, %d displays", o.Result, len(r.last))
	}
	for _, last := range r.last {
		if last.Data["text/plain"] != "the end" {
			t.Errorf("the last picture is %v", last)
		}
	}
	// the next cell is interrupted like any other
	_, o = b.runInterrupted("for {\n}")
	if o.Fault == nil || o.Fault.Name != "Interrupted" {
		t.Errorf("the next cell: %v", o.Fault)
	}
}
