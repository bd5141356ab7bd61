package session_test

import (
	"fmt"
	"testing"
)

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
