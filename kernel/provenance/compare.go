package provenance

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
)

// Kind says what about two records differs.
type Kind string

// The kinds of difference, in the order in which Differences lists them: the
// likelier cause of another result comes first.
const (
	FileChanged    Kind = "file"     // a file has another content, or only one of them read it
	SeedChanged    Kind = "seed"     // the random functions start elsewhere
	OrderChanged   Kind = "order"    // other cells, or another order
	ProgramChanged Kind = "program"  // another version, or with changes on top
	ModuleChanged  Kind = "module"   // of a Go module that is part of it
	PlatformOther  Kind = "platform" // another system, processor or version of Go
)

// Difference is one thing in which the circumstances of two runs differ.
type Difference struct {
	Kind Kind
	// Name is the file's or module's name, or "".
	Name string
	// Text says it in one sentence without a full stop.
	Text string
}

// Differences lists in what the circumstances of a run differ from those of an
// earlier one, whose record is old. It is empty if both would have to give the
// same results.
func Differences(old, now *Record) []Difference {
	var out []Difference
	add := func(k Kind, name, format string, a ...any) {
		out = append(out, Difference{k, name, fmt.Sprintf(format, a...)})
	}
	then, here := byName(old.Files), byName(now.Files)
	for _, name := range namesOf(then, here) {
		a, b := then[name], here[name]
		switch {
		case slices.Equal(a, b):
		case len(b) == 0:
			add(FileChanged, name, "%s was read then and is not read now", name)
		case len(a) == 0:
			add(FileChanged, name, "%s is read now and was not read then", name)
		default:
			add(FileChanged, name, "%s has changed: its SHA-256 was %s and is %s now", name, briefly(a), briefly(b))
		}
	}
	if old.Seed != now.Seed {
		add(SeedChanged, "", "the random functions started from %d then and from %d now", old.Seed, now.Seed)
	}
	if n := firstOther(old.Runs, now.Runs); n >= 0 {
		switch {
		case n >= len(now.Runs):
			add(OrderChanged, old.Runs[n].Name, "%d cells ran then and %d now", len(old.Runs), len(now.Runs))
		case n >= len(old.Runs):
			add(OrderChanged, now.Runs[n].Name, "%d cells ran then and %d now", len(old.Runs), len(now.Runs))
		default:
			add(OrderChanged, now.Runs[n].Name, "run %d was another cell, or one with another text", n+1)
		}
	}
	p, q := old.Program, now.Program
	if p.Version != q.Version || p.Revision != q.Revision || p.Modified != q.Modified {
		add(ProgramChanged, "", "the program was %s and is %s now", p.name(), q.name())
	}
	for _, m := range namesOf(p.Modules, q.Modules) {
		if p.Modules[m] != q.Modules[m] {
			add(ModuleChanged, m, "%s was %s and is %s now", m, cmp.Or(p.Modules[m], "no part of the program"), cmp.Or(q.Modules[m], "no part of the program"))
		}
	}
	if p.Go != q.Go || p.Platform != q.Platform {
		add(PlatformOther, "", "it ran on %s, %s and runs on %s, %s now", p.Platform, p.Go, q.Platform, q.Go)
	}
	return out
}

// name is the program's version in a few words.
func (p Program) name() string {
	s := p.Version
	if p.Revision != "" {
		s += " at " + p.Revision[:min(12, len(p.Revision))]
	}
	if p.Modified {
		s += " with changes"
	}
	return s
}

func byName(files []File) map[string][]File {
	m := map[string][]File{}
	for _, f := range files {
		m[f.Name] = append(m[f.Name], f)
	}
	return m
}

func namesOf[V any](a, b map[string]V) []string {
	all := maps.Clone(a)
	if all == nil {
		all = map[string]V{}
	}
	maps.Copy(all, b)
	return slices.Sorted(maps.Keys(all))
}

// briefly names the contents that a file had.
func briefly(files []File) string {
	s := ""
	for i, f := range files {
		if i > 0 {
			s += ", then "
		}
		s += cmp.Or(f.SHA256[:min(12, len(f.SHA256))], "unknown")
	}
	return s
}

// firstOther returns the first place at which two orders of execution differ, -1
// if there is none. A cell is known by its text.
func firstOther(a, b []Run) int {
	for i := range max(len(a), len(b)) {
		if i >= len(a) || i >= len(b) || a[i].Source != b[i].Source {
			return i
		}
	}
	return -1
}
