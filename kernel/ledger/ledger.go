package ledger

import (
	"crypto/sha256"
	"fmt"
	"maps"
	"slices"
)

// Version tells one value of a name from another. "" stands for no value.
type Version string

// Run is one run of a cell.
type Run struct {
	// Cell is the cell's id, "" if the front end does not name its cells.
	Cell string
	// Once says that this cell is not one that ran before, whatever its text:
	// nobody is there who could run one twice.
	Once bool
	// Name is what the page calls the run, such as "In[3]".
	Name string
	// Source is the cell's text.
	Source string
	// Reads are the names it used and the versions they had when it began.
	Reads map[string]Version
	// Writes are the names it declared or changed and the versions it left.
	Writes map[string]Version
	// Stores are places inside names, such as m["a"] or *p, that it gave another
	// value whatever they held, by the name; it uses these names for nothing else.
	Stores map[string][]string
	Failed bool
}

// Stale is a cell that shows what a run from top to bottom would not.
type Stale struct {
	Cell   string // its id; made up if the front end gave none
	Name   string // of its last run
	Source string
	// Reason says why, in one sentence without a full stop.
	Reason string
}

// Ledger is the state of one session. It is not for concurrent use.
type Ledger struct {
	cells  map[string]*entry
	order  []string           // as far as is known, from top to bottom
	writer map[string]string  // the cell that last wrote a name
	holds  map[string]Version // what the session's names stand for
	gone   bool               // cells have been deleted
	made   int                // ids made up
	known  *fresh             // the run from top to bottom, as far as nothing has changed since; may be nil
}

// entry is what is known of one cell.
type entry struct {
	at    int // its place in the order
	id    string
	run   Run
	past  []Run             // earlier ones with the same text
	from  map[string]string // the cell each name it read came from
	named bool              // its id is the front end's
	above map[string]bool   // cells that were seen to stand above it
}

// New returns a ledger of no cells.
func New() *Ledger {
	return &Ledger{cells: map[string]*entry{}, writer: map[string]string{}, holds: map[string]Version{Random: Unused}}
}

// Deleted says that cells are no longer on the page. What they have made lives on.
func (l *Ledger) Deleted(ids []string) {
	for _, id := range ids {
		delete(l.cells, id)
	}
	if len(ids) > 0 {
		l.gone = true
		l.known = nil
		l.order = slices.DeleteFunc(l.order, func(id string) bool { return l.cells[id] == nil })
		l.number()
	}
}

// number tells every cell its place.
func (l *Ledger) number() {
	for i, id := range l.order {
		l.cells[id].at = i
	}
}

// Ran says that a cell has run, and returns its id.
func (l *Ledger) Ran(r Run) string {
	e, fresh := l.entry(r)
	if !fresh {
		l.known = nil
	}
	from := map[string]string{}
	for name := range r.Reads {
		w := l.writer[name]
		switch {
		case w == "":
		case w == e.id && overwrites(r, e.run, name):
			r.Reads[name], from[name] = e.run.Reads[name], e.from[name]
		default:
			from[name] = w
			if w != e.id && l.cells[w] != nil {
				l.standsAbove(w, e, map[string]bool{})
			}
		}
	}
	if e.run.Source != r.Source {
		e.past = nil
	}
	if e.past = append(e.past, r); len(e.past) > maxPast {
		e.past = e.past[1:]
	}
	e.run, e.from = r, from
	for name, v := range r.Writes {
		l.writer[name], l.holds[name] = e.id, v
	}
	if fresh && l.gone {
		l.replaces(e)
	}
	return e.id
}

// maxPast is how many runs of one cell are remembered.
const maxPast = 32

// overwrites reports whether a cell that runs again gives every place inside name
// a value that it gave one before: then it does not matter that it had.
func overwrites(now, before Run, name string) bool {
	if len(before.Stores[name]) == 0 {
		return false
	}
	for _, place := range before.Stores[name] {
		if !slices.Contains(now.Stores[name], place) {
			return false
		}
	}
	return true
}

// replaces looks whether a new cell makes what another one has from a cell that is
// gone. Then it has come in its place: that is how front ends move a cell.
func (l *Ledger) replaces(e *entry) {
	for _, id := range slices.Clone(l.order) {
		other := l.cells[id]
		for name, v := range other.run.Reads {
			if other != e && v != "" && v == e.run.Writes[name] && other.from[name] != "" && l.cells[other.from[name]] == nil {
				l.standsAbove(e.id, other, map[string]bool{})
				break
			}
		}
	}
}

// entry finds the cell of a run, or makes it.
func (l *Ledger) entry(r Run) (e *entry, fresh bool) {
	id := r.Cell
	if id == "" && !r.Once {
		for _, other := range slices.Backward(l.order) {
			if e := l.cells[other]; !e.named && e.run.Source == r.Source && l.alone(e, r) {
				return e, false
			}
		}
	}
	if e := l.cells[id]; e != nil {
		return e, false
	}
	if id == "" {
		l.made++
		id = fmt.Sprintf("cell-%d", l.made)
	}
	e = &entry{at: len(l.order), id: id, named: r.Cell != "", above: map[string]bool{}}
	l.cells[id] = e
	l.order = append(l.order, id)
	return e, true
}

// alone reports whether a run with e's text can only be e again: nobody else has
// changed what it makes, and it does not use what it made itself.
func (l *Ledger) alone(e *entry, r Run) bool {
	for name := range r.Writes {
		if w := l.writer[name]; w != "" && w != e.id {
			return false
		}
	}
	for name := range r.Reads {
		if _, own := e.run.Writes[name]; own {
			return false
		}
	}
	return true
}

