package child

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/notebook"
)

// The test binary is its own child: with this variable set it serves a runner.
const asChild = "ROTORHUM_TEST_CHILD"

func TestMain(m *testing.M) {
	switch os.Getenv(asChild) {
	case "":
		os.Exit(m.Run())
	case "unable":
		in, out := Pipes()
		Serve(in, out, func() (cell.Runner, error) { return nil, errors.New("no interpreter here") }, func() {})
	default:
		in, out := Pipes()
		Serve(in, out, func() (cell.Runner, error) { return &rough{stop: make(chan struct{}, 1)}, nil }, func() { os.Exit(1) })
	}
}

// rough is a runner whose cells do to their process what a cell may do.
type rough struct{ stop chan struct{} }

func (r *rough) Run(q cell.Request) cell.Outcome {
	verb, rest, _ := strings.Cut(q.Code, " ")
	switch verb {
	case "show":
		q.Sink.Stream("stdout", rest)
		q.Sink.Display(cell.Bundle{Data: map[string]any{"text/plain": rest, "application/json": []int{1, 2}, "x": func() {}}}, "id")
		q.Sink.Update(cell.Bundle{Data: map[string]any{"text/plain": rest + "!"}}, "id")
		q.Sink.Clear(true)
		q.Sink.Page(cell.Bundle{})
		return cell.Outcome{Result: &cell.Bundle{Data: map[string]any{"text/plain": q.Name}}}
	case "fail":
		return cell.Outcome{Fault: &cell.Fault{Name: "Error", Value: rest, Line: 2, Column: 3, Traceback: []string{"a", "b"}}}
	case "folder":
		dir, _ := os.Getwd()
		q.Sink.Stream("stdout", dir)
	case "spin":
		q.Sink.Stream("stdout", "spinning")
		<-r.stop
		return cell.Outcome{Fault: &cell.Fault{Name: "Interrupted", Value: "stopped"}}
	case "deaf":
		q.Sink.Stream("stdout", fmt.Sprint(os.Getpid()))
		select {}
	case "exit":
		os.Exit(3)
	case "panic":
		fmt.Fprintln(os.Stderr, "last words")
		go func() { panic("on a goroutine") }()
		select {}
	case "leave":
		// A process that outlives the cell and holds the standard streams.
		c := exec.Command("sleep", "600")
		c.Stdout, c.Stderr = os.Stdout, os.Stderr
		if err := c.Start(); err != nil {
			return cell.Outcome{Fault: &cell.Fault{Name: "Error", Value: err.Error()}}
		}
		q.Sink.Stream("stdout", fmt.Sprint(c.Process.Pid))
	}
	return cell.Outcome{}
}

func (r *rough) Interrupt() { r.stop <- struct{}{} }

func (r *rough) Expr(code string) (cell.Bundle, *cell.Fault) {
	if code == "" {
		return cell.Bundle{}, &cell.Fault{Name: "CompileError", Value: "nothing"}
	}
	return cell.Bundle{Data: map[string]any{"text/plain": "=" + code}}, nil
}

func (r *rough) Complete(code string, pos int) cell.Completion {
	return cell.Completion{Start: pos - 1, End: pos, Matches: []cell.Match{{Text: code + "x", Kind: "variable"}}}
}

func (r *rough) Inspect(code string, pos, detail int) (cell.Bundle, bool) {
	return cell.Bundle{Data: map[string]any{"text/plain": fmt.Sprint(code, pos, detail)}}, detail == 1
}

func (r *rough) IsComplete(code string) (status, indent string) { return "incomplete", "  " }

// record is a sink that writes down what it is told.
type record struct{ told []string }

func (r *record) Stream(name, text string) { r.told = append(r.told, name+" "+text) }
func (r *record) Display(b cell.Bundle, id string) {
	r.told = append(r.told, fmt.Sprint("display ", id, " ", b.Data))
}
func (r *record) Update(b cell.Bundle, id string) {
	r.told = append(r.told, fmt.Sprint("update ", id, " ", b.Data))
}
func (r *record) Clear(wait bool)  { r.told = append(r.told, fmt.Sprint("clear ", wait)) }
func (r *record) Page(cell.Bundle) { r.told = append(r.told, "page") }

