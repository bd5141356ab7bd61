package notebook

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"rotorhum/kernel/cell"
)

// cells makes a notebook of code cells. A source may start with "#tag: a b" to
// tag the cell.
func cells(sources ...string) *Notebook {
	nb := &Notebook{Metadata: map[string]any{}}
	for _, s := range sources {
		c := &Cell{Kind: CodeCell, Source: s, Metadata: map[string]any{}}
		if tags, ok := strings.CutPrefix(s, "#tag: "); ok {
			tags, c.Source, _ = strings.Cut(tags, "\n")
			list := []any{}
			for _, tag := range strings.Fields(tags) {
				list = append(list, tag)
			}
			c.Metadata["tags"] = list
		}
		nb.Cells = append(nb.Cells, c)
	}
	return nb
}

// shown writes a cell's outputs in one line.
func shown(c *Cell) string {
	var parts []string
	for _, o := range c.Outputs {
		switch o.Kind {
		case StreamOutput:
			parts = append(parts, fmt.Sprintf("%s %q", o.Name, o.Text))
		case DisplayOutput:
			parts = append(parts, fmt.Sprintf("display %q", o.Bundle.Data["text/plain"]))
		case ResultOutput:
			parts = append(parts, fmt.Sprintf("result[%d] %q", o.Count, o.Bundle.Data["text/plain"]))
		case ErrorOutput:
			parts = append(parts, fmt.Sprintf("error %s: %s", o.ErrorName, o.ErrorValue))
		}
	}
	return strings.Join(parts, ", ")
}

func TestRunCollects(t *testing.T) {
	tests := []struct {
		name   string
		cells  []string
		shown  []string
		failed int // 1-based cell that stops the run, 0 for none
	}{
		{"pieces of a stream are one output", []string{"out a\nout b\nerr c\nerr d\nout e"},
			[]string{`stdout "a\nb\n", stderr "c\nd\n", stdout "e\n"`}, 0},
		{"a display parts a stream", []string{"out a\nshow - p\nout b"},
			[]string{`stdout "a\n", display "p", stdout "b\n"`}, 0},
		{"a result comes last", []string{"out a\nresult 4", "result 5"},
			[]string{`stdout "a\n", result[1] "4"`, `result[2] "5"`}, 0},
		{"state lives on", []string{"let x 1", "recall x"}, []string{"", `stdout "1\n"`}, 0},
		{"an update reaches earlier cells", []string{"show d one\nshow d two", "update d three", "update none four"},
			[]string{`display "three", display "three"`, "", ""}, 0},
		{"a display under a known id renews the earlier ones", []string{"show d one", "show d two"},
			[]string{`display "two"`, `display "two"`}, 0},
		{"clear", []string{"out a\nshow - p\nclear\nout b"}, []string{`stdout "b\n"`}, 0},
		{"clear wait", []string{"out a\nclear wait\nout b\nout c"}, []string{`stdout "b\nc\n"`}, 0},
		{"clear wait with nothing after", []string{"out a\nclear wait", "out b"}, []string{`stdout "a\n"`, `stdout "b\n"`}, 0},
		{"clear wait before the result", []string{"out a\nclear wait\nresult 1"}, []string{`result[1] "1"`}, 0},
		{"a cleared display is not updated", []string{"show d one\nclear\nout a\nupdate d two"}, []string{`stdout "a\n"`}, 0},
		{"carriage returns", []string{`out 10 %\r20 %\rdone` + "\n" + `out ab\b\bx`}, []string{`stdout "done\nxb\n"`}, 0},
		{"a failure stops the run", []string{"out a\nfail Error no luck", "out never"},
			[]string{`stdout "a\n", error Error: no luck`, ""}, 1},
		{"a planned failure does not", []string{"#tag: raises-error\nfail Error planned", "out b"},
			[]string{`error Error: planned`, `stdout "b\n"`}, 0},
		{"a permitted failure does not", []string{"#tag: x raises-exception\nfail Error planned", "#tag: raises-exception\nout b"},
			[]string{`error Error: planned`, `stdout "b\n"`}, 0},
		{"a planned failure that does not come", []string{"#tag: raises-error\nout fine", "out never"},
			[]string{`stdout "fine\n"`, ""}, 1},
		{"cells passed over", []string{"", "  \n", "#tag: skip-execution\nout a", "result 1"},
			[]string{"", "", "", `result[1] "1"`}, 0},
		{"late output is not stored", []string{"out a\nlater b", "out c"}, []string{`stdout "a\n"`, `stdout "c\n"`}, 0},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			nb := cells(test.cells...)
			nb.Cells[len(nb.Cells)-1].Outputs = []*Output{{Kind: StreamOutput, Name: "stdout", Text: "of an earlier run"}}
			res, err := nb.Run(context.Background(), newToy(), RunOptions{})
			if err != nil {
				t.Fatal(err)
			}
			for i, want := range test.shown {
				if got := shown(nb.Cells[i]); got != want {
					t.Errorf("cell %d shows %s\nwant %s", i+1, got, want)
				}
			}
			failed := 0
			if res.Failed != nil {
				failed = res.Failed.Number
			}
			if failed != test.failed {
				t.Errorf("the run failed at cell %d, want %d", failed, test.failed)
			}
			if late := map[bool]int{true: 1}[strings.Contains(test.cells[0], "later")]; res.Late != late {
				t.Errorf("late pieces: %d, want %d", res.Late, late)
			}
		})
	}
}