// standsAbove takes it that cell w stands above e. If w was thought to stand
// below, it moves up, with all that it uses, unless it was seen to stand below.
func (l *Ledger) standsAbove(w string, e *entry, moving map[string]bool) {
	if l.cells[w].at < e.at {
		e.above[w] = true
		return
	}
	if moving[w] || l.under(w, e.id) {
		return
	}
	moving[w] = true
	for _, source := range slices.Sorted(maps.Keys(l.cells[w].above)) {
		if l.cells[source] != nil && l.cells[source].at > e.at {
			l.standsAbove(source, e, moving)
		}
	}
	from := l.cells[w].at
	l.order = slices.Insert(slices.Delete(l.order, from, from+1), e.at, w)
	l.number()
	l.known = nil
	e.above[w] = true
}

// under reports whether cell low was seen to stand below high, directly or
// through others.
func (l *Ledger) under(low, high string) bool {
	seen := map[string]bool{}
	var look func(id string) bool
	look = func(id string) bool {
		e := l.cells[id]
		if e == nil || seen[id] {
			return false
		}
		seen[id] = true
		for up := range e.above {
			if up == high || look(up) {
				return true
			}
		}
		return false
	}
	return look(low)
}

// Stale lists the cells that a run from top to bottom would make show something
// else, from top to bottom.
func (l *Ledger) Stale() List {
	if l.known == nil {
		l.known = newFresh()
	}
	l.known.goThrough(l, nil)
	return slices.Clone(l.known.stale)
}

// fresh is a session that runs the page from top to bottom.
type fresh struct {
	done  int                // how many cells have run
	now   map[string]Version // what names stand for
	by    map[string]*entry  // who made that
	stale List               // the cells that show something else
	isOld map[*entry]bool    // whether one is among them
}

func newFresh() *fresh {
	return &fresh{now: map[string]Version{Random: Unused}, by: map[string]*entry{}, isOld: map[*entry]bool{}}
}

// goThrough runs the cells of the page that have not run yet; before, if not nil,
// is told each cell before it runs.
func (f *fresh) goThrough(l *Ledger, before func(e *entry)) {
	for ; f.done < len(l.order); f.done++ {
		id := l.order[f.done]
		e := l.cells[id]
		if before != nil {
			before(e)
		}
		other := e.run.misses(f.now)
		if len(other) > 0 {
			f.isOld[e] = true
			f.stale = append(f.stale, Stale{id, e.run.Name, e.run.Source, l.reason(e, other, f)})
		}
		for name, v := range e.makes(f.now, len(other) == 0) {
			f.now[name] = v
			f.by[name] = e
		}
	}
}

// misses lists the names of which a run met another version than now, sorted.
func (r *Run) misses(now map[string]Version) (names []string) {
	for name, v := range r.Reads {
		if v != now[name] {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names
}

// makes is what a cell would leave in a fresh session: what it left when it met
// the same before, or something that nobody has seen yet.
func (e *entry) makes(now map[string]Version, asLast bool) map[string]Version {
	if asLast {
		return e.run.Writes
	}
	for i := range slices.Backward(e.past) {
		if len(e.past[i].misses(now)) == 0 {
			return e.past[i].Writes
		}
	}
	h := sha256.New()
	for _, name := range slices.Sorted(maps.Keys(e.run.Reads)) {
		fmt.Fprintf(h, "%s %s\n", name, now[name])
	}
	unseen := map[string]Version{}
	for name := range e.run.Writes {
		unseen[name] = Version(fmt.Sprintf("%s %x %s", e.id, h.Sum(nil)[:12], name))
	}
	return unseen
}

// reason says why a cell is out of date. It prefers a cause in the cell itself to
// one further up.
func (l *Ledger) reason(e *entry, other []string, f *fresh) string {
	for _, name := range other {
		maker := f.by[name]
		from := l.cells[e.from[name]]
		switch {
		case name == Random:
			return "it drew random numbers after other cells, or more often, than from top to bottom"
		case e.run.Reads[name] == "":
			return fmt.Sprintf("it ran before there was %s", name)
		case maker == nil && from == nil:
			return fmt.Sprintf("it uses %s from a cell that is gone", name)
		case maker == nil && from == e:
			return fmt.Sprintf("it used the %s that it had left itself when it ran before", name)
		case maker == nil && from.at > e.at:
			return fmt.Sprintf("it uses %s, which only %s below it makes", name, from.run.Name)
		case maker == nil:
			return fmt.Sprintf("it uses %s, which no cell makes any more", name)
		case f.isOld[maker]:
			continue
		case from == e:
			return fmt.Sprintf("it used the %s that it had left itself when it ran before", name)
		case from == maker:
			return fmt.Sprintf("it used %s as it was before %s ran", name, maker.run.Name)
		case from == nil:
			return fmt.Sprintf("it used %s from a cell that is gone", name)
		default:
			return fmt.Sprintf("it used %s as %s left it, and from top to bottom %s would make it", name, from.run.Name, maker.run.Name)
		}
	}
	name := other[0]
	return fmt.Sprintf("it used %s of %s, which is out of date itself", name, f.by[name].run.Name)
}

// Random is the name that stands for the state of the global random functions,
// and Unused its version in a fresh session.
const (
	Random = "·random"

	Unused Version = "0"
)
