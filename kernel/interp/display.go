package interp

import (
	"errors"
	"fmt"
	"html"
	"strings"
	"sync"
	"time"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/show"
)

// addDisplay gives cells the functions that show things and ask questions;
// base.txt says what each does.
func (in *Interp) addDisplay() {
	in.builtin("display", 0, 65535, anyFunc(func(vals []any) {
		for _, v := range vals {
			in.display(v, "")
		}
	}))
	in.builtin("displayAs", 2, 2, plainFunc(func(name string, v any) { in.displayAs(name, in.bundle(v)) }))
	in.builtin("clearOutput", 1, 1, plainFunc(func(wait bool) {
		in.cap.show(func(s cell.Sink) { s.Clear(wait) })
	}))
	in.builtin("page", 1, 1, plainFunc(func(v any) {
		b := in.bundle(v)
		in.cap.show(func(s cell.Sink) { s.Page(b) })
	}))
	in.builtin("input", 1, 1, plainFunc(func(prompt string) (string, error) { return in.ask(prompt, false) }))
	in.builtin("password", 1, 1, plainFunc(func(prompt string) (string, error) { return in.ask(prompt, true) }))
	in.builtin("progress", 2, 2, plainFunc(in.progress))
}

// bundle renders a value or fails the cell.
func (in *Interp) bundle(v any) cell.Bundle {
	b, err := in.bundleOf(v)
	if err != nil {
		panic(&failure{err})
	}
	return b
}

func (in *Interp) display(v any, id string) {
	b := in.bundle(v)
	in.cap.show(func(s cell.Sink) { s.Display(b, id) })
}

// displayAs shows b under a name, or replaces what was shown under it. Names
// belong to a run of a cell: another cell, and the same one run again, do not
// change what this one has shown.
func (in *Interp) displayAs(name string, b cell.Bundle) {
	in.named.mu.Lock()
	known := in.named.ids[name]
	in.named.ids[name] = true
	id := fmt.Sprintf("%s of run %d", name, in.named.run)
	in.named.mu.Unlock()
	in.cap.show(func(s cell.Sink) {
		if known {
			s.Update(b, id)
		} else {
			s.Display(b, id)
		}
	})
}

// namedDisplays are the displays that the running cell has shown under a name.
type namedDisplays struct {
	mu  sync.Mutex
	run int // counts the runs of cells
	ids map[string]bool
}

func (n *namedDisplays) reset() {
	n.mu.Lock()
	n.run++
	n.ids = map[string]bool{}
	n.mu.Unlock()
}

func (in *Interp) ask(prompt string, hide bool) (string, error) {
	req := in.req
	if req == nil || req.Input == nil {
		return "", errors.New("nobody can be asked here: this notebook runs without a person, so give the value in the cell")
	}
	in.cap.flush()
	text, err := req.Input(prompt, hide)
	if in.Interrupted() {
		panic(errInterrupted)
	}
	return text, err
}

// barEvery is the shortest time between two changes of a progress bar.
const barEvery = 100 * time.Millisecond

// progress shows a bar that the function it returns moves.
func (in *Interp) progress(total int, label string) func(int) {
	return in.progressAs(in.barName(), total, label)
}

// barName returns the name of the display of a new bar.
func (in *Interp) barName() string {
	in.named.mu.Lock()
	defer in.named.mu.Unlock()
	in.bars++
	return fmt.Sprintf("progress bar %d", in.bars)
}

func (in *Interp) progressAs(id string, total int, label string) func(int) {
	var mu sync.Mutex
	last, ended := time.Now(), false
	in.displayAs(id, bar(0, total, label))
	return func(done int) {
		mu.Lock()
		defer mu.Unlock()
		now := time.Now()
		if ended || done < total && now.Sub(last) < barEvery {
			return
		}
		last, ended = now, done >= total
		in.displayAs(id, bar(done, total, label))
	}
}

// bar draws a progress bar.
func bar(done, total int, label string) cell.Bundle {
	total = max(total, 1)
	done = min(max(done, 0), total)
	const width = 30
	full := done * width / total
	percent := done * 100 / total
	text := fmt.Sprintf("%s [%s%s] %d %%", label, strings.Repeat("#", full), strings.Repeat(".", width-full), percent)
	source := fmt.Sprintf(`<progress value="%d" max="%d"></progress> %s %d&nbsp;%%`, done, total, html.EscapeString(label), percent)
	return cell.Bundle{Data: map[string]any{show.TextPlain: strings.TrimSpace(text), show.TextHTML: source}}
}
