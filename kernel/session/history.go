package session

import (
	"cmp"
	"log/slog"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"
)

// Entry is one cell that was run.
type Entry struct {
	// Session numbers the kernels of a user in the order in which they began.
	Session int `json:"session"`
	// Line is the cell's execution count.
	Line   int    `json:"line"`
	Input  string `json:"in"`
	Output string `json:"out,omitempty"` // the result as text, if there was one
}

// keepEntries bounds how many cells of its own a session remembers.
const keepEntries = 10_000

// History remembers the cells that were run, across the sessions of a user if it
// has a file. Its methods may be called from any goroutine.
type History struct {
	log *slog.Logger

	mu      sync.Mutex
	own     []Entry // of this session, not yet numbered
	unsaved int     // how many at the end of own are not in the file yet
	saving  bool    // a goroutine is about to save them

	io      sync.Mutex   // held while the file is worked on; taken before mu
	file    *historyFile // nil: none, or it cannot be used
	session int          // our number; 0 until it is needed
}

// NewHistory returns the history kept in the file at path, which need not exist
// yet; with an empty path it lives in memory only. Nothing is read or written
// before it is needed. If the file cannot be used, that is logged once and the
// history goes on in memory.
func NewHistory(path string, log *slog.Logger) *History {
	h := &History{log: log}
	if path != "" {
		h.file = &historyFile{path: path}
	}
	return h
}

// Add remembers a cell. It does not wait for the file.
func (h *History) Add(line int, input, output string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.own = append(h.own, Entry{Line: line, Input: input, Output: output})
	if len(h.own) > keepEntries {
		h.own = slices.Delete(h.own, 0, len(h.own)-keepEntries)
	}
	h.unsaved = min(h.unsaved+1, len(h.own))
	if !h.saving {
		h.saving = true
		go func() {
			time.Sleep(savePause)
			h.save()
		}()
	}
}

// Close saves what is not saved yet.
func (h *History) Close() { h.save() }

// save writes what the file lacks, if anything.
func (h *History) save() {
	h.io.Lock()
	defer h.io.Unlock()
	h.mu.Lock()
	h.saving = false
	fresh := slices.Clone(h.own[len(h.own)-h.unsaved:])
	h.unsaved = 0
	h.mu.Unlock()
	if h.file == nil || len(fresh) == 0 {
		return
	}
	session := h.number()
	for i := range fresh {
		fresh[i].Session = session
	}
	if h.file != nil {
		h.check(h.file.append(fresh))
	}
}

// number returns the number of this session. h.io is held.
func (h *History) number() int {
	if h.session == 0 {
		h.session = 1
		if h.file != nil {
			n, err := h.file.nextSession()
			h.session = max(n, 1)
			h.check(err)
		}
	}
	return h.session
}

// check gives the file up if err says that it cannot be used. h.io is held.
func (h *History) check(err error) {
	if err != nil {
		h.log.Warn("the history of cells is kept in memory only", "reason", err)
		h.file = nil
	}
}

// all returns every entry in the order of sessions and lines, and the number of
// this session.
func (h *History) all() ([]Entry, int) {
	h.io.Lock()
	defer h.io.Unlock()
	session := h.number()
	var entries []Entry
	if h.file != nil {
		past, err := h.file.read()
		h.check(err)
		entries = slices.DeleteFunc(past, func(e Entry) bool { return e.Session == session })
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, e := range h.own {
		e.Session = session
		entries = append(entries, e)
	}
	slices.SortStableFunc(entries, func(a, b Entry) int {
		return cmp.Or(cmp.Compare(a.Session, b.Session), cmp.Compare(a.Line, b.Line))
	})
	return entries, session
}

type historyRequest struct {
	Output  bool   `json:"output"`
	Access  string `json:"hist_access_type"`
	Session int    `json:"session"` // 0 is this session, -1 the one before it
	Start   int    `json:"start"`
	Stop    *int   `json:"stop"` // excluded; missing: to the end
	N       int    `json:"n"`
	Pattern string `json:"pattern"`
	Unique  bool   `json:"unique"`
}

type historyReply struct {
	Status  string   `json:"status"`
	History [][3]any `json:"history"`
}

func history(r *request) (any, error) {
	var c historyRequest
	if err := decode(r, &c); err != nil {
		return nil, err
	}
	all, current := r.s.history.all()
	reply := historyReply{"ok", [][3]any{}}
	for _, e := range c.find(all, current) {
		row := [3]any{e.Session, e.Line, e.Input}
		if c.Output {
			var output any
			if e.Output != "" {
				output = e.Output
			}
			row[2] = [2]any{e.Input, output}
		}
		reply.History = append(reply.History, row)
	}
	return reply, nil
}

// find returns the entries that are asked for, the oldest first.
func (c historyRequest) find(all []Entry, current int) []Entry {
	var found []Entry
	switch c.Access {
	case "range":
		session := c.Session
		if session <= 0 {
			session += current
		}
		for _, e := range all {
			if e.Session == session && e.Line >= c.Start && (c.Stop == nil || e.Line < *c.Stop) {
				found = append(found, e)
			}
		}
		return found
	case "search":
		pattern := glob(cmp.Or(c.Pattern, "*"))
		seen := map[string]bool{}
		for _, e := range slices.Backward(all) {
			if !pattern.MatchString(e.Input) || c.Unique && seen[e.Input] {
				continue
			}
			seen[e.Input] = true
			found = append(found, e)
			if c.N > 0 && len(found) == c.N {
				break
			}
		}
		slices.Reverse(found)
		return found
	default: // "tail"
		if c.N > 0 && len(all) > c.N {
			all = all[len(all)-c.N:]
		}
		return all
	}
}

// glob compiles a shell pattern, in which * stands for anything, ? for one
// character and [abc], [a-z], [^a] for one of some.
func glob(pattern string) *regexp.Regexp {
	var re strings.Builder
	re.WriteString(`(?s)\A`)
	for i := 0; i < len(pattern); i++ {
		switch c := pattern[i]; c {
		case '*':
			re.WriteString(`.*`)
		case '?':
			re.WriteByte('.')
		case '[':
			if n := strings.IndexByte(pattern[min(i+2, len(pattern)):], ']'); n >= 0 {
				class := pattern[i+1 : i+2+n]
				if _, err := regexp.Compile("[" + class + "]"); err == nil {
					re.WriteString("[" + class + "]")
					i += n + 2
					continue
				}
			}
			re.WriteString(`\[`)
		default:
			n := 1 // a whole character: QuoteMeta must not see half of one
			for i+n < len(pattern) && pattern[i+n]&0xc0 == 0x80 {
				n++
			}
			re.WriteString(regexp.QuoteMeta(pattern[i : i+n]))
			i += n - 1
		}
	}
	re.WriteString(`\z`)
	compiled, err := regexp.Compile(re.String())
	if err != nil { // not valid UTF-8
		return regexp.MustCompile(regexp.QuoteMeta(strings.ToValidUTF8(pattern, "?")))
	}
	return compiled
}
