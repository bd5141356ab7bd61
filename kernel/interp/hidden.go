package interp

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"go/ast"
	"go/types"
	"maps"
	"reflect"
	"slices"
	"strconv"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/interp/typing"
	"rotorhum/kernel/ledger"
)

// What a page shows can depend on what is no longer on it: a cell that was run
// twice, or before one above it was changed. The session writes down, for every
// cell, which versions of which names it met and left. Its text says which names
// it uses; the values say which it has changed, by whatever way: an assignment, a
// pointer, a method, a function of another cell.

// hiddenState is what the session knows about the cells that have run.
type hiddenState struct {
	ledger   *ledger.Ledger
	versions map[string]ledger.Version
	looks    map[string]uint64 // hashes of the variables' values
	later    map[string]*use   // what functions and closures do when they are called
	done     nameSet           // what the running cell has declared so far
	refresh  bool              // the cell asks for the others to be run again
}

func newHiddenState() hiddenState {
	return hiddenState{
		ledger: ledger.New(), versions: map[string]ledger.Version{ledger.Random: ledger.Unused}, looks: map[string]uint64{},
		later: map[string]*use{}, done: nameSet{},
	}
}

// ran notes what a step of the running cell has declared, and reports whether
// methods are among it.
func (h *hiddenState) ran(st *typing.Step) (methods bool) {
	for name := range st.Defines {
		h.done[name] = true
	}
	for _, n := range st.Nodes {
		if f, ok := n.(*ast.FuncDecl); ok && f.Recv != nil {
			h.done.addDeclared(f)
			methods = true
		}
	}
	return methods
}

// before looks at a cell that is about to run.
func (in *Interp) before(src *source) *trace {
	in.hidden.done = nameSet{}
	t := traceOf(src)
	if t == nil {
		return nil
	}
	return t
}

// after writes down what the cell did.
func (in *Interp) after(t *trace, req *cell.Request, failed bool) {
	h := &in.hidden
	h.ledger.Deleted(req.Deleted)
	run := ledger.Run{
		Cell: req.ID, Once: req.ID == "" && req.Input == nil, Name: req.Name, Source: req.Code,
		Reads: map[string]ledger.Version{}, Writes: map[string]ledger.Version{}, Stores: map[string][]string{}, Failed: failed,
	}
	if t != nil {
		in.reads(t, &run)
		for name, places := range t.now.stores {
			if _, met := run.Reads[name]; met && !t.now.uses[name] {
				run.Stores[name] = places
			}
		}
		in.writes(t, &run)
	}
	maps.Copy(h.versions, run.Writes)
	h.ledger.Ran(run)
}

// reads finds the names that the cell used, and what they were.
func (in *Interp) reads(t *trace, run *ledger.Run) {
	h := &in.hidden
	calls := maps.Clone(h.later)
	for name, u := range t.later {
		calls[name] = u
	}
	t.now.reach(calls)
	for name := range t.now.reads {
		v, known := h.versions[name]
		switch {
		case known:
			run.Reads[name] = v
		case run.Failed && in.isUnknown(name) && !t.declares[name]:
			run.Reads[name] = ""
		}
	}
	for name := range t.now.own { // what it has changed after declaring it
		if h.done[name] {
			delete(run.Reads, name)
		}
	}
	if n := in.origin.Draws(); n != h.draws() {
		run.Reads[ledger.Random] = h.versions[ledger.Random]
		run.Writes[ledger.Random] = ledger.Version(strconv.Itoa(n))
	}
}

// draws is how often random numbers had been drawn when the cell began.
func (h *hiddenState) draws() int {
	n, _ := strconv.Atoi(string(h.versions[ledger.Random]))
	return n
}

// isUnknown reports whether a name stands for nothing.
func (in *Interp) isUnknown(name string) bool {
	return in.view.Lookup(name) == nil && types.Universe.Lookup(name) == nil
}

