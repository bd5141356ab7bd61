package ledger

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// run makes a run of a cell from "x=1 y=2", the versions it met and left.
func run(cell, reads, writes string) Run {
	r := Run{Cell: cell, Name: cell, Source: cell, Reads: map[string]Version{}, Writes: map[string]Version{}}
	for text, to := range map[string]map[string]Version{reads: r.Reads, writes: r.Writes} {
		for _, f := range strings.Fields(text) {
			name, v, _ := strings.Cut(f, "=")
			to[name] = Version(v)
		}
	}
	return r
}

func names(l List) (out []string) {
	for _, s := range l {
		out = append(out, s.Cell)
	}
	return out
}

func expect(t *testing.T, what string, got List, want ...string) {
	t.Helper()
	if !slices.Equal(names(got), want) {
		t.Errorf("%s: %v, want %v\n%v", what, names(got), want, got)
	}
}

func TestOrderIsLearned(t *testing.T) {
	l := New()
	l.Ran(run("a", "", "x=1"))
	l.Ran(run("b", "x=1", ""))
	l.Ran(run("c", "", "x=5"))
	expect(t, "a new cell at the end", l.Stale())
	l.Ran(run("b", "x=5", "")) // so c stands above b
	expect(t, "b has met what c made", l.Stale())
	if want := []string{"a", "c", "b"}; !slices.Equal(l.order, want) {
		t.Errorf("the order is %v, want %v", l.order, want)
	}
	l.Ran(run("c", "", "x=6"))
	expect(t, "c has changed", l.Stale(), "b")
}

func TestACellSeenBelowStaysBelow(t *testing.T) {
	l := New()
	l.Ran(run("a", "", "x=1"))
	l.Ran(run("b", "x=1", "y=1"))
	l.Ran(run("c", "y=1", "x=2")) // c uses what b makes
	l.Ran(run("b", "x=2", "y=2"))
	expect(t, "b has met what c makes below it", l.Stale(), "b")
	expect(t, "the plan", l.Plan(), "a", "b", "c")
}

func TestEarlierRunsAreRemembered(t *testing.T) {
	l := New()
	l.Ran(run("a", "", "n=0"))
	l.Ran(run("b", "n=0", "n=1"))
	l.Ran(run("c", "n=1", ""))
	l.Ran(run("b", "n=1", "n=2"))
	expect(t, "c shows what a fresh session would", l.Stale(), "b")
	l.Ran(run("a", "", "n=7"))
	expect(t, "nobody has seen b meet 7", l.Stale(), "b", "c")
}

func TestPlanRestoresWhatIsHeld(t *testing.T) {
	l := New()
	l.Ran(run("a", "", "x=1"))
	l.Ran(run("b", "x=1", "y=1"))
	l.Ran(run("c", "", "x=9")) // below, a second writer
	l.Ran(run("d", "y=1", ""))
	expect(t, "nothing to do", l.Plan())
	r := run("b", "x=9", "y=9")
	l.cells["c"].above["b"] = true // known to stand below
	l.Ran(r)
	expect(t, "stale", l.Stale(), "b")
	expect(t, "a gives x back, c takes it again", l.Plan(), "a", "b", "c")
}

func TestTextsAreHarmless(t *testing.T) {
	l := List{{Name: "<b>", Source: "<script>", Reason: "<i>"}}
	for _, bad := range []string{"<b>", "<script>", "<i>"} {
		if strings.Contains(l.HTML(), bad) {
			t.Errorf("%s is in the page", bad)
		}
	}
	long := List{{Source: "\n  " + strings.Repeat("é", 100)}}
	if got := firstLine(long[0].Source); len([]rune(got)) != 48 {
		t.Errorf("the first line is cut to %d characters", len([]rune(got)))
	}
}

// A cell is known by what it does, not by what it imports.
func TestFirstLine(t *testing.T) {
	for source, want := range map[string]string{
		"\n x := 1\ny := 2": "x := 1", "": "", "import \"fmt\"": "import \"fmt\"",
		"import \"math\"\ntip := 2":                      "tip := 2",
		"import (\n\t\"fmt\"\n\t\"math\"\n)\n\ntip := 2": "tip := 2",
		"// the tip\ntip := 2":                           "tip := 2",
		"import (\"fmt\")\nfmt.Println()":                "fmt.Println()",
	} {
		if got := firstLine(source); got != want {
			t.Errorf("%q is known as %q, want %q", source, got, want)
		}
	}
}

// What is kept from one question to the next never changes the answer.
func TestStaleKeepsWhatHolds(t *testing.T) {
	stale := 0
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 4))
		l := New()
		versions := map[string]Version{}
		cells := 0
		for range 40 {
			name := fmt.Sprint("c", rng.IntN(cells+1))
			if rng.IntN(3) > 0 || l.cells[name] == nil {
				cells++
				name = fmt.Sprint("c", cells)
			}
			r := run(name, "", "")
			for _, v := range []string{"x", "y", "z"} {
				switch rng.IntN(4) {
				case 0:
					r.Reads[v] = versions[v]
				case 1:
					versions[v] = Version(fmt.Sprint(rng.IntN(3)))
					r.Writes[v] = versions[v]
				}
			}
			if rng.IntN(15) == 0 {
				l.Deleted([]string{fmt.Sprint("c", rng.IntN(cells+1))})
			}
			l.Ran(r)
			if rng.IntN(3) == 0 {
				continue
			}
			anew := newFresh()
			anew.goThrough(l, nil)
			got := l.Stale()
			if !slices.Equal(got, anew.stale) {
				t.Fatalf("seed %d: %v, want %v", seed, got, anew.stale)
			}
			stale += len(got)
		}
	}
	if stale < 1000 {
		t.Errorf("only %d cells were stale", stale)
	}
}
