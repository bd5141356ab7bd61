package session_test

import (
	"fmt"
	"strings"
	"testing"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/interp"
	"rotorhum/kernel/kerneltest"
	"rotorhum/kernel/session"
)

// cells is a front end that names its cells.
type cells struct{ *kerneltest.Front }

func goCells(t *testing.T) cells {
	r := &closing{gone: make(chan struct{})}
	k := kerneltest.Start(t, session.Options{}, func() (_ cell.Runner, err error) {
		r.Interp, err = interp.New(interp.Options{})
		return r, err
	})
	c := cells{k.Front("anna")}
	t.Cleanup(func() { // the next one needs the standard streams
		c.Stop()
		<-r.gone
	})
	return c
}

// closing is an interpreter that tells when it is closed.
type closing struct {
	*interp.Interp
	gone chan struct{}
}

func (c *closing) Close() {
	c.Interp.Close()
	close(c.gone)
}

func (c cells) run(id, code string, deleted ...string) kerneltest.Answer {
	c.Metadata = set{"cellId": id, "deletedCells": deleted, "recordTiming": false}
	return c.Run(code)
}

// notices returns the text of the notices among what a cell showed.
func notices(a kerneltest.Answer) (out []string) {
	for _, m := range a.IOPub {
		if m.Type() == "display_data" {
			out = append(out, m.Text("data", "text/plain"))
		}
	}
	return out
}

func TestNoticeUnderTheCell(t *testing.T) {
	c := goCells(t)
	for i, code := range []string{"x := 1", "y := x + 1", "x + y", "1"} {
		if got := notices(c.run(fmt.Sprint("cell", i), code)); len(got) > 0 {
			t.Fatalf("from top to bottom there is a notice: %v", got)
		}
	}
	a := c.run("cell0", "x := 5")
	if got := notices(a); len(got) != 1 || !strings.HasPrefix(got[0], "Out of date: In[2], In[3].") || !strings.Contains(got[0], "it used x as it was before In[5] ran") {
		t.Fatalf("after an edit above the notices are %q", got)
	}
	if got := notices(c.run("cell3", "2")); len(got) > 0 {
		t.Errorf("the same is said twice: %q", got)
	}
	if got := notices(c.run("cell1", "y := x + 1")); len(got) != 1 || !strings.HasPrefix(got[0], "Out of date: In[3].") {
		t.Errorf("after one of two has run again: %q", got)
	}
	a = c.run("cell2", "x + y")
	if got := notices(a); len(got) > 0 {
		t.Errorf("all is well, and yet: %q", got)
	}
	c.Wait("the last notice to be taken back", func(m kerneltest.Message) bool {
		return m.Type() == "update_display_data" && m.Text("data", "text/plain") == ""
	})
	if got := notices(c.run("cell4", "y", "cell1")); len(got) != 1 || !strings.Contains(got[0], "In[8]  x + y: it uses y from a cell that is gone") || !strings.Contains(got[0], "from a cell that is gone") {
		t.Errorf("after a deletion: %q", got)
	}
}

func TestRefreshRunsUnderTheOldCells(t *testing.T) {
	c := goCells(t)
	first := c.run("a", "x := 1")
	c.run("b", "x++")
	third := c.run("c", "x * 10")
	second := c.run("b", "x++")
	if got := c.run("d", "stale()").Stream("stdout"); got != "" {
		t.Errorf("stale printed %q", got)
	}
	a := c.run("e", "refresh()")
	equal(t, "status", a.Reply.Text("status"), "ok")
	// The cell c has not been wrong: its result is the one from top to bottom. Only
	// what comes before it is run again.
	again := func(a kerneltest.Answer) (n int) {
		for _, m := range c.Of(a.Reply.Parent.MsgID, "iopub") {
			if m.Type() == "clear_output" {
				n++
			}
		}
		return n
	}
	if again(first) != 1 || again(second) != 1 || again(third) != 0 {
		t.Errorf("run again: a %d times, b %d times, c %d times; want 1, 1 and 0", again(first), again(second), again(third))
	}
	equal(t, "x", c.run("f", "x").Reply.Text("status"), "ok")
	if got := c.run("g", "len(stale())"); got.IOPub[2].Text("data", "text/plain") != "0" {
		t.Errorf("after refresh() stale() lists %v", got.IOPub[2].Text("data", "text/plain"))
	}
	c.run("a", "x := 3")
	a = c.run("e", "refresh()")
	m := c.Wait("the new result under the old cell", func(m kerneltest.Message) bool {
		return m.Parent.MsgID == third.Reply.Parent.MsgID && m.Type() == "execute_result" && m.Text("data", "text/plain") == "40"
	})
	equal(t, "its count", m.Field("execution_count"), 3)
	if got := notices(a); len(got) > 0 {
		t.Errorf("after refresh() there is a notice: %q", got)
	}
}

func TestARunnerWithoutAPageSeesNoNotice(t *testing.T) {
	c := goCells(t)
	for _, code := range []string{"x := 0", "x++", "x", "x++", "x", "x := 0", "x++", "x"} {
		c.Metadata = nil
		if got := notices(c.Run(code, set{"allow_stdin": false})); len(got) > 0 {
			t.Errorf("%s: %q", code, got)
		}
	}
}
