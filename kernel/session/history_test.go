package session_test

import (
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/kerneltest"
	"rotorhum/kernel/session"
)

var discard = slog.New(slog.DiscardHandler)

// kernelWith starts a kernel whose history is in path, and a front end.
func kernelWith(t *testing.T, path string) *kerneltest.Front {
	t.Helper()
	opt := session.Options{History: session.NewHistory(path, discard)}
	return kerneltest.Start(t, opt, func() (cell.Runner, error) { return kerneltest.NewToy(), nil }).Front("anna")
}

func ask(t *testing.T, f *kerneltest.Front, request set) any {
	t.Helper()
	r := f.Ask("history_request", request).Reply
	equal(t, "status", r.Text("status"), "ok")
	return r.Field("history")
}

func shutDown(f *kerneltest.Front) {
	f.Stop()
	<-f.Ended
}

func TestHistoryOutlivesTheKernel(t *testing.T) {
	path := filepath.Join(t.TempDir(), "deep", "down", "history.jsonl")
	f := kernelWith(t, path)
	f.Run("set x 1\n= x")
	f.Run("print <&>")
	f.Run("print hidden", set{"silent": true})
	f.Run("print unstored", set{"store_history": false})
	f.Run("fail")
	equal(t, "tail", ask(t, f, set{"hist_access_type": "tail", "n": 2}), "[[1 2 print <&>] [1 3 fail]]")
	shutDown(f)

	f = kernelWith(t, path)
	equal(t, "tail before any cell", ask(t, f, set{"hist_access_type": "tail", "n": 1}), "[[1 3 fail]]")
	f.Run("print new\nprint lines")
	f.Run("print <&>")
	for _, row := range []struct {
		what    string
		request set
		want    string
	}{
		{"everything", set{"hist_access_type": "tail", "output": true},
			"[[1 1 [set x 1\n= x 1]] [1 2 [print <&> <nil>]] [1 3 [fail <nil>]] [2 1 [print new\nprint lines <nil>]] [2 2 [print <&> <nil>]]]"},
		{"this session", set{"hist_access_type": "range", "session": 0, "start": 1, "stop": 2}, "[[2 1 print new\nprint lines]]"},
		{"to the end", set{"hist_access_type": "range", "session": 0, "start": 2, "stop": nil}, "[[2 2 print <&>]]"},
		{"the session before", set{"hist_access_type": "range", "session": -1, "start": 2, "stop": 9}, "[[1 2 print <&>] [1 3 fail]]"},
		{"by number", set{"hist_access_type": "range", "session": 1, "start": 1, "stop": 2}, "[[1 1 set x 1\n= x]]"},
		{"none such", set{"hist_access_type": "range", "session": 7, "start": 0, "stop": 9}, "[]"},
		{"search", set{"hist_access_type": "search", "pattern": "print*"}, "[[1 2 print <&>] [2 1 print new\nprint lines] [2 2 print <&>]]"},
		{"search for one", set{"hist_access_type": "search", "pattern": "print*", "n": 1}, "[[2 2 print <&>]]"},
		{"search without repeats", set{"hist_access_type": "search", "pattern": "print*", "unique": true}, "[[2 1 print new\nprint lines] [2 2 print <&>]]"},
		{"search in the middle", set{"hist_access_type": "search", "pattern": "*lines"}, "[[2 1 print new\nprint lines]]"},
		{"?", set{"hist_access_type": "search", "pattern": "f??l"}, "[[1 3 fail]]"},
		{"[]", set{"hist_access_type": "search", "pattern": "[e-g]ai[lm]"}, "[[1 3 fail]]"},
		{"an open [", set{"hist_access_type": "search", "pattern": "[fail"}, "[]"},
		{"dots are dots", set{"hist_access_type": "search", "pattern": "f..l"}, "[]"},
		{"umlauts", set{"hist_access_type": "search", "pattern": "ä*"}, "[]"},
		{"no pattern", set{"hist_access_type": "search", "n": 1}, "[[2 2 print <&>]]"},
		{"no kind", set{"n": 1}, "[[2 2 print <&>]]"},
	} {
		equal(t, row.what, ask(t, f, row.request), row.want)
	}
}

func TestHistoryIsPrivate(t *testing.T) {
	path := filepath.Join(t.TempDir(), "data", "history.jsonl")
	f := kernelWith(t, path)
	f.Run("print secret")
	shutDown(f)
	for name, want := range map[string]os.FileMode{path: 0o600, path + ".lock": 0o600, filepath.Dir(path): 0o700} {
		info, err := os.Stat(name)
		if err != nil {
			t.Fatal(err)
		}
		if got := info.Mode().Perm(); got != want {
			t.Errorf("%s has mode %v, want %v", name, got, want)
		}
	}
}

func TestHistoryIsBounded(t *testing.T) {
	path := filepath.Join(t.TempDir(), "history.jsonl")
	h := session.NewHistory(path, discard)
	code := strings.Repeat("x", 100_000)
	for i := range 120 {
		h.Add(i+1, fmt.Sprintf("%03d %s", i, code), strings.Repeat("y", 10_000))
		h.Close()
	}
	info, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	if limit := int64(4<<20 + 200_000); info.Size() > limit {
		t.Errorf("after 12 MB of cells the file has %d bytes, want at most %d", info.Size(), limit)
	}
	f := kernelWith(t, path)
	last := fmt.Sprint(ask(t, f, set{"hist_access_type": "tail", "n": 1}))
	if !strings.HasPrefix(last, "[[1 120 119 xxx") {
		t.Errorf("the last entry is %.40s", last)
	}
}

// Kernels of one user write to one file at the same time.
func TestHistoriesShareAFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "history.jsonl")
	const kernels, cells = 8, 40
	var wait sync.WaitGroup
	for k := range kernels {
		h := session.NewHistory(path, discard)
		wait.Go(func() {
			for i := range cells {
				h.Add(i+1, fmt.Sprint("kernel ", k, " cell ", i), "")
				h.Close()
			}
		})
	}
	wait.Wait()
	f := kernelWith(t, path)
	rows := ask(t, f, set{"hist_access_type": "tail"}).([]any)
	equal(t, "entries", len(rows), kernels*cells)
	bySession := map[string]int{}
	for _, row := range rows {
		r := row.([]any)
		name, _, _ := strings.Cut(r[2].(string), " cell")
		bySession[fmt.Sprint(r[0], name)]++
	}
	for who, n := range bySession {
		if n != cells {
			t.Errorf("session %s has %d entries, want %d: two kernels share a number", who, n, cells)
		}
	}
}

func TestDamagedHistoryIsPassedOver(t *testing.T) {
	path := filepath.Join(t.TempDir(), "history.jsonl")
	if err := os.WriteFile(path, []byte("{\"session\":4,\"line\":1,\"in\":\"print a\"}\nnot json\n{}\n\x00\xff\n{\"session\":4,\"line\":2,\"in\":\"print b\"}\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	f := kernelWith(t, path)
	f.Run("print c")
	equal(t, "history", ask(t, f, set{"hist_access_type": "tail"}), "[[4 1 print a] [4 2 print b] [5 1 print c]]")
}

func TestHistoryWithoutAPlace(t *testing.T) {
	blocked := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(blocked, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"", filepath.Join(blocked, "history.jsonl")} {
		f := kernelWith(t, path)
		f.Run("print a")
		equal(t, "history at "+path, ask(t, f, set{"hist_access_type": "tail"}), "[[1 1 print a]]")
		shutDown(f)
	}
}