func start(t *testing.T, dir string) *Session {
	t.Helper()
	t.Setenv(asChild, "rough")
	s, err := Start(dir, os.Args[0])
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func run(s *Session, code string) (cell.Outcome, []string) {
	var r record
	out := s.Run(cell.Request{Name: "In[1]", Code: code, Sink: &r})
	return out, r.told
}

func TestEverythingPasses(t *testing.T) {
	s := start(t, "")
	out, told := run(s, "show it")
	want := "[stdout it display id map[application/json:[1 2] text/plain:it] update id map[text/plain:it!] clear true page]"
	if got := fmt.Sprint(told); got != want {
		t.Errorf("the sink is told\n%s, want\n%s", got, want)
	}
	if out.Fault != nil || out.Result == nil || out.Result.Data["text/plain"] != "In[1]" {
		t.Errorf("the outcome is %+v", out)
	}
	out, _ = run(s, "fail so")
	if f := out.Fault; f == nil || f.Name != "Error" || f.Value != "so" || f.Line != 2 || f.Column != 3 || len(f.Traceback) != 2 || out.Result != nil {
		t.Errorf("the outcome is %+v", out)
	}
	if b, fault := s.Expr("1+1"); fault != nil || b.Data["text/plain"] != "=1+1" {
		t.Errorf("Expr = %v, %v", b, fault)
	}
	if _, fault := s.Expr(""); fault == nil || fault.Value != "nothing" {
		t.Errorf("Expr of nothing = %v", fault)
	}
	if c := s.Complete("ab", 2); c.Start != 1 || c.End != 2 || len(c.Matches) != 1 || c.Matches[0].Text != "abx" {
		t.Errorf("Complete = %+v", c)
	}
	if b, found := s.Inspect("ab", 1, 1); !found || b.Data["text/plain"] != "ab1 1" {
		t.Errorf("Inspect = %v, %v", b, found)
	}
	if _, found := s.Inspect("ab", 1, 0); found {
		t.Error("Inspect found what is not there")
	}
	if status, indent := s.IsComplete("x"); status != "incomplete" || indent != "  " {
		t.Errorf("IsComplete = %q, %q", status, indent)
	}
}

func TestFolder(t *testing.T) {
	dir, err := filepath.EvalSymlinks(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	s := start(t, dir)
	if _, told := run(s, "folder"); fmt.Sprint(told) != "[stdout "+dir+"]" {
		t.Errorf("the cell runs in %v, want %s", told, dir)
	}
}

func TestInterruptKeepsTheSession(t *testing.T) {
	s := start(t, "")
	time.AfterFunc(50*time.Millisecond, s.Interrupt)
	if out, _ := run(s, "spin"); out.Fault == nil || out.Fault.Name != "Interrupted" {
		t.Errorf("the interrupted cell ended with %+v", out)
	}
	if out, _ := run(s, "show on"); out.Result == nil {
		t.Errorf("after an interrupt a cell ended with %+v", out)
	}
}

func TestEndOfTheProcess(t *testing.T) {
	tests := []struct{ code, says string }{
		{"exit", "exit status 3"},
		{"panic", "last words"},
	}
	for _, test := range tests {
		s := start(t, "")
		out, _ := run(s, test.code)
		if out.Fault == nil || out.Fault.Name != notebook.FaultSessionEnded || !strings.Contains(out.Fault.Value, test.says) {
			t.Errorf("%s ends with %+v, want %s saying %q", test.code, out.Fault, notebook.FaultSessionEnded, test.says)
		}
		for _, line := range out.Fault.Traceback {
			if strings.Contains(line, ".go:") {
				t.Errorf("%s: the traceback holds a line of the stack: %q", test.code, line)
			}
		}
		if again, _ := run(s, "show on"); again.Fault == nil || again.Fault.Name != notebook.FaultSessionEnded {
			t.Errorf("%s: the next cell ended with %+v", test.code, again)
		}
		if status, _ := s.IsComplete("x"); status != "" {
			t.Errorf("%s: a look-up after the end gives %q", test.code, status)
		}
	}
}

// A cell that hears no interrupt is ended with its process; what it showed
// before is kept.
func TestDeafCell(t *testing.T) {
	s := start(t, "")
	nb := &notebook.Notebook{Metadata: map[string]any{}, Cells: []*notebook.Cell{
		{Kind: notebook.CodeCell, Source: "deaf", Metadata: map[string]any{"rotorhum": map[string]any{"timeout_s": json.Number("0.2")}}},
	}}
	res, err := nb.Run(context.Background(), s, notebook.RunOptions{Grace: 100 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	if res.Failed == nil || res.Failed.Fault.Name != notebook.FaultTimeout || !strings.Contains(res.Failed.Fault.Value, "its session was ended") {
		t.Errorf("the run ended with %+v", res.Failed)
	}
	if o := nb.Cells[0].Outputs; len(o) != 2 || o[0].Text == "" {
		t.Errorf("stored are %+v", o)
	}
}

// Processes that a cell leaves behind do not outlive the session.
func TestNothingIsLeft(t *testing.T) {
	s := start(t, "")
	_, told := run(s, "leave")
	if len(told) != 1 {
		t.Fatalf("told %v", told)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	pid := strings.TrimPrefix(told[0], "stdout ")
	// A killed process takes a moment to be gone.
	for end := time.Now().Add(30 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		state, err := os.ReadFile("/proc/" + pid + "/stat")
		if err != nil || strings.Contains(string(state), ") Z ") {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("process %s lives on: %s", pid, state)
		}
	}
}

func TestStartFails(t *testing.T) {
	if _, err := Start("", "/nonexistent/program"); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a missing program: %v", err)
	}
	if _, err := Start("/nonexistent/folder", os.Args[0]); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a missing folder: %v", err)
	}
	if _, err := Start("", "true"); err == nil || !strings.Contains(err.Error(), "did not start") {
		t.Errorf("a program that serves nothing: %v", err)
	}
	t.Setenv(asChild, "unable")
	if _, err := Start("", os.Args[0]); err == nil || err.Error() != "no interpreter here" {
		t.Errorf("a runner that cannot be made: %v", err)
	}
}
