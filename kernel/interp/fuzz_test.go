package interp_test

import (
	"testing"
	"unicode/utf8"

	"rotorhum/kernel/interp"
)

// FuzzWriting asks about text that is being written: no answer may depend on
// the text making sense.
func FuzzWriting(f *testing.F) {
	for _, s := range []string{"", "x := 1", "func f(", "for i := range 3 {\n", "p.X.", "T{A: ", "import \"fm", "case x:", "}{", "\x00", "é.ü(", "package main\nfunc main() {", "switch x := y.(type) {\ncase int:", "go func() {", "a[b[c[", "`", "//", "/*"} {
		f.Add(s, len(s)/2)
	}
	in, err := interp.New(interp.Options{})
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(in.Close)
	f.Fuzz(func(t *testing.T, code string, pos int) {
		status, _ := in.IsComplete(code)
		if status != "complete" && status != "incomplete" && status != "invalid" {
			t.Errorf("IsComplete(%q) = %q", code, status)
		}
		c := in.Complete(code, pos)
		if c.Start < 0 || c.Start > c.End || c.End > len(code) {
			t.Errorf("Complete(%q, %d) replaces %d to %d of %d bytes", code, pos, c.Start, c.End, len(code))
		}
		for _, m := range c.Matches {
			if utf8.ValidString(code) && !utf8.ValidString(m.Text) {
				t.Errorf("Complete(%q, %d) offers %q", code, pos, m.Text)
			}
		}
		in.Inspect(code, pos, 1)
		interp.FootprintOf(code)
	})
}
