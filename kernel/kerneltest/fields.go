package kerneltest

import (
	"encoding/json"
	"fmt"
	"sort"
	"strings"
	"time"

	"rotorhum/kernel/wire"
)

// The table of what a kernel may say: every type of message with its fields,
// after "Messaging in Jupyter" (jupyter_client documentation, protocol 5.4). A
// field's kind is string, int, bool, strings, any, bundle (an object with
// text/plain if it is not empty), object, or one of several words divided by |.
// A ? marks a field that may be missing.

type fields map[string]string

// header is in every message.
func headerFields() fields {
	return fields{"msg_id": "string", "session": "string", "username": "string", "date": "string", "msg_type": "string", "version": "string"}
}

// publications are the messages on iopub.
func publications() map[string]fields {
	display := fields{"data": "bundle", "metadata": "object", "transient": "object"}
	return map[string]fields{
		"status":              {"execution_state": "starting|busy|idle"},
		"execute_input":       {"code": "string", "execution_count": "int"},
		"stream":              {"name": "stdout|stderr", "text": "string"},
		"display_data":        display,
		"update_display_data": display,
		"execute_result":      {"data": "bundle", "metadata": "object", "execution_count": "int"},
		"error":               {"ename": "string", "evalue": "string", "traceback": "strings"},
		"clear_output":        {"wait": "bool"},
		"shutdown_reply":      {"status": "ok", "restart": "bool"},
		"comm_open":           {"comm_id": "string", "target_name": "string", "data": "any"},
		"comm_msg":            {"comm_id": "string", "data": "any"},
		"comm_close":          {"comm_id": "string", "data": "any"},
	}
}

// replies are the messages on shell and control that end well.
func replies() map[string]fields {
	return map[string]fields{
		"kernel_info_reply": {"status": "ok", "protocol_version": "string", "implementation": "string", "implementation_version": "string",
			"language_info": "object", "banner": "string", "help_links": "any", "debugger": "bool", "supported_features": "strings"},
		"execute_reply":     {"status": "ok", "execution_count": "int", "user_expressions": "object", "payload": "any"},
		"complete_reply":    {"status": "ok", "matches": "strings", "cursor_start": "int", "cursor_end": "int", "metadata": "object"},
		"inspect_reply":     {"status": "ok", "found": "bool", "data": "bundle", "metadata": "object"},
		"is_complete_reply": {"status": "complete|incomplete|invalid|unknown", "?indent": "string"},
		"history_reply":     {"status": "ok", "history": "any"},
		"comm_info_reply":   {"status": "ok", "comms": "object"},
		"interrupt_reply":   {"status": "ok"},
		"shutdown_reply":    {"status": "ok", "restart": "bool"},
	}
}

// failedReply is what a reply holds that does not end well.
func failedReply(msgType, status string) fields {
	f := fields{"status": "error", "ename": "string", "evalue": "string", "traceback": "strings"}
	if status == "aborted" {
		f = fields{"status": "aborted"}
	}
	if msgType == "execute_reply" {
		f["execution_count"] = "int"
		f["?user_expressions"], f["?payload"] = "object", "any"
	}
	return f
}

// Check lists what is wrong with a message that a kernel sent on the channel
// "shell", "control", "stdin" or "iopub".
func Check(channel string, m *wire.Message) (wrong []string) {
	bad := func(format string, args ...any) {
		wrong = append(wrong, fmt.Sprintf("%s on %s: ", m.Header.MsgType, channel)+fmt.Sprintf(format, args...))
	}
	objects := map[string]map[string]any{}
	for name, raw := range map[string]json.RawMessage{"header": m.RawHeader, "parent": m.ParentHeader, "metadata": m.Metadata, "content": m.Content} {
		var o map[string]any
		if err := json.Unmarshal(raw, &o); err != nil || o == nil {
			bad("%s is not an object: %s", name, raw)
			return wrong
		}
		objects[name] = o
	}
	for _, w := range headerFields().check(objects["header"]) {
		bad("header: %s", w)
	}
	if _, err := time.Parse(time.RFC3339Nano, m.Header.Date); err != nil {
		bad("date: %v", err)
	}
	if !strings.HasPrefix(m.Header.Version, "5.") {
		bad("version %q", m.Header.Version)
	}
	starting := objects["content"]["execution_state"] == "starting"
	if parent := objects["parent"]; !starting || len(parent) > 0 {
		for _, w := range headerFields().check(parent) {
			if !strings.HasSuffix(w, "unexpected") { // what else a client says comes back
				bad("parent: %s", w)
			}
		}
	}
	var table map[string]fields
	switch channel {
	case "iopub":
		table = publications()
	case "stdin":
		table = map[string]fields{"input_request": {"prompt": "string", "password": "bool"}}
	default:
		table = replies()
	}
	want, known := table[m.Header.MsgType]
	if !known {
		bad("not a message of this channel")
		return wrong
	}
	if s, _ := objects["content"]["status"].(string); s == "error" || s == "aborted" {
		want = failedReply(m.Header.MsgType, s)
	}
	for _, w := range want.check(objects["content"]) {
		bad("%s", w)
	}
	if m.Header.MsgType == "execute_reply" {
		for _, w := range (fields{"started": "string"}).check(objects["metadata"]) {
			bad("metadata: %s", w)
		}
	}
	return wrong
}

// check lists how o differs from f, in a fixed order.
func (f fields) check(o map[string]any) (wrong []string) {
	for name := range o {
		if f[name] == "" && f["?"+name] == "" {
			wrong = append(wrong, name+" unexpected")
		}
	}
	for name, kind := range f {
		name, optional := strings.CutPrefix(name, "?")
		v, there := o[name]
		if !there {
			if !optional {
				wrong = append(wrong, name+" missing")
			}
			continue
		}
		if !isKind(v, kind) {
			wrong = append(wrong, fmt.Sprintf("%s is %v, want %s", name, v, kind))
		}
	}
	sort.Strings(wrong)
	return wrong
}

func isKind(v any, kind string) bool {
	switch kind {
	case "any":
		return true
	case "string":
		_, ok := v.(string)
		return ok
	case "int":
		n, ok := v.(float64)
		return ok && n == float64(int64(n))
	case "bool":
		_, ok := v.(bool)
		return ok
	case "object":
		_, ok := v.(map[string]any)
		return ok
	case "bundle":
		b, ok := v.(map[string]any)
		return ok && (len(b) == 0 || isKind(b["text/plain"], "string"))
	case "strings":
		list, ok := v.([]any)
		for _, s := range list {
			ok = ok && isKind(s, "string")
		}
		return ok
	}
	s, ok := v.(string)
	for _, word := range strings.Split(kind, "|") {
		if ok && s == word {
			return true
		}
	}
	return false
}
