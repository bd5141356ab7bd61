package interp_test

import (
	"strings"
	"testing"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/interp"
)

// recorder is a cell.Sink that keeps what it is given.
type recorder struct {
	out, err strings.Builder
	shown    []cell.Bundle
	order    []string // one word per call, in order
}

func (r *recorder) Stream(name, text string) {
	if name == "stdout" {
		r.out.WriteString(text)
	} else {
		r.err.WriteString(text)
	}
	if n := len(r.order); n == 0 || r.order[n-1] != name {
		r.order = append(r.order, name)
	}
}
func (r *recorder) Display(b cell.Bundle, id string) {
	r.shown = append(r.shown, b)
	r.order = append(r.order, "display")
}
func (r *recorder) Update(b cell.Bundle, id string) { r.order = append(r.order, "update "+id) }
func (r *recorder) Clear(wait bool)                 { r.order = append(r.order, "clear") }
func (r *recorder) Page(b cell.Bundle)              { r.order = append(r.order, "page") }

// bench is an interpreter under test and its cell counter.
type bench struct {
	*interp.Interp
	t *testing.T
}

func start(t *testing.T) *bench {
	t.Helper()
	in, err := interp.New(interp.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(in.Close)
	return &bench{in, t}
}

// run runs a cell and returns what it showed and how it ended.
func (b *bench) run(code string) (*recorder, cell.Outcome) {
	r := &recorder{}
	return r, b.Run(cell.Request{Name: "In[1]", Code: code, Sink: r})
}

// must runs a cell that has to succeed and returns its printed text followed
// by its result.
func (b *bench) must(code string) string {
	b.t.Helper()
	r, o := b.run(code)
	if o.Fault != nil {
		b.t.Fatalf("cell failed:\n%s\n%s", code, strings.Join(o.Fault.Traceback, "\n"))
	}
	s := r.out.String()
	if o.Result != nil {
		s += o.Result.Data["text/plain"].(string)
	}
	return s
}

func TestStateIsKeptFromCellToCell(t *testing.T) {
	b := start(t)
	b.must("import \"fmt\"\nx := 3\nfunc twice(n int) int { return 2 * n }")
	if got, want := b.must("fmt.Println(\"x is\", x)\ntwice(x)"), "x is 3\n6"; got != want {
		t.Errorf("second cell showed %q, want %q", got, want)
	}
}

func TestCompileErrorLeavesStateAlone(t *testing.T) {
	b := start(t)
	b.must("x := 3")
	_, o := b.run("x := 4\ny := x + nowhere")
	if o.Fault == nil || o.Fault.Name != "CompileError" || o.Fault.Line != 2 {
		t.Fatalf("fault = %v, want a CompileError in line 2", o.Fault)
	}
	if got := b.must("x"); got != "3" {
		t.Errorf("x = %s after a cell that did not compile, want 3", got)
	}
}

func TestLastExpressionIsShown(t *testing.T) {
	b := start(t)
	b.must("import (\"math\"; \"errors\")\nx := 3\nm := map[string]int{\"a\": 1}\np := struct{ A int }{4}\nfor {\n\tbreak\n}")
	for _, c := range []struct{ code, want string }{
		{"x", "3"}, {"x + 1", "4"}, {"x+1 == 4", "true"}, {"(x * 2)", "6"}, {"-x", "-3"}, {"1 << 4", "16"}, {"1 + 1", "2"},
		{"\"a\" + \"b\"", "ab"}, {"p.A", "4"}, {"m[\"a\"]", "1"}, {"math.Pi", "3.141592653589793"}, {"math.Sqrt(16)", "4"},
		{"[]int{1, 2}[1:]", "[2]"}, {"func(n int) int { return n * n }(5)", "25"}, {"len(m)", "1"}, {"&p", "&{A: 4}"},
		{"x == 3 && len(m) > 0", "true"}, {"x;", ""}, {"x // a comment", "3"}, {"y := x", ""}, {"nil == errors.New(\"a\")", "false"},
		{"struct{ a, b int }{1, 2}", "{a:1 b:2}"}, {"float64(x) / 2", "1.5"}, {"[]int(nil)", "[]"}, {"'a'", "97"}, {"", ""}, {"// nothing", ""},
	} {
		if got := b.must(c.code); got != c.want {
			t.Errorf("%s showed %q, want %q", c.code, got, c.want)
		}
	}
}

func TestNothingEndsTheKernel(t *testing.T) {
	b := start(t)
	b.must("import (\"os\"; \"log\"; \"runtime\"; \"sync\")\nkept := 5")
	for _, c := range []struct{ code, want string }{
		{"os.Exit(1)", "os.Exit would end the kernel"},
		{"log.Fatal(\"too fast\")", "too fast"},
		{"log.Fatalf(\"%d rpm\", 9000)", "9000 rpm"},
		{"log.Fatalln(\"so\", \"long\")", "so long"},
		{"runtime.Goexit()", "runtime.Goexit would end the kernel"},
		{"func() { defer os.Exit(2) }()", "os.Exit would end the kernel"},
		{"func f() { f() }\nf()", "calls inside one another"},
		{"x := make([]float64, 1<<45)", "281 TB"},
		{"n := 1 << 45\nx := make([]struct{ A, B float64 }, 0, n)", "563 TB"},
		{"var mu sync.Mutex\nmu.Unlock()", "unlock of unlocked mutex"},
		{"var rw sync.RWMutex\nrw.RUnlock()", "unlock of unlocked mutex"},
		{"var l sync.Locker = &sync.Mutex{}\nl.Lock()\nl.Unlock()", ""},
		{"var held sync.RWMutex\nheld.RLock()\nheld.RUnlock()\nheld.Lock()\nheld.Unlock()\nfunc() { held.Lock(); defer held.Unlock() }()\nheld.Lock()", ""},
		{"os.Stdout.Close()", ""},
		{"os.Stdout = nil", ""},
	} {
		_, o := b.run(c.code)
		if c.want != "" && (o.Fault == nil || !strings.Contains(o.Fault.Value, c.want)) {
			t.Errorf("%s: fault %v, want …%s…", c.code, o.Fault, c.want)
		}
		if got := b.must("kept"); got != "5" {
			t.Errorf("after %s, kept = %s", c.code, got)
		}
	}
}

func TestAWholeProgramRuns(t *testing.T) {
	b := start(t)
	got := b.must("package main\n\nimport \"fmt\"\n\n// greet says hello.\nfunc greet(who string) { fmt.Println(\"hello\", who) }\n\nfunc main() {\n\tgreet(\"pier\")\n}\n")
	if got != "hello pier\n" {
		t.Errorf("the program printed %q", got)
	}
	if got := b.must("greet(\"again\")"); got != "hello again\n" {
		t.Errorf("the next cell printed %q", got)
	}
}

func TestCellsCanBeRunAgain(t *testing.T) {
	b := start(t)
	code := "import \"fmt\"\ntype turn struct{ n int }\nfunc (t turn) next() turn { return turn{t.n + 1} }\nconst step = 2\nvar total float64\ncount := 1\nfunc add(x int) int { return x + step }\nt := turn{add(count)}\nfmt.Sprint(t.next().n, total)"
	for i := range 3 {
		if got := b.must(code); got != "4 0" {
			t.Fatalf("run %d gave %s", i+1, got)
		}
	}
	b.must("old := t")
	b.must(code) // the type is the same as before, so old still fits
	if got := b.must("old == t"); got != "true" {
		t.Errorf("old == t is %s", got)
	}
	b.must("func (t turn) next() turn { return turn{t.n + 100} }")
	if got := b.must("old.next().n"); got != "103" {
		t.Errorf("the new method gave %s", got)
	}
}

func TestNamesChangeTheirMeaning(t *testing.T) {
	b := start(t)
	for _, c := range []struct{ code, want string }{
		{"x := 1\nfunc get() int { return x }\nget()", "1"},
		{"x = 5\nget()", "5"},
		{"x := 7\nget()", "7"}, // the same variable, as the type is the same
		{"x := \"text\"\nget()", "7"},
		{"x", "text"},
		{"x := []int{1}\nx[0]", "1"},
		{"func x() int { return 9 }\nx()", "9"},
		{"type x struct{ A int }\nx{3}.A", "3"},
		{"var x float64\nx", "0"},
		{"const x = 4\nx * 2", "8"},
		{"import x \"math\"\nx.Sqrt(4)", "2"},
		{"x := 1\nx", "1"},
		{"func f(a int) int { return a }\nfunc g() int { return f(2) }\ng()", "2"},
		{"func f(a int) int { return 10 * a }\ng()", "20"}, // the same kind: g calls the new one
		{"func f(a string) string { return a + \"!\" }\nf(\"x\")", "x!"},
		{"g()", "20"}, // another kind: g keeps the one it was made for
		{"type P struct{ A int }\np := P{1}\np.A", "1"},
		{"type P struct{ A, B int }\nq := P{1, 2}\nq.A + q.B + p.A", "4"},
		{"a, b := 1, 2\na, b = b, a\na*10 + b", "21"},
		{"a, c := 5, 6\na + b + c", "12"},
		{"min := 3\nmin", "3"},
		{"len := func(x int) int { return x }\nlen(7)", "7"},
	} {
		if got := b.must(c.code); got != c.want {
			t.Errorf("%s\ngave %s, want %s", c.code, got, c.want)
		}
	}
}

func TestDeclarationsMayComeLater(t *testing.T) {
	b := start(t)
	b.must("import \"fmt\"")
	for _, c := range []struct{ code, want string }{
		{"fmt.Sprint(area(2))\nfunc area(r float64) float64 { return side * r }\nconst side = 3.0", ""},
		{"v := later(3)\nfunc later(n int) int { return n * n }\nv", "9"},
		{"w := pair{1, 2}\nw.sum()\ntype pair struct{ a, b int }\nfunc (p pair) sum() int { return p.a + p.b }", ""},
		{"w.sum()", "3"},
		{"base := 10\nfunc shift(n int) int { return base + n }\nshift(1)", "11"},
		{"func early() int { return number }\nnumber := 4\nearly()", "4"},
		{"func one() int { return two() - 1 }\nfunc two() int { return 2 }\none()", "1"},
		{"k := 1\nfunc usesK() int { return k }\nk2 := usesK()\nk = 5\nk2*10 + usesK()", "15"},
	} {
		if got := b.must(c.code); c.want != "" && got != c.want {
			t.Errorf("%s\ngave %s, want %s", c.code, got, c.want)
		}
	}
}

func TestStateAfterAFailedCell(t *testing.T) {
	b := start(t)
	b.must("import \"fmt\"\nx := 1\nlist := []int{1}")
	_, o := b.run("x = 2\ny := 3\nz := list[x]\nw := 4")
	if o.Fault == nil || o.Fault.Line != 3 {
		t.Fatalf("fault = %v", o.Fault)
	}
	if got := b.must("fmt.Sprint(x, y)"); got != "2 3" {
		t.Errorf("x, y = %s: what ran has to stay", got)
	}
	for _, name := range []string{"z", "w"} {
		if _, o := b.run(name); o.Fault == nil || !strings.Contains(o.Fault.Value, "undefined") {
			t.Errorf("%s exists though its declaration did not run", name)
		}
	}
	_, o = b.run("z := 5\nfmt.Println(nosuch)")
	if o.Fault == nil {
		t.Fatal("no fault")
	}
	if _, o := b.run("z"); o.Fault == nil {
		t.Error("z exists though its cell did not compile")
	}
}

func TestExpr(t *testing.T) {
	b := start(t)
	b.must("x := 21")
	got, fault := b.Expr("2 * x")
	if fault != nil || got.Data["text/plain"] != "42" {
		t.Errorf("2 * x = %v, %v", got, fault)
	}
	if _, fault := b.Expr("2 * nosuch"); fault == nil || fault.Name != "CompileError" {
		t.Errorf("fault = %v", fault)
	}
	if got, fault := b.Expr(""); fault != nil || got.Data != nil {
		t.Errorf("nothing = %v, %v", got, fault)
	}
}

func TestValuesOfOwnTypesAreShown(t *testing.T) {
	b := start(t)
	b.must("import (\"fmt\"; \"errors\")\ntype card struct{ n int; Name string }\nfunc (c card) HTML() string { return fmt.Sprintf(\"<b>%d</b>\", c.n) }\nfunc (c card) String() string { return \"card \" + c.Name }\ntype bad struct{}\nfunc (bad) PNG() ([]byte, error) { return nil, errors.New(\"no ink\") }")
	_, o := b.run("card{3, \"x\"}")
	if o.Fault != nil || o.Result.Data["text/html"] != "<b>3</b>" || o.Result.Data["text/plain"] != "card x" {
		t.Errorf("result = %v, %v", o.Result, o.Fault)
	}
	r, o := b.run("var v any = card{4, \"y\"}\ndisplay(v, &card{5, \"z\"}, []card{{6, \"w\"}})")
	if o.Fault != nil || len(r.shown) != 3 || r.shown[0].Data["text/html"] != "<b>4</b>" || r.shown[1].Data["text/html"] != "<b>5</b>" || r.shown[2].Data["text/plain"] != "[card w]" {
		t.Errorf("shown = %v, %v", r.shown, o.Fault)
	}
	if _, o := b.run("bad{}"); o.Fault == nil || !strings.Contains(o.Fault.Value, "no ink") {
		t.Errorf("a failed rendering gave %v, %v", o.Result, o.Fault)
	}
}

// A cell may give a type a method long after values of it have been printed.
func TestMethodsMayComeLater(t *testing.T) {
	b := start(t)
	b.must("import \"fmt\"\ntype vane struct{ N int }\ntype pair struct{ A, B vane }\ntype strip struct{ vane }")
	const say = "fmt.Sprint(vane{1}, &vane{2}, []vane{{3}}, pair{vane{4}, vane{5}}, strip{vane{6}}, any(vane{7}))"
	b.must("func say() string { return " + say + " }")
	for _, c := range []struct{ method, want, shown string }{
		{"", "{1} &{2} [{3}] {{4} {5}} {{6}} {7}", "{N:8}"},
		{`func (v vane) String() string { return fmt.Sprintf("<%d>", v.N) }`, "<1> <2> [<3>] {<4> <5>} <6> <7>", "<8>"},
		{`func (v vane) String() string { return fmt.Sprintf("|%d|", v.N) }`, "|1| |2| [|3|] {|4| |5|} |6| |7|", "|8|"},
		{`func (v vane) Error() string { return "no vane" }`, "no vane no vane [no vane] {no vane no vane} no vane no vane", "no vane"},
	} {
		if c.method != "" {
			if got := b.must(c.method + "\nsay()"); got != c.want {
				t.Errorf("%s: in the same cell %s, want %s", c.method, got, c.want)
			}
		}
		for _, code := range []string{"say()", say} {
			if got := b.must(code); got != c.want {
				t.Errorf("%s: %s, want %s", c.method, got, c.want)
			}
		}
		if got := b.must("vane{8}"); got != c.shown {
			t.Errorf("%s: a result is shown as %s, want %s", c.method, got, c.shown)
		}
	}
}

func TestErrorsFailTheCell(t *testing.T) {
	b := start(t)
	b.must("import (\"errors\"; \"strconv\"; \"os\")\nfunc two() (int, string, error) { return 1, \"a\", nil }\nfunc none() error { return nil }")
	for _, c := range []struct{ code, want string }{
		{"none()", ""}, {"strconv.Atoi(\"12\")", "12"}, {"two()", "1 a"}, {"must(two())", "1 a"}, {"must(none())", ""},
		{"a, s := must(two())\ns", "a"}, {"must(must(strconv.Atoi(\"3\")), none())", "3"},
		{"var e error\ne", ""}, {"f := must(os.Open(os.DevNull))\nmust(f.Close())\n1", "1"},
	} {
		if got := b.must(c.code); got != c.want {
			t.Errorf("%s showed %q, want %q", c.code, got, c.want)
		}
	}
	for _, code := range []string{"errors.New(\"bad\")", "strconv.Atoi(\"x\")", "must(strconv.Atoi(\"x\"))", "must(errors.New(\"bad\"))\n3", "e := errors.New(\"bad\")\ne",
		"func f() (int, error) { return 1, errors.New(\"bad\") }\nf()", "func() { must(strconv.Atoi(\"y\")) }()"} {
		if _, o := b.run(code); o.Fault == nil || o.Fault.Name != "Error" {
			t.Errorf("%s: fault %v, want an Error", code, o.Fault)
		}
	}
}
