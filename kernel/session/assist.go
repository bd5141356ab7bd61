package session

import (
	"unicode/utf8"

	"rotorhum/kernel/cell"
)

// Positions in messages count code points, those of the interpreter bytes.

// byteOffset returns the byte offset of code point n of code, at most len(code).
func byteOffset(code string, n int) int {
	for i := range code {
		if n <= 0 {
			return i
		}
		n--
	}
	return len(code)
}

func codePoints(code string, bytes int) int {
	return utf8.RuneCountInString(code[:min(max(bytes, 0), len(code))])
}

type cursorRequest struct {
	Code   string `json:"code"`
	Cursor *int   `json:"cursor_pos"` // missing: at the end
	Detail int    `json:"detail_level"`
}

func (c cursorRequest) offset() int {
	if c.Cursor == nil {
		return len(c.Code)
	}
	return byteOffset(c.Code, *c.Cursor)
}

type completeReply struct {
	Status   string           `json:"status"`
	Matches  []string         `json:"matches"`
	Start    int              `json:"cursor_start"`
	End      int              `json:"cursor_end"`
	Metadata completeMetadata `json:"metadata"`
}

// completeMetadata tells front ends that look for it what each match is.
type completeMetadata struct {
	Types []typedMatch `json:"_jupyter_types_experimental"`
}

type typedMatch struct {
	Start     int    `json:"start"`
	End       int    `json:"end"`
	Text      string `json:"text"`
	Type      string `json:"type"`
	Signature string `json:"signature"`
}

func complete(r *request) (any, error) {
	var c cursorRequest
	if err := decode(r, &c); err != nil {
		return nil, err
	}
	var found cell.Completion
	if err := r.s.runner.do(func(i cell.Runner) { found = i.Complete(c.Code, c.offset()) }); err != nil {
		return nil, err
	}
	start, end := codePoints(c.Code, found.Start), codePoints(c.Code, found.End)
	reply := completeReply{"ok", []string{}, start, end, completeMetadata{[]typedMatch{}}}
	for _, m := range found.Matches {
		reply.Matches = append(reply.Matches, m.Text)
		reply.Metadata.Types = append(reply.Metadata.Types, typedMatch{start, end, m.Text, m.Kind, m.Signature})
	}
	return reply, nil
}

type inspectReply struct {
	Status string `json:"status"`
	Found  bool   `json:"found"`
	bundle
}

func inspect(r *request) (any, error) {
	var c cursorRequest
	if err := decode(r, &c); err != nil {
		return nil, err
	}
	var b cell.Bundle
	var found bool
	if err := r.s.runner.do(func(i cell.Runner) { b, found = i.Inspect(c.Code, c.offset(), c.Detail) }); err != nil {
		return nil, err
	}
	if !found {
		b = cell.Bundle{}
	}
	return inspectReply{"ok", found, encodable(b)}, nil
}

type isCompleteReply struct {
	Status string `json:"status"`
}

type incompleteReply struct {
	Status string `json:"status"`
	Indent string `json:"indent"`
}

func isComplete(r *request) (any, error) {
	var c cursorRequest
	if err := decode(r, &c); err != nil {
		return nil, err
	}
	var state, indent string
	if err := r.s.runner.do(func(i cell.Runner) { state, indent = i.IsComplete(c.Code) }); err != nil {
		return nil, err
	}
	if state == "incomplete" {
		return incompleteReply{state, indent}, nil
	}
	return isCompleteReply{state}, nil
}
