package session_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"rotorhum/kernel/kerneltest"
)

func TestExecuteOrder(t *testing.T) {
	_, f := start(t)
	a := f.Run("print one\nwarn two\nshow d three\nagain d four\nclear wait\nset x 5\n= x")
	equal(t, "iopub", a.Types(), "[status busy execute_input stream stream display_data update_display_data clear_output execute_result status idle]")
	equal(t, "status", a.Reply.Text("status"), "ok")
	equal(t, "count", a.Reply.Field("execution_count"), 1)
	equal(t, "input", a.IOPub[1].Text("code"), "print one\nwarn two\nshow d three\nagain d four\nclear wait\nset x 5\n= x")
	equal(t, "stdout", a.Stream("stdout"), "one\n")
	equal(t, "stderr", a.Stream("stderr"), "two\n")
	id := a.Reply.Header.Session + ".d" // no other kernel has such a one
	equal(t, "display", a.IOPub[4].Text("data", "text/plain")+" "+a.IOPub[4].Text("transient", "display_id"), "three "+id)
	equal(t, "update", a.IOPub[5].Text("data", "text/plain")+" "+a.IOPub[5].Text("transient", "display_id"), "four "+id)
	equal(t, "wait", a.IOPub[6].Field("wait"), true)
	equal(t, "result", a.IOPub[7].Text("data", "text/plain"), "5")
	var meta struct{ Started time.Time }
	if err := json.Unmarshal(a.Reply.Metadata, &meta); err != nil || meta.Started.IsZero() {
		t.Errorf("reply metadata %s: %v", a.Reply.Metadata, err)
	}
	equal(t, "anonymous display", f.Run("show - x").IOPub[2].Field("transient"), "map[]")
}

func TestExecutionCount(t *testing.T) {
	_, f := start(t)
	count := func(a kerneltest.Answer) any { return a.Reply.Field("execution_count") }
	equal(t, "first", count(f.Run("print a")), 1)
	equal(t, "not stored", count(f.Run("print a", set{"store_history": false})), 2)
	silent := f.Run("print a\nwarn b\nshow - c\nset x 1\n= x", set{"silent": true, "store_history": true})
	equal(t, "a silent cell publishes", silent.Types(), "[status busy status idle]")
	silent = f.Run("fail quietly", set{"silent": true})
	equal(t, "a silent failing cell publishes", silent.Types(), "[status busy status idle]")
	equal(t, "a silent failing cell replies", silent.Reply.Text("evalue"), "quietly")
	equal(t, "second", count(f.Run("print a")), 2)
	equal(t, "failing", count(f.Run("fail")), 3)
	equal(t, "after the failure", count(f.Run("print a")), 4)
}

func TestErrorCell(t *testing.T) {
	_, f := start(t)
	a := f.Run("print one\nfail badly")
	equal(t, "iopub", a.Types(), "[status busy execute_input stream error status idle]")
	for _, m := range []kerneltest.Message{a.Reply, a.IOPub[3]} {
		equal(t, "error", m.Text("ename")+"|"+m.Text("evalue"), "Error|badly")
		equal(t, "traceback", m.Field("traceback"), "[In[1]:2 fail badly Error: badly]")
	}
}

func TestUserExpressions(t *testing.T) {
	_, f := start(t)
	a := f.Run("set x 5", set{"user_expressions": set{"good": "x", "bad": "y"}})
	equal(t, "status", a.Reply.Text("status"), "ok")
	equal(t, "good", a.Reply.Field("user_expressions", "good"), "map[data:map[text/plain:5] metadata:map[] status:ok]")
	equal(t, "bad", a.Reply.Text("user_expressions", "bad", "status")+" "+a.Reply.Text("user_expressions", "bad", "evalue"), "error undefined: y")
	a = f.Run("fail", set{"user_expressions": set{"good": "x"}})
	equal(t, "after a failure", a.Reply.Field("user_expressions"), "map[]")
}

