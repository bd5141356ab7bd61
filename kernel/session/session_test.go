package session_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/kerneltest"
	"rotorhum/kernel/session"
)

type set = map[string]any

// start returns a kernel over a toy interpreter, and a front end.
func start(t *testing.T) (*kerneltest.Toy, *kerneltest.Front) {
	t.Helper()
	toy := kerneltest.NewToy()
	about := session.About{Version: "1.2.3", Banner: "hello"}
	k := kerneltest.Start(t, session.Options{About: about}, func() (cell.Runner, error) { return toy, nil })
	return toy, k.Front("anna")
}

func equal(t *testing.T, what string, got, want any) {
	t.Helper()
	if g, w := fmt.Sprint(got), fmt.Sprint(want); g != w {
		t.Errorf("%s: got %s, want %s", what, g, w)
	}
}

func TestKernelInfo(t *testing.T) {
	_, f := start(t)
	for _, channel := range []string{"shell", "control"} {
		a := f.Idle(f.Send(channel, "kernel_info_request", set{}), channel, true)
		equal(t, channel+" iopub", a.Types(), "[status busy status idle]")
		language := a.Reply.Field("language_info").(map[string]any)
		for name, want := range map[string]string{"name": "go", "file_extension": ".go", "mimetype": "text/x-go", "pygments_lexer": "go", "codemirror_mode": "go"} {
			equal(t, name, language[name], want)
		}
		if _, there := language["nbconvert_exporter"]; there {
			t.Error("language_info names an nbconvert exporter")
		}
		if v, _ := language["version"].(string); !strings.HasPrefix(v, "1.") {
			t.Errorf("language version %q, want that of Go without the word go", v)
		}
		equal(t, "implementation", a.Reply.Text("implementation")+" "+a.Reply.Text("implementation_version"), "rotorhum 1.2.3")
	}
}

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

func TestQueueGoesOnIfAsked(t *testing.T) {
	_, f := start(t)
	first, second := f.Execute("fail", set{"stop_on_error": false}), f.Execute("print two")
	equal(t, "first", f.Idle(first, "shell", true).Reply.Text("status"), "error")
	equal(t, "second", f.Idle(second, "shell", true).Stream("stdout"), "two\n")
}

func TestInterruptKeepsState(t *testing.T) {
	_, f := start(t)
	f.Run("set x 7")
	for _, how := range []string{"message", "signal"} {
		loop := f.Execute("print on\nloop")
		f.Wait("the loop", func(m kerneltest.Message) bool { return m.Parent.MsgID == loop && m.Type() == "stream" })
		if how == "message" {
			a := f.Idle(f.Send("control", "interrupt_request", set{}), "control", true)
			equal(t, "interrupt_reply", a.Reply.Text("status"), "ok")
		} else {
			f.Interrupt()
		}
		equal(t, how, f.Idle(loop, "shell", true).Reply.Text("ename"), "Interrupted")
		equal(t, "state", f.Run("= x").IOPub[2].Text("data", "text/plain"), "7")
	}
	f.Interrupt() // while idle
	equal(t, "idle interrupt", f.Run("= x").Reply.Text("status"), "ok")
}

// An interrupt for a cell that cannot be interrupted says so and does not lose it.
func TestInterruptOfADeafCell(t *testing.T) {
	toy, f := start(t)
	deaf := f.Execute("print on\ndeaf\nprint off")
	f.Wait("the cell", func(m kerneltest.Message) bool { return m.Parent.MsgID == deaf && m.Type() == "stream" })
	f.Interrupt()
	f.Wait("the advice", func(m kerneltest.Message) bool {
		return m.Parent.MsgID == deaf && m.Text("name") == "stderr" && strings.Contains(m.Text("text"), "restart the kernel")
	})
	equal(t, "control meanwhile", f.Idle(f.Send("control", "kernel_info_request", set{}), "control", true).Reply.Text("status"), "ok")
	close(toy.Release)
	equal(t, "the cell", f.Idle(deaf, "shell", true).Stream("stdout"), "on\noff\n")
}