func TestRunLimits(t *testing.T) {
	limited := func(m map[string]any) map[string]any { return map[string]any{kernelName: m} }
	spin := func(cell, notebook map[string]any, source string) *Notebook {
		nb := cells(source, "out after")
		nb.Metadata, nb.Cells[0].Metadata = notebook, cell
		return nb
	}
	short := map[string]any{"timeout_s": json.Number("0.02")}
	long := map[string]any{"timeout_s": json.Number("3600")}
	tests := []struct {
		name string
		nb   *Notebook
		opt  RunOptions
	}{
		{"the cell's own", spin(limited(short), limited(long), "out a\nspin"), RunOptions{}},
		{"the notebook's", spin(map[string]any{}, limited(short), "out a\nspin"), RunOptions{}},
		{"the caller's", spin(limited(long), limited(long), "out a\nspin"), RunOptions{Timeout: 20 * time.Millisecond}},
		{"ends late but by itself", spin(limited(short), map[string]any{}, "out a\nnap"), RunOptions{}},
		{"must be killed", spin(limited(short), map[string]any{}, "out a\ndeaf"), RunOptions{Grace: 20 * time.Millisecond}},
		{"a planned failure is no time limit", spin(map[string]any{kernelName: short, "tags": []any{RaisesError}}, map[string]any{}, "out a\nspin"), RunOptions{}},
	}
	for _, test := range tests {
		res, err := test.nb.Run(context.Background(), newToy(), test.opt)
		if err != nil {
			t.Fatal(err)
		}
		if res.Failed == nil || res.Failed.Fault.Name != FaultTimeout || res.Failed.Number != 1 {
			t.Errorf("%s: the run ended with %+v, want a %s in cell 1", test.name, res.Failed, FaultTimeout)
		}
		if got := shown(test.nb.Cells[0]); !strings.HasPrefix(got, `stdout "a\n", error Timeout: `) {
			t.Errorf("%s: what was shown before is %s", test.name, got)
		}
	}
	for _, bad := range []any{nil, json.Number("-1"), json.Number("0"), json.Number("1e300"), "5", true} {
		nb := spin(limited(map[string]any{"timeout_s": bad}), map[string]any{}, "")
		if got := nb.timeLimit(nb.Cells[0]); got != DefaultTimeout {
			t.Errorf("timeout_s %v gives a limit of %v, want %v", bad, got, DefaultTimeout)
		}
	}
}

func TestRunInterrupted(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	nb := cells("out a", "#tag: raises-error\nout b\nspin", "out never")
	res, err := nb.Run(ctx, newToy(), RunOptions{Started: func(_ *Cell, number, of int) {
		if of != 3 {
			t.Errorf("told of %d cells, want 3", of)
		}
		if number == 2 {
			cancel()
		}
	}})
	if err != nil {
		t.Fatal(err)
	}
	if res.Failed == nil || res.Failed.Number != 2 || res.Failed.Fault.Name != "Interrupted" {
		t.Errorf("the run ended with %+v, want an interrupted cell 2", res.Failed)
	}
	if shown(nb.Cells[0]) != `stdout "a\n"` || len(nb.Cells[2].Outputs) != 0 {
		t.Errorf("kept %s and %s", shown(nb.Cells[0]), shown(nb.Cells[2]))
	}
}

func TestRunLanguage(t *testing.T) {
	spec := func(name, language string) map[string]any {
		return map[string]any{"kernelspec": map[string]any{"name": name, "language": language, "display_name": name}}
	}
	for _, m := range []map[string]any{{}, spec("rotorhum", "go"), spec("another", "Go"), spec("rotorhum", "")} {
		nb := cells("out a")
		nb.Metadata = m
		if _, err := nb.Run(context.Background(), newToy(), RunOptions{}); err != nil {
			t.Errorf("%v: %v", m, err)
		}
		if nb.KernelName() == "" || textAt(nb.Metadata, "language_info", "name") != "go" {
			t.Errorf("after the run the notebook does not say its language: %v", nb.Metadata)
		}
	}
	for _, m := range []map[string]any{spec("python3", "python"), spec("julia-1.9", ""), {"language_info": map[string]any{"name": "R"}}} {
		nb := cells("out a")
		nb.Metadata = m
		nb.Cells[0].Outputs = []*Output{{Kind: StreamOutput, Name: "stdout", Text: "kept"}}
		if _, err := nb.Run(context.Background(), newToy(), RunOptions{}); !errors.Is(err, ErrKernel) {
			t.Errorf("%v: Run = %v, want ErrKernel", m, err)
		}
		if shown(nb.Cells[0]) != `stdout "kept"` {
			t.Errorf("%v: a refused notebook was changed", m)
		}
	}
}

// What cells show need not have a JSON form; the notebook still can be written.
func TestRunStoresOddValues(t *testing.T) {
	nb := cells("x")
	run := oddRunner{newToy()}
	if _, err := nb.Run(context.Background(), run, RunOptions{}); err != nil {
		t.Fatal(err)
	}
	file, err := nb.Encode()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`"a": [`, `"plain"`} {
		if !strings.Contains(string(file), want) {
			t.Errorf("%s is missing in %s", want, file)
		}
	}
}

type oddRunner struct{ *toy }

func (oddRunner) Run(q cell.Request) cell.Outcome {
	q.Sink.Display(cell.Bundle{Data: map[string]any{
		"text/plain": "plain", "application/json": struct {
			A []float32 `json:"a"`
		}{[]float32{1}}, "application/x+json": func() {},
	}}, "")
	return cell.Outcome{}
}
