package interp_test

import (
	"context"
	"strings"
	"sync"
	"testing"
	"time"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/interp"
)

// Each of these cells runs for ever. Had the interrupt no effect, the test
// would not end.
func TestInterruptStops(t *testing.T) {
	needsInterrupt(t)
	for _, c := range []struct{ name, code string }{
		{"empty loop", "kept = 2\nfor {\n}"},
		{"counting loop", "kept = 2\nfor i := 0; ; i++ {\n\tkept = 2\n}"},
		{"loop in a function", "func spin() {\n\tfor {\n\t\tkept = 2\n\t}\n}\nspin()"},
		{"recursion", "func down(n int) {\n\tif n > 0 {\n\t\tdown(n - 1)\n\t\tdown(n - 1)\n\t}\n}\nkept = 2\ndown(1000)"},
		{"sleep", "kept = 2\ntime.Sleep(time.Hour)"},
		{"sleeping loop", "kept = 2\nfor {\n\ttime.Sleep(time.Millisecond)\n}"},
		{"printing loop", "kept = 2\nfor {\n\tfmt.Print()\n}"},
		{"receive", "kept = 2\nch := make(chan int)\n<-ch"},
		{"receive into a variable", "kept = 2\nch := make(chan int)\nx, ok := <-ch\nfmt.Println(x, ok)"},
		{"receive from nil", "kept = 2\nvar ch chan int\nfmt.Println(<-ch)"},
		{"send", "kept = 2\nch := make(chan int)\nch <- 1"},
		{"range over a channel", "kept = 2\nfor x := range make(chan int) {\n\tfmt.Println(x)\n}"},
		{"select", "kept = 2\nch := make(chan int)\nselect {\ncase <-ch:\ncase ch <- 1:\n}"},
		{"empty select", "kept = 2\nselect {}"},
		{"wait group", "kept = 2\nvar wg sync.WaitGroup\nwg.Add(1)\nwg.Wait()"},
		{"mutex", "kept = 2\nvar mu sync.Mutex\nmu.Lock()\nmu.Lock()"},
		{"deferred call goes on", "kept = 2\nfunc() {\n\tdefer func() { kept = 2 }()\n\tfor {\n\t}\n}()"},
		{"callback from compiled code", "kept = 2\nxs := make([]int, 1<<20)\nfor {\n\tsort.Slice(xs, func(i, j int) bool { return i < j })\n}"},
		{"sleeping goroutine and wait", "kept = 2\nvar wg sync.WaitGroup\nwg.Add(1)\ngo func() {\n\tdefer wg.Done()\n\ttime.Sleep(time.Hour)\n}()\nwg.Wait()"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := start(t)
			b.must("import (\"fmt\"; \"time\"; \"sync\"; \"sort\")\nkept := 1")
			// the interrupts begin when the cell says that it runs, not before
			o := b.runStarted("kept = 2\ndisplay(1)\n" + c.code)
			if o.Fault == nil || o.Fault.Name != "Interrupted" {
				t.Fatalf("fault = %v, want Interrupted", o.Fault)
			}
			if got := b.must("kept"); got != "2" {
				t.Errorf("kept = %s after the interrupt, want 2", got)
			}
			if got := b.must("n := 0\nfor i := range 100 {\n\tn += i\n}\nn"); got != "4950" {
				t.Errorf("the next cell gave %s, want 4950", got)
			}
		})
	}
}

func needsInterrupt(t *testing.T) {
	if raceDetector {
		t.Skip("interrupts are a race by the engine's design")
	}
}

// starter is a sink that tells of the first display.
type starter struct {
	recorder
	on   chan bool
	once sync.Once
}

func (s *starter) Display(b cell.Bundle, id string) { s.once.Do(func() { close(s.on) }) }

// runStarted runs a cell and interrupts it, from its first display on, until it
// ends.
func (b *bench) runStarted(code string) cell.Outcome {
	s := &starter{on: make(chan bool)}
	over, stopped := make(chan bool), make(chan bool)
	go func() {
		defer close(stopped)
		select {
		case <-s.on:
		case <-over:
			return
		}
		for {
			b.Interrupt()
			select {
			case <-time.After(10 * time.Millisecond):
			case <-over:
				return
			}
		}
	}()
	o := b.Run(cell.Request{Name: "In[1]", Code: code, Sink: s})
	close(over)
	<-stopped
	return o
}