func TestInput(t *testing.T) {
	_, f := start(t)
	other := f.Front("bert")
	for _, word := range []string{"ask", "secret"} {
		id := f.Execute(word+" name? ", set{"allow_stdin": true})
		q := f.Wait("the question", func(m kerneltest.Message) bool { return m.Channel == "stdin" && m.Parent.MsgID == id })
		equal(t, "prompt", q.Text("prompt"), "name?")
		equal(t, "password", q.Field("password"), word == "secret")
		equal(t, "asked", string(q.Identities[0]), "route to anna")
		other.Send("stdin", "input_reply", set{"value": "mallory"}) // was not asked
		f.Send("stdin", "input_reply", set{"value": 5})
		const reply = `{"msg_id":"%s","session":"anna","username":"u","date":"","msg_type":"input_reply","version":"5.3"}`
		f.Raw("stdin", f.Signed(fmt.Sprintf(reply, id), `{"msg_id":"another question"}`, `{}`, `{"value":"late"}`)...)
		f.Send("stdin", "input_reply", set{"value": "ada", "status": "ok"})
		equal(t, "answer", f.Idle(id, "shell", true).Stream("stdout"), "ada\n")
	}
	equal(t, "not allowed", f.Run("ask name?", set{"allow_stdin": false}).Reply.Text("evalue"), "nobody can be asked here")

	id := f.Execute("ask name?")
	f.Wait("the question", func(m kerneltest.Message) bool { return m.Channel == "stdin" && m.Parent.MsgID == id })
	f.Interrupt()
	equal(t, "interrupted", f.Idle(id, "shell", true).Reply.Text("ename"), "Interrupted")
}

func TestComplete(t *testing.T) {
	_, f := start(t)
	f.Run("set äpfel 1\nset ära 2\nset x 3")
	a := f.Ask("complete_request", set{"code": "😀 ä rest", "cursor_pos": 3})
	equal(t, "matches", a.Reply.Field("matches"), "[äpfel ära]")
	equal(t, "span in code points", fmt.Sprint(a.Reply.Field("cursor_start"), a.Reply.Field("cursor_end")), "2 3")
	equal(t, "types", a.Reply.Field("metadata", "_jupyter_types_experimental"),
		"[map[end:3 signature:äpfel = 1 start:2 text:äpfel type:variable] map[end:3 signature:ära = 2 start:2 text:ära type:variable]]")
	for _, pos := range []any{-1, 0, 99, nil} {
		a := f.Ask("complete_request", set{"code": "x", "cursor_pos": pos})
		equal(t, fmt.Sprint("position ", pos), a.Reply.Text("status"), "ok")
	}
	equal(t, "iopub", a.Types(), "[status busy status idle]")
}

func TestInspect(t *testing.T) {
	_, f := start(t)
	f.Run("set ä 1")
	for detail, want := range []string{"1", "1 in detail"} {
		a := f.Ask("inspect_request", set{"code": "😀 ä", "cursor_pos": 3, "detail_level": detail})
		equal(t, "found", a.Reply.Field("found"), true)
		equal(t, "text", a.Reply.Text("data", "text/plain"), want)
	}
	a := f.Ask("inspect_request", set{"code": "nothing", "cursor_pos": 7})
	equal(t, "not found", fmt.Sprint(a.Reply.Field("found"), a.Reply.Field("data")), "false map[]")
}