// writes finds the names that the cell has declared or changed, and what they are
// now.
func (in *Interp) writes(t *trace, run *ledger.Run) {
	h := &in.hidden
	derived := derivedFrom(run)
	for name, said := range t.texts { // what is declared as it was is not declared again
		if !run.Failed || h.versions[name] == ledger.Version(digest(string(said))) {
			h.done[name] = true
		}
	}
	for name := range h.done {
		switch {
		case t.texts[name] != "": // a function, method, type, constant or import
			run.Writes[name] = ledger.Version(digest(string(t.texts[name])))
			delete(h.looks, name)
			if u := t.later[name]; u != nil {
				h.later[name] = u
			}
		default:
			run.Writes[name] = ledger.Version(derived + " " + name)
			delete(h.looks, name)
			delete(h.later, name)
			if u := t.later[name]; u != nil {
				h.later[name] = u
			}
		}
	}
	for name := range t.now.assigns {
		if _, known := h.versions[name]; known && run.Writes[name] == "" {
			if _, isVar := in.view.Live()[name].(*types.Var); isVar && !run.Failed {
				if u := t.later[name]; u != nil {
					h.later[name] = u
				}
			}
		}
	}
	in.lookAtValues(t, run, derived)
	in.memories(t, run, derived)
}

// lookAtValues compares what variables hold with what they held before.
func (in *Interp) lookAtValues(t *trace, run *ledger.Run, derived string) {
	h := &in.hidden
	still := in.goroutines.Load() == 0 // else somebody may be writing
	vars := variables{in.ir.Comp, in.ir.PrepareEnv()}
	for name, o := range in.view.Live() {
		if _, isVar := o.(*types.Var); !isVar {
			continue
		}
		_, declared := run.Writes[name]
		assigned := t.now.assigns[name]
		if !still {
			if assigned && !declared {
				run.Writes[name] = ledger.Version(derived + " " + name)
			}
			delete(h.looks, name)
			continue
		}
		v, _, ok := vars.lookup(name)
		if !ok {
			continue
		}
		sum, whole := in.content(asReflect(v))
		old, known := h.looks[name]
		h.looks[name] = sum
		changed := known && old != sum || declared || !whole && assigned
		switch {
		case changed && whole, declared && whole, assigned && whole:
			run.Writes[name] = ledger.Version("value " + strconv.FormatUint(sum, 16))
		case changed:
			run.Writes[name] = ledger.Version(derived + " " + name)
		}
	}
}

func asReflect(v interface{ ReflectValue() reflect.Value }) reflect.Value { return v.ReflectValue() }

// memories notes the closures that change what only they can see whenever they
// are used.
func (in *Interp) memories(t *trace, run *ledger.Run, derived string) {
	h := &in.hidden
	made := false // a function that the cell has used makes such closures
	for _, names := range []nameSet{t.now.reads, t.now.own} {
		for name := range names {
			u := h.later[name]
			if u == nil || !u.keeps {
				continue
			}
			if _, isFunc := in.view.Live()[name].(*types.Func); isFunc {
				made = true
				continue
			}
			if _, met := run.Reads[name]; met || h.done[name] {
				run.Writes[name] = ledger.Version(derived + " memory of " + name)
			}
		}
	}
	if made {
		for name := range h.done {
			if v, isVar := in.view.Live()[name].(*types.Var); isVar && h.later[name] == nil {
				if _, isFunc := v.Type().Underlying().(*types.Signature); isFunc {
					u := newUse()
					u.keeps = true
					h.later[name] = &u
				}
			}
		}
	}
}

// derivedFrom stands for what the cell makes of what it met.
func derivedFrom(run *ledger.Run) string {
	s := string(plainSource(run.Source))
	for _, name := range slices.Sorted(maps.Keys(run.Reads)) {
		s += fmt.Sprintf("\n%s %s", name, run.Reads[name])
	}
	return digest(s)
}

func digest(s string) string {
	sum := sha256.Sum256([]byte(s))
	return hex.EncodeToString(sum[:12])
}

// Stale lists the cells that show what a run from top to bottom would not.
func (in *Interp) Stale() ledger.List { return in.hidden.ledger.Stale() }

// Plan lists the cells to run again so that the page is as a run from top to bottom
// would leave it.
func (in *Interp) Plan() ledger.List { return in.hidden.ledger.Plan() }

// Refresh reports, once, whether the last cell asked for those to be run.
func (in *Interp) Refresh() bool {
	asked := in.hidden.refresh
	in.hidden.refresh = false
	return asked
}

func (in *Interp) addHidden() {
	in.builtin("stale", 0, 0, plainFunc(in.Stale))
	in.builtin("refresh", 0, 0, plainFunc(func() { in.hidden.refresh = true }))
}
