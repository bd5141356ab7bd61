package session_test

import (
	"encoding/json"
	"errors"
	"testing"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/kerneltest"
	"rotorhum/kernel/session"
)

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
