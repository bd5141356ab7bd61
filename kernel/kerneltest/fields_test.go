package kerneltest

import (
	"slices"
	"testing"

	"rotorhum/kernel/wire"
)

// The checker itself must find what is wrong.
func TestCheckFindsFaults(t *testing.T) {
	parent := &wire.Message{RawHeader: []byte(`{"msg_id":"1","session":"s","username":"u","date":"2026-01-02T03:04:05.678901Z","msg_type":"execute_request","version":"5.3","subshell_id":null}`)}
	for _, row := range []struct {
		channel, msgType string
		content, meta    any
		want             []string
	}{
		{"iopub", "stream", map[string]any{"name": "stdout", "text": "x"}, nil, nil},
		{"iopub", "stream", map[string]any{"name": "stdlog", "text": 1}, nil, []string{"name is stdlog, want stdout|stderr", "text is 1, want string"}},
		{"iopub", "error", map[string]any{"ename": "", "evalue": "", "traceback": "one string"}, nil, []string{"traceback is one string, want strings"}},
		{"iopub", "error", map[string]any{"ename": "", "evalue": "", "traceback": nil}, nil, []string{"traceback is <nil>, want strings"}},
		{"iopub", "display_data", map[string]any{"data": map[string]any{"text/html": "<b>"}, "metadata": map[string]any{}}, nil,
			[]string{"data is map[text/html:<b>], want bundle", "transient missing"}},
		{"iopub", "execute_reply", map[string]any{}, nil, []string{"not a message of this channel"}},
		{"shell", "complete_reply", map[string]any{"status": "ok", "matches": []string{}, "cursor_start": 1.5, "cursor_end": 2, "metadata": map[string]any{}, "more": 1}, nil,
			[]string{"cursor_start is 1.5, want int", "more unexpected"}},
		{"shell", "execute_reply", map[string]any{"status": "aborted"}, map[string]any{"started": "x"}, []string{"execution_count missing"}},
		{"shell", "execute_reply", map[string]any{"status": "aborted", "execution_count": 1}, nil, []string{"metadata: started missing"}},
		{"stdin", "input_request", map[string]any{"prompt": "?"}, nil, []string{"password missing"}},
	} {
		m, err := wire.New("k", row.msgType, parent, row.content, row.meta)
		if err != nil {
			t.Fatal(err)
		}
		var want []string
		for _, w := range row.want {
			want = append(want, row.msgType+" on "+row.channel+": "+w)
		}
		if got := Check(row.channel, m); !slices.Equal(got, want) {
			t.Errorf("Check(%s, %s %s) = %q, want %q", row.channel, row.msgType, m.Content, got, want)
		}
	}
	orphan, _ := wire.New("k", "status", nil, map[string]any{"execution_state": "busy"}, nil)
	if got := Check("iopub", orphan); len(got) == 0 {
		t.Error("a busy status without a parent passed")
	}
}