func TestIsComplete(t *testing.T) {
	_, f := start(t)
	for code, want := range map[string]string{"print a": "complete ", `print \`: "incomplete \t", "what?": "invalid "} {
		r := f.Ask("is_complete_request", set{"code": code}).Reply
		equal(t, code, r.Text("status")+" "+r.Text("indent"), want)
		if _, there := r.Field().(map[string]any)["indent"]; there != (r.Text("status") == "incomplete") {
			t.Errorf("%s: indent is there: %v", code, there)
		}
	}
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

func TestPanicIsAnswered(t *testing.T) {
	_, f := start(t)
	f.Run("set x 1")
	a := f.Run("print one\ncrash in the interpreter")
	equal(t, "reply", a.Reply.Text("status")+" "+a.Reply.Text("ename"), "error KernelError")
	equal(t, "count", a.Reply.Field("execution_count"), 2)
	if types := a.Types(); types[len(types)-1] != "status idle" {
		t.Errorf("iopub ends with %v", types)
	}
	equal(t, "afterwards", f.Run("= x").Reply.Text("status"), "ok")
}

func TestInterpreterThatCannotStart(t *testing.T) {
	for name, make := range map[string]func() (cell.Runner, error){
		"error": func() (cell.Runner, error) { return nil, errors.New("no luck") },
		"panic": func() (cell.Runner, error) { panic("no luck") },
	} {
		f := kerneltest.Start(t, session.Options{}, make).Front("anna")
		equal(t, name+" info", f.Ask("kernel_info_request", set{}).Reply.Text("status"), "ok")
		a := f.Run("print one")
		equal(t, name+" iopub", a.Types(), "[status busy execute_input error status idle]")
		if v := a.Reply.Text("evalue"); !strings.Contains(v, "no luck") {
			t.Errorf("%s: the cell says %q", name, v)
		}
		equal(t, name+" complete", f.Ask("complete_request", set{"code": "x", "cursor_pos": 1}).Reply.Text("status"), "error")
	}
}

// kernel_info is answered while the interpreter is still being made.
func TestAnswersBeforeTheInterpreterIsReady(t *testing.T) {
	gate := make(chan struct{})
	f := kerneltest.Start(t, session.Options{}, func() (cell.Runner, error) {
		<-gate
		return kerneltest.NewToy(), nil
	}).Front("anna")
	equal(t, "info", f.Ask("kernel_info_request", set{}).Reply.Text("status"), "ok")
	id := f.Execute("print one")
	close(gate)
	equal(t, "cell", f.Idle(id, "shell", true).Stream("stdout"), "one\n")
}

func TestBrokenMessagesChangeNothing(t *testing.T) {
	_, f := start(t)
	header := func(id, msgType string) string {
		return fmt.Sprintf(`{"msg_id":%q,"session":"anna","username":"u","date":"2026-01-02T03:04:05Z","msg_type":%q,"version":"5.3"}`, id, msgType)
	}
	for _, channel := range []string{"shell", "control", "stdin"} {
		forged := f.Signed(header("forged", "execute_request"), `{}`, `{}`, `{"code":"print forged"}`)
		forged[1] = []byte(strings.Repeat("0", 64))
		f.Raw(channel, forged...)
		f.Raw(channel, f.Signed(header("broken", "execute_request"), `{}`, `{}`, `{not json`)...)
		f.Raw(channel, f.Signed(`[]`, `{}`, `{}`, `{}`)...)
		f.Raw(channel)
		f.Raw(channel, []byte("<IDS|MSG>"))
	}
	first := f.Signed(header("first", "execute_request"), `{}`, `{"cellId":"c1","deletedCells":[]}`, `{"code":"print once","future":1}`)
	f.Raw("shell", first...)
	equal(t, "unknown fields", f.Idle("first", "shell", true).Stream("stdout"), "once\n")
	f.Raw("shell", first...) // a recorded copy

	for _, wrong := range []struct {
		msgType string
		content any
	}{
		{"execute_request", set{"code": 5}},
		{"complete_request", set{"code": "x", "cursor_pos": "here"}},
		{"inspect_request", set{"code": nil, "detail_level": "much"}},
		{"is_complete_request", set{"code": []int{1}}},
		{"history_request", set{"n": "all"}},
		{"comm_info_request", set{"target_name": 1}},
	} {
		a := f.Ask(wrong.msgType, wrong.content)
		equal(t, wrong.msgType, a.Reply.Text("status")+" "+a.Reply.Text("ename"), "error RequestError")
		equal(t, wrong.msgType+" iopub", a.Types(), "[status busy status idle]")
	}
	for _, channel := range []string{"shell", "control"} {
		for _, unknown := range []string{"no_such_request", "create_subshell_request", "debug_request", "x", "execute_reply"} {
			a := f.Idle(f.Send(channel, unknown, set{}), channel, false)
			equal(t, unknown, a.Types(), "[status busy status idle]")
			equal(t, unknown+" replies", len(f.Of(a.ID, channel)), 0)
		}
	}
	a := f.Idle(f.Send("control", "execute_request", set{"code": "print wrong channel"}), "control", false)
	equal(t, "a cell on control", a.Types(), "[status busy status idle]")
	last := f.Run("print still here")
	equal(t, "afterwards", last.Stream("stdout"), "still here\n")
	equal(t, "count", last.Reply.Field("execution_count"), 2)
}

func TestTwoFrontEnds(t *testing.T) {
	_, anna := start(t)
	bert := anna.Front("bert")
	const n = 50
	ids := map[string]*kerneltest.Front{}
	for i := range n {
		ids[anna.Execute(fmt.Sprint("print anna ", i))] = anna
		ids[bert.Execute(fmt.Sprint("print bert ", i))] = bert
	}
	counts := []int{}
	for id, f := range ids { // Idle checks that the reply went to the right one
		a := f.Idle(id, "shell", true)
		if !strings.Contains(a.Stream("stdout"), strings.TrimPrefix(string(a.Reply.Identities[0]), "route to ")) {
			t.Errorf("%s got the output %q", a.Reply.Identities[0], a.Stream("stdout"))
		}
		counts = append(counts, int(a.Reply.Field("execution_count").(float64)))
	}
	slices.Sort(counts)
	if len(counts) != 2*n || counts[0] != 1 || counts[2*n-1] != 2*n {
		t.Errorf("execution counts %v", counts)
	}
}

func TestShutdown(t *testing.T) {
	for _, channel := range []string{"control", "shell"} {
		for _, restart := range []bool{false, true} {
			for _, busy := range []string{"", "loop", "deaf"} {
				t.Run(fmt.Sprint(channel, restart, busy), func(t *testing.T) {
					toy, f := start(t)
					defer close(toy.Release)
					var cell, behind string
					if busy != "" {
						cell = f.Execute("print on\n" + busy)
						behind = f.Execute("print never")
						f.Wait("the cell", func(m kerneltest.Message) bool { return m.Parent.MsgID == cell && m.Type() == "stream" })
					}
					a := f.Idle(f.Send(channel, "shutdown_request", set{"restart": restart}), channel, true)
					equal(t, "reply", a.Reply.Field("restart"), restart)
					equal(t, "iopub", a.Types(), "[status busy shutdown_reply status idle]")
					select {
					case got := <-f.Ended:
						equal(t, "Run", got, restart)
					case <-time.After(kerneltest.Patience):
						t.Fatal("Run goes on after a shutdown")
					}
					if busy == "loop" {
						equal(t, "the cell that ran", f.Idle(cell, "shell", true).Reply.Text("ename"), "Interrupted")
						equal(t, "the one behind it", f.Idle(behind, "shell", true).Reply.Text("status"), "aborted")
					}
				})
			}
		}
	}
}

func TestSessionIDChangesWithTheKernel(t *testing.T) {
	_, f := start(t)
	_, g := start(t)
	a, b := f.Ask("kernel_info_request", set{}).Reply, g.Ask("kernel_info_request", set{}).Reply
	if a.Header.Session == b.Header.Session || a.Header.Session == "" {
		t.Errorf("two kernels have the sessions %q and %q", a.Header.Session, b.Header.Session)
	}
}

func TestComms(t *testing.T) {
	closed := make(chan string, 1)
	echo := func(c *session.Comm, data json.RawMessage, buffers [][]byte) error {
		if string(data) == `"refuse"` {
			return errors.New("refused")
		}
		c.Message = func(data json.RawMessage, buffers [][]byte) {
			if string(data) == `"bye"` {
				c.Close(set{})
				return
			}
			c.Send(set{"echo": data}, buffers)
		}
		c.Closed = func(data json.RawMessage) { closed <- string(data) }
		return c.Send("hello", nil)
	}
	k := kerneltest.Start(t, session.Options{Targets: map[string]session.Target{"echo": echo}},
		func() (cell.Runner, error) { return kerneltest.NewToy(), nil })
	f := k.Front("anna")
	comm := func(msgType string, content any, buffers ...[]byte) kerneltest.Answer {
		t.Helper()
		return f.Idle(f.Send("shell", msgType, content, buffers...), "shell", false)
	}
	open := func() any { return f.Ask("comm_info_request", set{}).Reply.Field("comms") }

	a := comm("comm_open", set{"comm_id": "1", "target_name": "echo", "data": set{}})
	equal(t, "open", a.Types(), "[status busy comm_msg status idle]")
	equal(t, "info", open(), "map[1:map[target_name:echo]]")
	equal(t, "info of others", f.Ask("comm_info_request", set{"target_name": "other"}).Reply.Field("comms"), "map[]")
	a = comm("comm_msg", set{"comm_id": "1", "data": set{"x": 1}}, []byte{0, 255})
	equal(t, "message", a.IOPub[1].Field("data"), "map[echo:map[x:1]]")
	equal(t, "buffers", a.IOPub[1].Buffers, [][]byte{{0, 255}})
	comm("comm_close", set{"comm_id": "1", "data": "enough"})
	equal(t, "closed with", <-closed, `"enough"`)
	equal(t, "info after closing", open(), "map[]")

	comm("comm_open", set{"comm_id": "2", "target_name": "echo", "data": set{}})
	a = comm("comm_msg", set{"comm_id": "2", "data": "bye"})
	equal(t, "closing from the kernel", a.Types(), "[status busy comm_close status idle]")
	equal(t, "info after that", open(), "map[]")

	for target, data := range map[string]string{"nobody": "", "echo": "refuse"} {
		a = comm("comm_open", set{"comm_id": "3", "target_name": target, "data": data})
		equal(t, "refusal of "+target, a.Types(), "[status busy comm_close status idle]")
		equal(t, "info after "+target, open(), "map[]")
	}
	for _, msgType := range []string{"comm_msg", "comm_close"} {
		equal(t, msgType+" for none", comm(msgType, set{"comm_id": "9", "data": set{}}).Types(), "[status busy status idle]")
	}
}
