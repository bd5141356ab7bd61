package interp_test

import (
	"context"
	"errors"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/gopherdata/gophernotes/imports"

	"rotorhum/kernel/cell"
)

// Options are like those of tacho's measurements.
type Options struct {
	Steps    int
	Context  context.Context
	Progress func(float64)
}

// slowWork is a compiled function that ends only with its context.
func slowWork(o Options) (int, error) {
	if o.Steps == 0 {
		return 0, nil
	}
	<-o.Context.Done()
	return o.Steps, o.Context.Err()
}

// slowTelling tells how far it is until after a person would want to know.
func slowTelling(o Options) {
	if o.Progress == nil {
		return
	}
	for i := range o.Steps {
		o.Progress(float64(i) / float64(o.Steps))
		time.Sleep(time.Second / time.Duration(o.Steps))
	}
	o.Progress(1)
}

// slowView is work with options that may be left out.
func slowView(steps int, o ...Options) (int, error) {
	if len(o) == 0 || o[0].Context == nil {
		return 0, errors.New("nobody can stop this")
	}
	o[0].Steps = steps
	return slowWork(o[0])
}

// slowSum has a second form with options in front, Steps.Run one with options
// behind.
func slowSum(more ...int) (int, error) { return slowSumWith(Options{}, more...) }

func slowSumWith(o Options, more ...int) (int, error) { return slowView(len(more), o) }

// Steps is a type with a long method.
type Steps struct{ N int }

func (s Steps) Run(double bool) (int, error) { return s.RunWith(double, Options{}) }

func (s Steps) RunWith(double bool, o Options) (int, error) {
	if double {
		s.N *= 2
	}
	return slowView(s.N, o)
}

// slowPath is the path under which cells import these: that of their types.
var slowPath = reflect.TypeFor[Options]().PkgPath()

func init() {
	imports.Packages[slowPath] = imports.Package{
		Name: "slow",
		Binds: map[string]reflect.Value{"Work": reflect.ValueOf(slowWork), "Telling": reflect.ValueOf(slowTelling),
			"View": reflect.ValueOf(slowView), "Sum": reflect.ValueOf(slowSum), "SumWith": reflect.ValueOf(slowSumWith)},
		Types: map[string]reflect.Type{"Options": reflect.TypeFor[Options](), "Steps": reflect.TypeFor[Steps]()},
	}
}

// A long compiled call must end when the cell is interrupted, though nothing
// in the cell mentions a context.
func TestInterruptEndsCompiledCallsWithOptions(t *testing.T) {
	needsInterrupt(t)
	for _, code := range []string{
		"slow.Work(slow.Options{Steps: 3})",
		"must(slow.Work(slow.Options{Steps: 3}))",
		"opt := slow.Options{Steps: 3}\nn, err := slow.Work(opt)\nn = 5",
		"func() { slow.Work(slow.Options{Steps: 3}) }()",
		"slow.View(3)",
		"slow.View(3, slow.Options{})",
		"slow.Sum(1, 2, 3)",
		"slow.Sum([]int{1, 2}...)",
		"slow.SumWith(slow.Options{}, 1)",
		"slow.Steps{3}.Run(false)",
		"s := &slow.Steps{3}\nn, err := s.Run(true)\nn = 5",
	} {
		b := start(t)
		b.must("import slow \"" + slowPath + "\"")
		_, o := b.runInterrupted(code)
		if o.Fault == nil || o.Fault.Name != "Interrupted" {
			t.Errorf("%s\nfault = %v, want Interrupted", code, o.Fault)
		}
		if got := b.must("slow.Work(slow.Options{})"); got != "0" {
			t.Errorf("the next cell gave %s", got)
		}
	}
}

// The second form of a function takes the same and gives the same.
func TestFormsWithOptionsGiveTheSame(t *testing.T) {
	b := start(t)
	b.must("import slow \"" + slowPath + "\"\nfunc two() (int, bool) { return 2, true }")
	for code, want := range map[string]string{
		"must(slow.View(0))": "0", "must(slow.Sum())": "0", "must(slow.Steps{0}.Run(true))": "0",
		"f := slow.Sum\n_, err := f(1)\nerr.Error()": "nobody can stop this", // a value is not called here
	} {
		if got := b.must(code); got != want {
			t.Errorf("%s gave %s, want %s", code, got, want)
		}
	}
}

