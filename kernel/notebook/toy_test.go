package notebook

import (
	"fmt"
	"strings"
	"time"

	"rotorhum/kernel/cell"
)

// toy is a runner whose language is one verb per line, so that the tests of
// this package say exactly what a cell shows:
//
//	out TEXT      print TEXT and a line end to standard output (\r and \b allowed)
//	err TEXT      the same to standard error
//	show ID TEXT  display TEXT under ID, "-" for none
//	update ID TEXT
//	clear, clear wait
//	result TEXT   end with a result
//	fail NAME TEXT
//	spin          run until interrupted
//	deaf          run until killed
//	let A B       remember; recall A prints it
//	later TEXT    print after the cell has ended
type toy struct {
	memory      map[string]string
	interrupted chan struct{}
	killed      chan struct{}
	after       []func()
}

func newToy() *toy {
	return &toy{memory: map[string]string{}, interrupted: make(chan struct{}, 1), killed: make(chan struct{})}
}

func text(s string) cell.Bundle { return cell.Bundle{Data: map[string]any{"text/plain": s}} }

func (t *toy) Run(q cell.Request) cell.Outcome {
	for _, f := range t.after {
		f()
	}
	t.after = nil
	select {
	case <-t.interrupted:
	default:
	}
	for n, line := range strings.Split(q.Code, "\n") {
		verb, rest, _ := strings.Cut(line, " ")
		first, second, _ := strings.Cut(rest, " ")
		rest = strings.NewReplacer(`\r`, "\r", `\b`, "\b").Replace(rest)
		if first == "-" {
			first = ""
		}
		switch verb {
		case "", "#":
		case "out":
			q.Sink.Stream("stdout", rest+"\n")
		case "err":
			q.Sink.Stream("stderr", rest+"\n")
		case "show":
			q.Sink.Display(text(second), first)
		case "update":
			q.Sink.Update(text(second), first)
		case "clear":
			q.Sink.Clear(rest == "wait")
		case "result":
			b := text(rest)
			return cell.Outcome{Result: &b}
		case "fail":
			return cell.Outcome{Fault: &cell.Fault{Name: first, Value: second, Line: n + 1,
				Traceback: []string{first + ": " + second}}}
		case "spin":
			<-t.interrupted
			return cell.Outcome{Fault: &cell.Fault{Name: "Interrupted", Value: "interrupted"}}
		case "deaf":
			<-t.killed
			return cell.Outcome{Fault: &cell.Fault{Name: FaultSessionEnded, Value: "killed"}}
		case "nap":
			time.Sleep(50 * time.Millisecond)
		case "let":
			t.memory[first] = second
		case "recall":
			q.Sink.Stream("stdout", t.memory[first]+"\n")
		case "later":
			sink := q.Sink
			t.after = append(t.after, func() { sink.Stream("stdout", rest) })
		default:
			return cell.Outcome{Fault: &cell.Fault{Name: "CompileError", Value: fmt.Sprintf("%s:%d: no verb %q", q.Name, n+1, verb)}}
		}
	}
	return cell.Outcome{}
}

func (t *toy) Interrupt() {
	select {
	case t.interrupted <- struct{}{}:
	default:
	}
}

func (t *toy) Kill() { close(t.killed) }

func (t *toy) Expr(string) (cell.Bundle, *cell.Fault)                { return text(""), nil }
func (t *toy) Complete(code string, pos int) cell.Completion         { return cell.Completion{} }
func (t *toy) Inspect(code string, pos, d int) (cell.Bundle, bool)   { return text(""), false }
func (t *toy) IsComplete(code string) (status string, indent string) { return "complete", "" }
