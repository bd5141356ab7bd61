package interp_test

import "testing"

// fmt recovers from what a String method panics with, as often as it likes.
func TestPanicsThatCompiledCodeRecoversFrom(t *testing.T) {
	b := start(t)
	b.must("import \"fmt\"\ntype T struct{}\nfunc (T) String() string { panic(\"bad\") }\ntype D struct{}\nfunc (D) Error() string { defer func() {}(); panic(\"worse\") }")
	const text = "%!v(PANIC=String method: bad)"
	for code, want := range map[string]string{
		"fmt.Sprint(T{})": text,
		// deeper than calls may be nested
		"n := 0\nfor i := 0; i < 30000; i++ { n += len(fmt.Sprint(T{})) }\nn/30000":              "29",
		"func() int { m := 0; for range 30000 { m += len(fmt.Sprint(T{})) }; return m/30000 }()": "29",
		"fmt.Sprint(D{}, T{})": "%!v(PANIC=Error method: worse) " + text,
	} {
		if got := b.must(code); got != want {
			t.Errorf("%s gave %s, want %s", code, got, want)
		}
	}
	// a panic that goes on is reported where it came from
	_, o := b.run("func g() {\n\tfor range 3 { defer fmt.Sprint(T{}) }\n\tdefer fmt.Sprint(D{})\n\tpanic(\"first\")\n}\ng()")
	if o.Fault == nil || o.Fault.Value != "first" || o.Fault.Line != 4 {
		t.Errorf("fault %v at line %d", o.Fault, o.Fault.Line)
	}
	_, o = b.run("func h() (err error) {\n\tdefer func() { if r := recover(); r != nil { err = fmt.Errorf(\"got %v\", r) } }()\n\tdefer fmt.Sprint(T{})\n\tpanic(\"second\")\n}\nh()")
	if o.Fault == nil || o.Fault.Value != "got second" {
		t.Errorf("fault %v", o.Fault)
	}
}

// What recovers from an interrupt by mistake does not keep the cell running.
func TestStringMethodsDoNotSwallowInterrupts(t *testing.T) {
	needsInterrupt(t)
	b := start(t)
	b.must("import \"fmt\"\ntype S struct{}\nfunc (S) String() string { for i := 0; i < 1000; i++ { }; return \"s\" }")
	_, o := b.runInterrupted("for { fmt.Sprint(S{}) }")
	if o.Fault == nil || o.Fault.Name != "Interrupted" {
		t.Errorf("fault %v", o.Fault)
	}
}
