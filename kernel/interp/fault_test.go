package interp_test

import (
	"regexp"
	"strings"
	"testing"

	"rotorhum/kernel/cell"
)

var ansi = regexp.MustCompile("\x1b\\[[0-9;]*m")

// plain is a traceback without colours.
func plain(f *cell.Fault) string { return ansi.ReplaceAllString(strings.Join(f.Traceback, "\n"), "") }

// The commonest slips: each must be found at its line and column (the caret
// stands before the ^ in the code), and say in one sentence what to do.
func TestSlips(t *testing.T) {
	for _, c := range []struct {
		slip   string
		code   string // ^ marks the place the fault must point at
		name   string
		value  string // the message contains it
		advice string // the advice contains it
	}{
		{"name misspelt", "fmt.Println(^cuont)", "CompileError", "undefined: cuont", "Did you mean count?"},
		{"name misspelt in the cell", "speed := 3.0\nfmt.Println(^sped)", "CompileError", "undefined: sped", "Did you mean speed?"},
		{"wrong case", "fmt.Println(^Count)", "CompileError", "undefined: Count", "Did you mean count?"},
		{"name never declared", "fmt.Println(^zzz)", "CompileError", "undefined: zzz", "Declare zzz first"},
		{"import forgotten", "^cmplx.Abs(3i)", "CompileError", "undefined: cmplx", `import "math/cmplx"`},
		{"package misspelt", "import ^\"maths\"", "CompileError", `"maths" is not part`, `Did you mean "math"?`},
		{"package unknown", "import ^\"example.com/thing\"", "CompileError", "not part of this kernel", "press Tab"},
		{"member misspelt", "math.^Sqroot(2)", "CompileError", "undefined: math.Sqroot", "Did you mean math.Sqrt?"},
		{"field misspelt", "vane.^Lenght", "CompileError", "has no field or method Lenght", "Did you mean Length?"},
		{"field in wrong case", "vane.^length", "CompileError", "but does have field Length", "Did you mean Length?"},
		{"int and float mixed", "x := count * ^2.5 * ratio", "CompileError", "truncated", "float64"},
		{"int and float variables", "x := ^count * ratio", "CompileError", "mismatched types int and float64", "float64(…)"},
		{"float for int", "var n int = ^ratio", "CompileError", "cannot use ratio", "int(ratio)"},
		{"int for float", "math.Sqrt(^count)", "CompileError", "cannot use count", "float64(count)"},
		{"text for number", "half(^\"3\")", "CompileError", "cannot use \"3\"", "without quotation marks"},
		{"number for text", "strings.ToUpper(^7)", "CompileError", "cannot use 7", "quotation marks"},
		{"number variable for text", "strings.ToUpper(^count)", "CompileError", "cannot use count", "fmt.Sprint(count)"},
		{"text plus number", "fmt.Println(^\"n = \" + count)", "CompileError", "mismatched types", "fmt.Sprint"},
		{"constants mixed", "fmt.Println(^\"a\" + 1)", "CompileError", "mismatched types", "fmt.Sprint"},
		{"fraction as int", "var n int = ^2.5", "CompileError", "truncated", "whole number"},
		{"missing return", "func f(x int) int {\n\tif x > 0 {\n\t\treturn 1\n\t}\n^}", "CompileError", "missing return", "return with its results"},
		{"results not taken", "n := ^strconv.Atoi(\"3\")", "CompileError", "assignment mismatch", "must(strconv.Atoi"},
		{"result of error call used", "half(float64(^strconv.Atoi(\"3\")))", "CompileError", "strconv.Atoi", "must(strconv.Atoi"},
		{"result and error passed on", "half(^strconv.ParseFloat(\"3\", 64))", "CompileError", "too many arguments in call to half", "must(…)"},
		{"too few arguments", "math.Pow(2^)", "CompileError", "not enough arguments in call to math.Pow", "(float64, float64)"},
		{"too many arguments", "math.Sqrt(2, ^3)", "CompileError", "too many arguments in call to math.Sqrt", "(float64)"},
		{"too many results", "func f() int {\n\treturn 1, ^2\n}", "CompileError", "too many return values", "(int)"},
		{":= for a variable of the same block", "func f() {\n\tx := 1\n\tx ^:= 2\n}", "CompileError", "no new variables", "Write ="},
		{"value unused", "func f() {\n\tx := 1\n\t^x + 1\n}", "CompileError", "is not used", "Do something with the value"},
		{"= for ==", "if ^count = 3 {\n}", "CompileError", "found assignment", "=="},
		{"number as condition", "if ^count {\n}", "CompileError", "non-boolean condition", "comparison"},
		{"remainder of floats", "^ratio % 2", "CompileError", "operator % not defined", "math.Mod"},
		{"constant index", "[3]int{1, 2, 3}[^5]", "CompileError", "out of bounds", "numbered from 0"},
		{"constant division by zero", "count / ^0", "CompileError", "division by zero", "divisor"},
		{"range over float", "for i := range ^2.5 {\n}", "CompileError", "cannot range over 2.5", "whole number"},
		{"assignment to constant", "^limit = 4", "CompileError", "cannot assign to limit", "instead of const"},
		{"assignment to text", "^word[0] = 'x'", "CompileError", "cannot assign to word[0]", "[]byte"},
		{"no value used", "x := ^nothing()", "CompileError", "used as value", "gives no value"},
		{"slices compared", "^list == list", "CompileError", "slice can only be compared to nil", "loop"},
		{"text to number", "float64(^word)", "CompileError", "cannot convert word", "strconv"},
		{"method missing", "var s fmt.Stringer = ^vane", "CompileError", "missing method String", "method String"},
		{"package without member", "^math", "CompileError", "use of package math", "after a dot"},
		{"unknown field in literal", "Vane{^Size: 3}", "CompileError", "unknown field Size", "Shift-Tab"},
		{"member in lower case", "math.^sqrt(2)", "CompileError", "undefined: math.sqrt", "Did you mean math.Sqrt?"},
		{"field of a literal misspelt", "Vane{^Lenght: 3}", "CompileError", "unknown field", "Did you mean Length?"},
		{"append as a method", "list.^append(4)", "CompileError", "no field or method append", "append(x, …)"},
		{"length as a method", "list.^length()", "CompileError", "no field or method length", "len(x)"},
		{"nil at the end of a list", "type item struct {\n\tv    int\n\tnext *item\n}\nh := &item{1, nil}\n^fmt.Println(h.next.next)", "Panic", "nil pointer", "h.next is nil"},
		{"nil at the end of a longer list", "type item struct {\n\tv    int\n\tnext *item\n}\nvar h *item\nfor i := range 3 {\n\th = &item{i, h}\n}\n^fmt.Println(h.next.next.next.v)", "Panic", "nil pointer", "h.next.next.next is nil"},
		{"generic function", "func f^[T any](x T) T { return x }", "CompileError", "generic functions", "the type you need"},
		{"map with own interface as key", "type own interface{ F() }\nvar m map[^own]int", "CompileError", "does not run in cells", "any"},
		{"range over a function", "seq := func(yield func(int) bool) {}\nfor x := range ^seq {\n\tfmt.Println(x)\n}", "CompileError", "range over a function", "slice"},
		{"goto", "again:\n^goto again", "CompileError", "goto", "loop"},
		{"return at the top", "^return 3", "CompileError", "return outside a function", "last line"},
		{"brace missing", "for i := range 3 ^{\n\tfmt.Println(i)", "CompileError", "never closed", "missing }"},
		{"brace too many", "fmt.Println(1)\n^}", "CompileError", "closes nothing", "Remove this }"},
		{"brackets crossed", "fmt.Println([]int{1, 2^)}", "CompileError", "does not fit", "}"},
		{"curly quotes", "fmt.Println(^“hello”)", "CompileError", "curly quotation mark", "straight"},
		{"string not ended", "s := ^\"hello", "CompileError", "not terminated", "same line"},
		{"comma missing", "x := []int{\n\t1,\n\t2^\n}", "CompileError", "missing ','", "comma"},
		{"brace on the next line", "for i := 0; i < 3; i++^\n{\n}", "CompileError", "", "{"},
		{"loop of another language", "while ^true {\n}", "CompileError", "", "for condition"},
		{"else of another language", "if count > 3 {\n} else if count > 2 {\n}\nelif ^count > 1 {\n}", "CompileError", "", "else if"},
		{"function of another language", "def ^f(x): return x", "CompileError", "", "func name"},
		{"block of another language", "if count > 3 ^then {\n}", "CompileError", "", "place of then"},
		{"block with a colon", "if count > 3^:\n\tcount", "CompileError", "", "End the line with {"},
		{"fraction of a second", "var d time.Duration = ^1.5 * time.Second", "CompileError", "truncated", "time.Millisecond"},
		{"nothing near", "^area(2)", "CompileError", "undefined: area", "Declare area first"},
		{"loop over a list in another language", "for x ^in list {\n}", "CompileError", "", "range list"},
		{"printing in another language", "print ^count", "CompileError", "", "fmt.Println(…)"},
		{"list without a type", "x := [1^, 2, 3]", "CompileError", "", "[]float64{"},
		{"type of another language", "^float(3)", "CompileError", "undefined: float", "float64"},
		{"function without its package", "^sqrt(2)", "CompileError", "undefined: sqrt", "Write math.Sqrt."},
		{"package without its path", "import ^\"rand\"", "CompileError", "not part of this kernel", `import "math/rand"`},
		{"constant of the cell", "const own = 3\n^own = 4", "CompileError", "cannot assign", "instead of const"},
		{"too many elements", "[3]int{1, 2, 3, ^4}", "CompileError", "out of bounds", "room"},
		{"length of a number", "len(^3)", "CompileError", "built-in len", "slice"},
		{"method of a nil interface", "var e error\n^e.Error()", "Panic", "nil pointer", "e is nil"},
		{"++ in an expression", "x := count^++", "CompileError", "", "statement"},

		{"index out of range", "for i := 0; i <= len(list); i++ {\n\t^fmt.Println(list[i])\n}", "Panic", "index out of range", "i is 3 but list has 3 elements, numbered 0 to 2"},
		{"index out of range in a function", "func third(xs []int) int {\n\treturn ^xs[2]\n}\nthird(list[:1])", "Panic", "index out of range", "The index is 2 but xs has 1 element"},
		{"computed index", "k := 1\n^list[2*k+len(list)] = 3", "Panic", "index out of range", "2*k + len(list) is 5 but list has 3 elements"},
		{"slice out of range", "n := 7\n^fmt.Println(list[1:n])", "Panic", "slice bounds out of range", "elements 1 to 7, but list has 3 elements"},
		{"nil pointer", "var v *Vane\n^fmt.Println(v.Length)", "Panic", "nil pointer", "v is nil"},
		{"nil pointer in a field", "c := crate{}\n^fmt.Println(c.First.Length)", "Panic", "nil pointer", "c.First is nil"},
		{"nil function", "var f func()\n^f()", "Panic", "nil", "f is nil"},
		{"nil map", "var m map[string]int\n^m[\"a\"] = 1", "Panic", "nil map", "m = make("},
		{"division by zero", "n := 0\n^fmt.Println(6 / n)", "Panic", "divide by zero", "n is 0"},
		{"slice larger than the computer", "hertz, micros := 44100, 3600_000_000\n^x := make([]float64, hertz*micros)", "Panic", "takes 1.27 PB", "units"},
		{"endless recursion", "func f(n int) int {\n\t^return f(n + 1)\n}\nf(0)", "Panic", "calls inside one another", "calls itself without end"},
		{"wrong type assertion", "var x any = \"text\"\n^fmt.Println(x.(int))", "Panic", "is string, not int", "It holds a string"},
		{"type declared again", "type Vane struct{ Length, Width float64 }\nvane = ^Vane{1, 2}", "CompileError", "as Vane value", "has declared Vane again"},
		{"negative length", "n := -1\n^xs := make([]int, n)", "Panic", "makeslice", "0 or more"},
		{"closed channel", "ch := make(chan int)\nclose(ch)\n^close(ch)", "Panic", "close of closed channel", "once"},
		{"panic with a message", "^panic(\"too fast\")", "Panic", "too fast", ""},
		{"panic in a function with defer", "func f() {\n\tdefer fmt.Println()\n\ti := 9\n\t^list[i] = 1\n}\nf()", "Panic", "index out of range", "i is 9"},
		{"error result", "^strconv.Atoi(\"x\")", "Error", "invalid syntax", ""},
		{"must with an error", "y := 1\n^n := must(strconv.Atoi(\"x\"))\ny", "Error", "invalid syntax", ""},
	} {
		t.Run(c.slip, func(t *testing.T) {
			b := start(t)
			b.must(`import ("fmt"; "math"; "strings"; "strconv"; "time")
type Vane struct{ Length float64 }
type crate struct{ First *Vane }
func half(x float64) float64 { return x / 2 }
func nothing() {}
const limit = 3
count, ratio, word, list, vane := 4, 0.5, "abc", []int{1, 2, 3}, Vane{6}
`)
			mark := strings.Index(c.code, "^")
			code := c.code[:mark] + c.code[mark+1:]
			before := code[:mark]
			line := 1 + strings.Count(before, "\n")
			col := mark - strings.LastIndex(before, "\n")
			_, o := b.run(code)
			if o.Fault == nil {
				t.Fatalf("no fault, result %v", o.Result)
			}
			f := o.Fault
			if f.Name != c.name || !strings.Contains(f.Value, c.value) {
				t.Errorf("fault = %s: %s; want %s: …%s…", f.Name, f.Value, c.name, c.value)
			}
			if f.Line != line || f.Column != col {
				t.Errorf("at line %d, column %d; want %d, %d\n%s", f.Line, f.Column, line, col, plain(f))
			}
			text := plain(f)
			if !strings.Contains(text, "In[1], line") || !strings.Contains(text, strings.ReplaceAll(strings.Split(code, "\n")[line-1], "\t", "    ")) {
				t.Errorf("the line is not quoted:\n%s", text)
			}
			_, advice, _ := strings.Cut(text, "Advice: ")
			if !strings.Contains(advice, c.advice) || strings.Contains(advice, "\n") {
				t.Errorf("advice %q, want …%s… in one line", advice, c.advice)
			}
			if _, o := b.run("count"); o.Fault != nil || o.Result.Data["text/plain"] != "4" {
				t.Errorf("the state is damaged afterwards: %v", o.Fault)
			}
		})
	}
}