func TestQueueIsAbortedAfterAnError(t *testing.T) {
	_, f := start(t)
	f.Wait("start", func(m kerneltest.Message) bool { return m.Type() == "status starting" })
	loop := f.Execute("loop")
	behind := []string{f.Execute("print one"), f.Execute("print two")}
	info := f.Send("shell", "kernel_info_request", set{})
	f.Wait("the loop", func(m kerneltest.Message) bool { return m.Parent.MsgID == loop && m.Type() == "execute_input" })
	f.Send("control", "interrupt_request", set{})
	equal(t, "interrupted", f.Idle(loop, "shell", true).Reply.Text("ename"), "Interrupted")
	for _, id := range behind {
		a := f.Idle(id, "shell", true)
		equal(t, "queued cell", a.Reply.Text("status"), "aborted")
		equal(t, "its iopub", a.Types(), "[status busy status idle]")
	}
	equal(t, "other requests", f.Idle(info, "shell", true).Reply.Text("status"), "ok")
	equal(t, "a cell sent after the failure was known", f.Run("print three").Stream("stdout"), "three\n")
}

// dated returns the frames of a cell that the client sent at a time.
func dated(f *kerneltest.Front, id, code string, sent time.Time) [][]byte {
	const header = `{"msg_id":%q,"session":"anna","username":"u","date":%q,"msg_type":"execute_request","version":"5.3"}`
	return f.Signed(fmt.Sprintf(header, id, sent.UTC().Format("2006-01-02T15:04:05.000000Z")), `{}`, `{}`, fmt.Sprintf(`{"code":%q}`, code))
}

// However fast a cell fails, those that the client sent right behind it are
// aborted, though they arrive when it has failed.
func TestCellsRightBehindAFailureAreAborted(t *testing.T) {
	for _, skew := range []time.Duration{0, -time.Hour, 5 * time.Minute} { // of the client's clock
		_, f := start(t)
		for i := range 10 {
			now := time.Now().Add(skew)
			id := func(name string) string { return fmt.Sprint(name, i) }
			cells := [][][]byte{dated(f, id("a"), "fail at once", now), dated(f, id("b"), "print one", now), dated(f, id("c"), "print two", now)}
			f.Raw("shell", cells[0]...)
			f.Raw("shell", cells[1]...)
			equal(t, "the failing cell", f.Idle(id("a"), "shell", true).Reply.Text("status"), "error")
			equal(t, "the one behind it", f.Idle(id("b"), "shell", true).Reply.Text("status"), "aborted")
			f.Raw("shell", cells[2]...)
			equal(t, "the one that was long on its way", f.Idle(id("c"), "shell", true).Reply.Text("status"), "aborted")
			later := dated(f, id("d"), "print three", time.Now().Add(skew))
			f.Raw("shell", later...)
			equal(t, "one sent after the failure was known", f.Idle(id("d"), "shell", true).Reply.Text("status"), "ok")
		}
	}
}

// A client that dates its messages in whole seconds, or all alike, says nothing
// about their order.
func TestCoarseDatesAbortNothing(t *testing.T) {
	_, f := start(t)
	date := time.Now().Truncate(time.Second)
	for i := range 3 {
		id := func(name string) string { return fmt.Sprint(name, i) }
		f.Raw("shell", dated(f, id("a"), "fail", date)...)
		equal(t, "the failing cell", f.Idle(id("a"), "shell", true).Reply.Text("status"), "error")
		f.Raw("shell", dated(f, id("b"), "print one", date)...)
		equal(t, "one sent after the failure was known", f.Idle(id("b"), "shell", true).Reply.Text("status"), "ok")
	}
}

func TestQueueGoesOnIfAsked(t *testing.T) {
	_, f := start(t)
	first, second := f.Execute("fail", set{"stop_on_error": false}), f.Execute("print two")
	equal(t, "first", f.Idle(first, "shell", true).Reply.Text("status"), "error")
	equal(t, "second", f.Idle(second, "shell", true).Stream("stdout"), "two\n")
}

func TestPagerAndValuesThatJSONCannotHold(t *testing.T) {
	_, f := start(t)
	a := f.Run("page help")
	equal(t, "payload", a.Reply.Field("payload"), "[map[data:map[text/plain:help] source:page start:0]]")
	a = f.Run("nan half")
	equal(t, "iopub", a.Types(), "[status busy execute_input display_data stream status idle]")
	equal(t, "what can be shown", a.IOPub[2].Field("data"), "map[text/plain:half]")
	if !strings.Contains(a.Stream("stderr"), "application/json") {
		t.Errorf("stderr %q does not name what is missing", a.Stream("stderr"))
	}
}

func TestLateOutputBelongsToItsCell(t *testing.T) {
	toy, f := start(t)
	a := f.Run("later and more")
	f.Run("print between")
	close(toy.Release)
	toy.Late()
	f.Wait("late output", func(m kerneltest.Message) bool { return m.Parent.MsgID == a.ID && m.Text("text") == "and more\n" })
}