// runInterrupted runs a cell and interrupts it until it ends.
func (b *bench) runInterrupted(code string) (*recorder, cell.Outcome) {
	over, stopped := make(chan bool), make(chan bool)
	go func() {
		defer close(stopped)
		for {
			select {
			case <-time.After(10 * time.Millisecond):
				b.Interrupt()
			case <-over:
				return
			}
		}
	}()
	r, o := b.run(code)
	close(over)
	<-stopped
	return r, o
}

func TestInterruptBetweenCellsDoesNothing(t *testing.T) {
	b := start(t)
	b.must("x := 1")
	b.Interrupt()
	if got := b.must("x + 1"); got != "2" {
		t.Errorf("x + 1 = %s", got)
	}
}

func TestInterruptReachesCompiledCode(t *testing.T) {
	needsInterrupt(t)
	var ctx context.Context
	asked := 0
	in, err := interp.New(interp.Options{
		OnStart:     []func(context.Context){func(c context.Context) { ctx = c }},
		OnInterrupt: []func(){func() { asked++ }},
	})
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	b := &bench{in, t}
	b.must("1")
	if ctx.Err() == nil {
		t.Error("the context of a cell that is over has not ended")
	}
	if asked != 0 || in.Interrupted() {
		t.Errorf("asked to stop %d times, Interrupted = %v", asked, in.Interrupted())
	}
	b.runInterrupted("for {\n}")
	if asked == 0 || !in.Interrupted() || ctx.Err() == nil {
		t.Errorf("asked %d times, Interrupted = %v, context %v", asked, in.Interrupted(), ctx.Err())
	}
	b.must("2")
	if in.Interrupted() {
		t.Error("the next cell counts as interrupted")
	}
}

func TestGoroutinesOutliveTheirCell(t *testing.T) {
	needsInterrupt(t)
	b := start(t)
	b.must("import \"time\"\nout := make(chan int)\nin := make(chan int)\ngo func() {\n\tfor x := range in {\n\t\ttime.Sleep(time.Millisecond)\n\t\tout <- 2 * x\n\t}\n}()")
	if got := b.must("in <- 21\n<-out"); got != "42" {
		t.Errorf("the goroutine of the first cell answered %s", got)
	}
	b.runInterrupted("for {\n}")
	if got := b.must("in <- 4\n<-out"); got != "8" {
		t.Errorf("after the interrupt of another cell it answered %s", got)
	}
}

func TestPanicInAGoroutineFailsTheCell(t *testing.T) {
	needsInterrupt(t)
	b := start(t)
	b.must("import (\"time\"; \"sync\")\nfunc boom(n int) {\n\tvar m map[string]int\n\tm[\"a\"] = n\n}")
	_, o := b.run("go boom(1)\ntime.Sleep(time.Hour)")
	if o.Fault == nil || o.Fault.Name != "Panic" || !strings.Contains(o.Fault.Value, "nil map") || !strings.Contains(plain(o.Fault), "boom") {
		t.Fatalf("fault = %v\n%s", o.Fault, plain(o.Fault))
	}
	if got := b.must("1 + 1"); got != "2" {
		t.Errorf("the next cell gave %s", got)
	}
}

func BenchmarkInterrupt(b *testing.B) {
	in, err := interp.New(interp.Options{})
	if err != nil {
		b.Fatal(err)
	}
	defer in.Close()
	bb := &bench{in, nil}
	running := make(chan bool)
	at := make(chan time.Time)
	go func() {
		for range running {
			time.Sleep(5 * time.Millisecond)
			for {
				t := time.Now()
				in.Interrupt()
				select {
				case at <- t:
				case <-time.After(100 * time.Millisecond): // it came too early
					continue
				}
				break
			}
		}
	}()
	var latency time.Duration
	for b.Loop() {
		running <- true
		bb.run("for {\n}")
		now := time.Now()
		latency += now.Sub(<-at)
	}
	close(running)
	b.ReportMetric(float64(latency.Microseconds())/float64(b.N), "us/interrupt")
}
