// Package child runs a [cell.Runner] in a process of its own, so that whatever
// a cell does to its process (exit, a fatal error of the Go runtime, a call
// that never returns) leaves the notebook and its outputs whole.
//
// The parent calls [Start], which gives a runner like any other; the child
// calls [Serve] with the real one. Between them go two pipes of JSON values,
// one per line: requests one way, events the other.
package child

import (
	"rotorhum/kernel/cell"
	"rotorhum/kernel/provenance"
)

// request is what the parent asks.
type request struct {
	Op   string `json:"op"` // "run", "interrupt", "expr", "complete", "inspect", "is_complete" or "provenance"
	Name string `json:"name,omitempty"`
	ID   string `json:"id,omitempty"` // of the cell
	Code string `json:"code,omitempty"`
	// Pos and Detail belong to the look-ups.
	Pos    int `json:"pos,omitempty"`
	Detail int `json:"detail,omitempty"`
}

// event is what the child tells. A request other than an interrupt is answered
// by one event of kind "done"; the others come before it.
type event struct {
	Kind   string       `json:"kind"` // "ready", "stream", "display", "update", "clear", "page" or "done"
	Name   string       `json:"name,omitempty"`
	Text   string       `json:"text,omitempty"`
	ID     string       `json:"id,omitempty"`
	Wait   bool         `json:"wait,omitempty"`
	Bundle *cell.Bundle `json:"bundle,omitempty"`
	// What a "done" carries, as the request asks.
	Fault      *cell.Fault        `json:"fault,omitempty"`
	Completion *cell.Completion   `json:"completion,omitempty"`
	Found      bool               `json:"found,omitempty"`
	Status     string             `json:"status,omitempty"`
	Indent     string             `json:"indent,omitempty"`
	Provenance *provenance.Record `json:"provenance,omitempty"`
}