func TestAContextOfTheCellsOwnIsKept(t *testing.T) {
	b := start(t)
	b.must("import (slow \"" + slowPath + "\"; \"context\")\nctx, cancel := context.WithCancel(context.Background())\ncancel()")
	_, o := b.run("slow.Work(slow.Options{Steps: 1, Context: ctx})")
	if o.Fault == nil || !strings.Contains(o.Fault.Value, "context canceled") {
		t.Errorf("fault = %v, want the error of the cell's context", o.Fault)
	}
}

// ends is a recorder that keeps the last state of each display.
type ends struct {
	recorder
	last map[string]cell.Bundle
}

func (e *ends) Display(b cell.Bundle, id string) { e.last[id] = b }
func (e *ends) Update(b cell.Bundle, id string)  { e.last[id] = b }

// Whether slow work shows a bar depends on the machine, so none stays behind.
func TestTheBarOfSlowWorkEmptiesItself(t *testing.T) {
	b := start(t)
	b.must("import slow \"" + slowPath + "\"")
	e := &ends{last: map[string]cell.Bundle{}}
	run := func(input func(string, bool) (string, error)) {
		if o := b.Run(cell.Request{Code: "slow.Telling(slow.Options{Steps: 10})", Sink: e, Input: input}); o.Fault != nil {
			t.Fatal(o.Fault)
		}
	}
	run(nil)
	if len(e.last) != 0 {
		t.Errorf("without a person: %v", e.last)
	}
	run(func(string, bool) (string, error) { return "", nil })
	if len(e.last) != 1 {
		t.Errorf("with a person: %d displays, want a bar", len(e.last))
	}
	for _, left := range e.last {
		if len(left.Data) != 1 || left.Data["text/plain"] != "" {
			t.Errorf("the bar leaves %v", left.Data)
		}
	}
}

func TestProgressAndQuestions(t *testing.T) {
	b := start(t)
	r, _ := b.run("p := progress(4, \"turning\")\nfor i := range 5 {\n\tp(i)\n}")
	if len(r.shown) != 1 || !strings.Contains(r.shown[0].Data["text/plain"].(string), "turning") || !strings.HasPrefix(r.order[len(r.order)-1], "update progress") {
		t.Errorf("a bar: %v", r.order)
	}
	o := b.Run(cell.Request{Code: "must(input(\"name? \"))", Sink: r, Input: func(prompt string, hide bool) (string, error) {
		return prompt + "Ada", nil
	}})
	if o.Fault != nil || o.Result.Data["text/plain"] != "name? Ada" {
		t.Errorf("a question was answered with %v, %v", o.Result, o.Fault)
	}
	_, o = b.run("input(\"name? \")")
	if o.Fault == nil || !strings.Contains(o.Fault.Value, "nobody can be asked") {
		t.Errorf("a question to nobody: %v", o.Fault)
	}
}

// What a cell shows under a name is replaced in that run of that cell only.
func TestNamesOfDisplaysBelongToARun(t *testing.T) {
	b := start(t)
	const code = "displayAs(\"x\", 1)\ndisplayAs(\"y\", 2)\ndisplayAs(\"x\", 3)"
	all := map[string]bool{}
	for range 2 {
		e := &ends{last: map[string]cell.Bundle{}}
		if o := b.Run(cell.Request{Code: code, Sink: e}); o.Fault != nil {
			t.Fatal(o.Fault)
		}
		values := map[any]bool{}
		for id, left := range e.last {
			all[id] = true
			values[left.Data["text/plain"]] = true
		}
		if len(e.last) != 2 || !values["2"] || !values["3"] {
			t.Errorf("left are %v, want 2 and 3", e.last)
		}
	}
	if len(all) != 4 {
		t.Errorf("two runs use the names %v, want four", all)
	}
}
