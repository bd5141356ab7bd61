package session_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"rotorhum/kernel/kerneltest"
)

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
						f.Taken("shell")
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
