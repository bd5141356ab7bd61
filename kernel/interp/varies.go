package interp

import (
	"go/ast"
	"go/constant"
	"go/types"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/cosmos72/gomacro/gls"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/pattern"
)

// What makes the output of a cell differ from run to run is said on the cell: the
// clock, addresses in memory, goroutines that print side by side, generators
// without a seed, questions about the machine. Some of it shows in the cell's
// text, some only when it runs.

// variance gathers why the output of the running cell may differ.
type variance struct {
	mu      sync.Mutex
	why     []string
	owner   uintptr         // the goroutine that runs cells
	printed map[uintptr]int // goroutines that have printed, in their order
	last    uintptr         // the one that printed last
	turns   int             // how often another one went on printing
}

func (in *Interp) varies(why string) {
	v := &in.variance
	v.mu.Lock()
	defer v.mu.Unlock()
	if !slices.Contains(v.why, why) {
		v.why = append(v.why, why)
	}
}

func (v *variance) begin() {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.why, v.owner, v.printed, v.last, v.turns = nil, gls.GoID(), nil, gls.GoID(), 0
}

// prints notes who prints. One goroutine after another may be in order; two that
// take turns, or two beside the cell's own, are not.
func (v *variance) prints() {
	id := gls.GoID()
	v.mu.Lock()
	defer v.mu.Unlock()
	if id == v.last {
		return
	}
	v.last = id
	v.turns++
	if id != v.owner {
		if v.printed == nil {
			v.printed = map[uintptr]int{}
		}
		v.printed[id]++
	}
}

// end returns why the output may differ, sorted.
func (v *variance) end() []string {
	v.mu.Lock()
	defer v.mu.Unlock()
	if len(v.printed) > 1 || len(v.printed) == 1 && v.turns > 2 {
		v.why = append(v.why, "goroutines print side by side")
	}
	slices.Sort(v.why)
	return slices.Clone(v.why)
}

// warn says under the cell why its output may differ.
func warn(s cell.Sink, why []string) {
	if len(why) > 0 {
		s.Stream("stderr", "This output may differ from run to run: "+strings.Join(why, "; ")+".\n")
	}
}

// address is how an address looks when it is printed.
var address = pattern.New(`\b0x[0-9a-f]{8,16}\b`)

// near is how far from one another the things in memory may lie.
const near = 1 << 38

// isAddress reports whether text is an address near that of something which the
// program has in memory.
func isAddress(text string) bool {
	n, err := strconv.ParseUint(text, 0, 64)
	here := uint64(reflect.ValueOf(new([64]byte)).Pointer())
	return err == nil && (n-here < near || here-n < near)
}

// watched is a sink that looks at what passes.
type watched struct {
	cell.Sink
	in *Interp
}

func (w *watched) Stream(name, text string) {
	w.in.seen(text)
	w.Sink.Stream(name, text)
}

func (w *watched) Display(b cell.Bundle, id string) {
	w.in.seenBundle(b)
	w.Sink.Display(b, id)
}

func (w *watched) Update(b cell.Bundle, id string) {
	w.in.seenBundle(b)
	w.Sink.Update(b, id)
}

func (in *Interp) seenBundle(b cell.Bundle) {
	if text, ok := b.Data["text/plain"].(string); ok {
		in.seen(text)
	}
}

func (in *Interp) seen(text string) {
	if strings.Contains(text, "0x") && slices.ContainsFunc(address.Regexp().FindAllString(text, -1), isAddress) {
		in.varies("it shows an address in memory")
	}
}

// adaptClock makes the functions that tell the time say so.
func (in *Interp) adaptClock() {
	const path = "time"
	clock := func(name string) { in.varies("it reads the clock (time." + name + ")") }
	in.replaceFunc(path, "Now", func() time.Time { clock("Now"); return time.Now() })
	in.replaceFunc(path, "Since", func(t time.Time) time.Duration { clock("Since"); return time.Since(t) })
	in.replaceFunc(path, "Until", func(t time.Time) time.Duration { clock("Until"); return time.Until(t) })
}

// machine lists the functions whose answer depends on the machine or on chance, by
// the path of their package.
var machine = map[string]string{
	"os":          "Getpid Getppid Getuid Getgid Hostname Getenv LookupEnv Environ ExpandEnv Getwd TempDir MkdirTemp CreateTemp UserHomeDir UserCacheDir UserConfigDir Executable",
	"runtime":     "NumCPU NumGoroutine GOMAXPROCS ReadMemStats NumCgoCall Stack Caller Callers",
	"io/ioutil":   "TempDir TempFile",
	"crypto/rand": "Read Int Prime Text",
	"testing":     "Benchmark AllocsPerRun",
}

// lookAtCall notes what the text of a call tells.
func (r *rewriter) lookAtCall(f *types.Func, n *ast.CallExpr) {
	path := f.Pkg().Path()
	if names, ok := machine[path]; ok && slices.Contains(strings.Fields(names), f.Name()) {
		r.in.varies("it asks the machine (" + f.Pkg().Name() + "." + f.Name() + ")")
	}
	if path == "fmt" || path == "log" {
		for _, a := range n.Args {
			if tv := r.info.Types[a]; tv.Value != nil && tv.Value.Kind() == constant.String && verbP.Regexp().MatchString(constant.StringVal(tv.Value)) {
				r.in.varies("it shows an address in memory (%p)")
			}
		}
	}
}

var verbP = pattern.New(`(^|[^%])(%%)*%[-+# 0-9.\[\]*]*p`)

// lookAtLiteral notes a distribution without a source of random numbers: it draws
// from Go's own, which starts anywhere.
func (r *rewriter) lookAtLiteral(n *ast.CompositeLit) {
	t, ok := r.info.TypeOf(n).(*types.Named)
	if !ok || t.Obj().Pkg() == nil || !strings.HasPrefix(t.Obj().Pkg().Path(), "gonum.org/") {
		return
	}
	s, ok := t.Underlying().(*types.Struct)
	if !ok {
		return
	}
	var has bool
	for f := range s.Fields() {
		has = has || f.Name() == "Src"
	}
	if !has || len(n.Elts) == s.NumFields() && !isKeyed(n) {
		return
	}
	for _, e := range n.Elts {
		if kv, ok := e.(*ast.KeyValueExpr); ok {
			if id, ok := kv.Key.(*ast.Ident); ok && id.Name == "Src" {
				return
			}
		}
	}
	r.in.unseeded[t.Obj().Name()] = true
}

func isKeyed(n *ast.CompositeLit) bool {
	_, ok := n.Elts[0].(*ast.KeyValueExpr)
	return ok
}

// lookAtDraw notes that a distribution draws which the cells have made without a
// source.
func (r *rewriter) lookAtDraw(n *ast.CallExpr) {
	sel, ok := n.Fun.(*ast.SelectorExpr)
	if !ok || sel.Sel.Name != "Rand" {
		return
	}
	t := r.typeOf(sel.X)
	if p, ok := t.(*types.Pointer); ok {
		t = p.Elem()
	}
	if named, ok := t.(*types.Named); ok && r.in.unseeded[named.Obj().Name()] {
		r.in.varies("it draws random numbers that nobody has seeded (give " + named.Obj().Name() + " a Src)")
	}
}
