package session_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

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

func TestSessionIDChangesWithTheKernel(t *testing.T) {
	_, f := start(t)
	_, g := start(t)
	a, b := f.Ask("kernel_info_request", set{}).Reply, g.Ask("kernel_info_request", set{}).Reply
	if a.Header.Session == b.Header.Session || a.Header.Session == "" {
		t.Errorf("two kernels have the sessions %q and %q", a.Header.Session, b.Header.Session)
	}
}
