package session

import (
	"encoding/json"
	"fmt"
	"html"
	"strings"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/ledger"
	"rotorhum/kernel/wire"
)

// bookkeeper is an interpreter that knows which cells show what a run from top to
// bottom would not show.
type bookkeeper interface {
	// Stale lists them; Plan lists those to run again to put that right.
	Stale() ledger.List
	Plan() ledger.List
	// Refresh reports, once, that the last cell asked for the plan to be run.
	Refresh() bool
}

// origin is what a front end tells of the cell that a request runs, in the
// request's metadata. Not every front end does.
type origin struct {
	Cell    string   `json:"cellId"`
	Deleted []string `json:"deletedCells"`
}

func originOf(m *wire.Message) (o origin) {
	// Front ends put there what they like.
	_ = json.Unmarshal(m.Metadata, &o)
	return o
}

// pageState is what the session remembers of the cells it has run.
type pageState struct {
	asked   map[string]*asked // by the name of the run
	notices int               // shown so far
	named   string            // what the last notice says
	under   *wire.Message     // the request whose cell shows the last notice
}

// asked is a run of a cell that can be repeated under the same cell.
type asked struct {
	msg   *wire.Message
	count int
	cell  string
}

// maxAsked bounds the runs that are remembered.
const maxAsked = 10_000

func (p *pageState) note(name string, msg *wire.Message, count int, id string) {
	if p.asked == nil || len(p.asked) >= maxAsked {
		p.asked = map[string]*asked{}
	}
	p.asked[name] = &asked{msg, count, id}
}

// notice says under the cell that has run which cells are out of date now, if it
// is not the same as before; once none is, it takes back what it said last.
func (s *Session) notice(parent *wire.Message, list ledger.List) {
	p := &s.page
	text := list.String()
	if text == p.named || len(list) == 0 && p.under == nil {
		return
	}
	p.named = text
	if len(list) == 0 {
		s.show(p.under, "update_display_data", quietNotice(), func(b bundle) any { return displayData{b, p.id(s)} })
		p.under = nil
		return
	}
	if p.under != nil {
		s.show(p.under, "update_display_data", quietNotice(), func(b bundle) any { return displayData{b, p.id(s)} })
	}
	p.notices++
	p.under = parent
	s.show(parent, "display_data", noticeOf(list), func(b bundle) any { return displayData{b, p.id(s)} })
}

// id is the display of the last notice.
func (p *pageState) id(s *Session) string { return fmt.Sprintf("%s.page.%d", s.id, p.notices) }

func noticeOf(list ledger.List) cell.Bundle {
	names := make([]string, len(list))
	for i, c := range list {
		names[i] = c.Name
	}
	head := "Out of date: " + strings.Join(names, ", ") + ". Run from top to bottom, the page would show something else. refresh() in a cell puts it right."
	return cell.Bundle{Data: map[string]any{
		"text/plain": head + "\n" + list.String(),
		"text/html": `<details style="border-left:4px solid #d98b1f;padding:0.2em 0.8em"><summary style="display:list-item;cursor:pointer">` +
			html.EscapeString(head) + "</summary>" + list.HTML() + "</details>",
	}}
}

// quietNotice takes the place of a notice that no longer holds: nothing.
func quietNotice() cell.Bundle {
	return cell.Bundle{Data: map[string]any{"text/plain": ""}}
}

// refresh runs the cells of a plan again. What they show takes the place of what
// they showed; it stops at the first that fails.
func (s *Session) refresh(r *request, i cell.Runner, plan ledger.List) {
	for _, c := range plan {
		a := s.page.asked[c.Name]
		if a == nil {
			continue
		}
		out := &sink{s: s, parent: a.msg, pages: []page{}}
		out.Clear(true)
		end := i.Run(cell.Request{
			Name: c.Name, ID: a.cell, Code: c.Source, Sink: out,
			Input: func(prompt string, password bool) (string, error) { return s.ask(r.msg, r.run, prompt, password) },
		})
		s.conclude(a.msg, a.count, end)
		if end.Fault != nil {
			s.publish("stream", r.msg, stream{"stderr", fmt.Sprintf("%s failed when it ran again; the cells after it have not been run.\n", c.Name)}, nil)
			return
		}
	}
}

// conclude publishes how a cell ended.
func (s *Session) conclude(parent *wire.Message, count int, end cell.Outcome) {
	if f := end.Fault; f != nil {
		s.publish("error", parent, errorContent{f.Name, f.Value, traceback(f)}, nil)
	} else if end.Result != nil {
		s.show(parent, "execute_result", *end.Result, func(b bundle) any { return executeResult{b, count} })
	}
}

func traceback(f *cell.Fault) []string {
	if len(f.Traceback) == 0 {
		return []string{f.Error()}
	}
	return f.Traceback
}
