package kerneltest

import (
	"fmt"
	"math"
	"sort"
	"strings"
	"sync"

	"rotorhum/kernel/cell"
)

// Toy is an interpreter with the manners of a real one. A cell is a list of
// commands, one a line:
//
//	print TEXT, warn TEXT     write a line to stdout, stderr
//	show ID TEXT              display, under an identifier unless it is -
//	again ID TEXT             replace that display
//	clear, clear wait         clear the output
//	page TEXT                 show in the pager
//	nan TEXT                  display something that JSON cannot express
//	ask PROMPT, secret PROMPT ask for a line and print it
//	set NAME TEXT             remember
//	= NAME                    the value, as the cell's result if it comes last
//	fail TEXT                 end with an error
//	crash TEXT                panic in the interpreter itself
//	loop                      run until interrupted
//	deaf                      run until Release, whatever happens
//	later TEXT                print from a goroutine once Release is called
type Toy struct {
	// Release lets deaf cells end and later ones print, by being closed.
	Release chan struct{}

	names map[string]string
	late  sync.WaitGroup

	mu        sync.Mutex
	interrupt chan struct{} // closed by Interrupt; nil while no cell runs
}

// NewToy returns a Toy that knows nothing.
func NewToy() *Toy { return &Toy{Release: make(chan struct{}), names: map[string]string{}} }

// Late waits until everything that was to print later has printed.
func (t *Toy) Late() { t.late.Wait() }

func text(s string) cell.Bundle { return cell.Bundle{Data: map[string]any{"text/plain": s}} }

// Run runs a cell.
func (t *Toy) Run(r cell.Request) (end cell.Outcome) {
	stop := make(chan struct{})
	t.mu.Lock()
	t.interrupt = stop
	t.mu.Unlock()
	defer func() {
		t.mu.Lock()
		t.interrupt = nil
		t.mu.Unlock()
	}()
	for i, line := range strings.Split(r.Code, "\n") {
		word, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
		fail := func(name, value string) cell.Outcome {
			at := fmt.Sprintf("%s:%d", r.Name, i+1)
			return cell.Outcome{Fault: &cell.Fault{Name: name, Value: value, Traceback: []string{at, line, name + ": " + value}, Line: i + 1}}
		}
		end.Result = nil
		switch word {
		case "", "#":
		case "print":
			r.Sink.Stream("stdout", rest+"\n")
		case "warn":
			r.Sink.Stream("stderr", rest+"\n")
		case "show", "again":
			id, shown, _ := strings.Cut(rest, " ")
			switch {
			case word == "again":
				r.Sink.Update(text(shown), id)
			case id == "-":
				r.Sink.Display(text(shown), "")
			default:
				r.Sink.Display(text(shown), id)
			}
		case "clear":
			r.Sink.Clear(rest == "wait")
		case "page":
			r.Sink.Page(text(rest))
		case "nan":
			b := text(rest)
			b.Data["application/json"] = map[string]any{"x": math.NaN()}
			r.Sink.Display(b, "")
		case "ask", "secret":
			if r.Input == nil {
				return fail("Error", "nobody can be asked here")
			}
			line, err := r.Input(rest, word == "secret")
			if err != nil {
				return fail("Interrupted", err.Error())
			}
			r.Sink.Stream("stdout", line+"\n")
		case "set":
			name, value, _ := strings.Cut(rest, " ")
			t.names[name] = value
		case "=":
			b, fault := t.Expr(rest)
			if fault != nil {
				return fail(fault.Name, fault.Value)
			}
			end.Result = &b
		case "fail":
			return fail("Error", rest)
		case "crash":
			panic(rest)
		case "loop":
			<-stop
			return fail("Interrupted", "the cell was interrupted")
		case "deaf":
			<-t.Release
		case "later":
			t.late.Go(func() {
				<-t.Release
				r.Sink.Stream("stdout", rest+"\n")
			})
		default:
			return fail("CompileError", fmt.Sprintf("there is no command %q", word))
		}
	}
	return end
}

// Expr returns the value of a name.
func (t *Toy) Expr(code string) (cell.Bundle, *cell.Fault) {
	value, known := t.names[code]
	if !known {
		return cell.Bundle{}, &cell.Fault{Name: "CompileError", Value: "undefined: " + code}
	}
	return text(value), nil
}

// Complete lists the names that begin like the word before pos.
func (t *Toy) Complete(code string, pos int) cell.Completion {
	start := strings.LastIndexAny(code[:pos], " \n") + 1
	c := cell.Completion{Start: start, End: pos}
	for name, value := range t.names {
		if strings.HasPrefix(name, code[start:pos]) {
			c.Matches = append(c.Matches, cell.Match{Text: name, Kind: "variable", Signature: name + " = " + value})
		}
	}
	sort.Slice(c.Matches, func(i, j int) bool { return c.Matches[i].Text < c.Matches[j].Text })
	return c
}

// Inspect describes the name that ends at pos.
func (t *Toy) Inspect(code string, pos, detail int) (cell.Bundle, bool) {
	name := code[strings.LastIndexAny(code[:pos], " \n")+1 : pos]
	value, known := t.names[name]
	if detail > 0 {
		value += " in detail"
	}
	return text(value), known
}

// IsComplete takes a trailing \ for "there is more" and a ? for nonsense.
func (t *Toy) IsComplete(code string) (status, indent string) {
	switch {
	case strings.HasSuffix(code, `\`):
		return "incomplete", "\t"
	case strings.HasSuffix(code, "?"):
		return "invalid", ""
	}
	return "complete", ""
}

// Interrupt ends a loop.
func (t *Toy) Interrupt() {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.interrupt != nil {
		select {
		case <-t.interrupt:
		default:
			close(t.interrupt)
		}
	}
}
