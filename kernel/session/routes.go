package session

import (
	"encoding/json"
	"fmt"
)

// route says how a type of message is handled.
type route struct {
	// handle returns the content of the reply.
	handle func(*request) (any, error)
	// channels names those on which the message may come.
	channels string
	// answered says whether there is a reply at all.
	answered bool
	// after, if set, runs when the reply has been sent.
	after func(*request)
}

// routes is the table of everything a front end may ask.
func routes() map[string]route {
	const shell, control, both = "shell", "control", "shell control"
	return map[string]route{
		"kernel_info_request": {kernelInfo, both, true, nil},
		"execute_request":     {execute, shell, true, stopQueue},
		"complete_request":    {complete, shell, true, nil},
		"inspect_request":     {inspect, shell, true, nil},
		"is_complete_request": {isComplete, shell, true, nil},
		"history_request":     {history, both, true, nil},
		"comm_info_request":   {commInfo, both, true, nil},
		"comm_open":           {commOpen, shell, false, nil},
		"comm_msg":            {commMsg, shell, false, nil},
		"comm_close":          {commClose, shell, false, nil},
		"interrupt_request":   {interrupt, control, true, nil},
		"shutdown_request":    {shutdown, both, true, afterShutdown},
	}
}

// decode decodes a request's content. Unknown fields are fine.
func decode(r *request, v any) error {
	if err := json.Unmarshal(r.msg.Content, v); err != nil {
		return fmt.Errorf("%s does not say what it should: %w", r.msg.Header.MsgType, err)
	}
	return nil
}

// status is the content of a status message.
type status struct {
	State string `json:"execution_state"`
}

// failed is the content of a reply that reports an error.
type failed struct {
	Status    string   `json:"status"`
	Name      string   `json:"ename"`
	Value     string   `json:"evalue"`
	Traceback []string `json:"traceback"`
}

func failure(name, value string) failed {
	return failed{"error", name, value, []string{name + ": " + value}}
}
