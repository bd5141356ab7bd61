package interp_test

import (
	"strings"
	"testing"

	"rotorhum/kernel/interp"
)

func TestFootprint(t *testing.T) {
	for _, c := range []struct{ code, declares, reads, changes string }{
		{"", "", "", ""},
		{"x := 1\ny := x + z", "x y", "z", ""},
		{"var a, b = 1, c", "a b", "c", ""},
		{"import (\"fmt\"; m \"math\"; \"math/cmplx\")\nfmt.Println(m.Pi)", "cmplx fmt m", "", ""},
		{"import \"math/rand/v2\"\nrand.IntN(n)", "rand", "n", ""},
		{"fmt.Println(rec)", "", "fmt rec", ""},
		{"x = 2", "", "x", "x"},
		{"x += y\nn++", "", "n x y", "n x"},
		{"p.X.Label.Text = t", "", "p t", "p"},
		{"xs[i] = *q", "", "i q xs", "xs"},
		{"*q = 1", "", "q", "q"},
		{"f(&state)", "", "f state", "state"},
		{"delete(m, k)\nclear(xs)", "", "clear delete k m xs", "m xs"},
		{"for i := range xs {\n\ttotal += xs[i]\n}", "", "total xs", "total"},
		{"for i = range 3 {\n}", "", "i", "i"},
		{"func f(x float64) float64 { y := x; return y * gain }", "f", "float64 gain", ""},
		{"func (r *Rotor) spin() { r.turns++; count++ }", "Rotor.spin", "Rotor count", "count"},
		{"type T struct { next *T; at Point }", "T", "Point", ""},
		{"const ( a = iota; b )", "a b", "iota", ""},
		{"x := x + 1", "x", "x", ""},
		{"x := 1\nx = 2", "x", "", ""},
		{"func() { local := 1; local = outer; _ = local }()", "", "outer", ""},
		{"ch <- 1", "", "ch", "ch"},
		{"if v, ok := m[k]; ok {\n\tuse(v)\n}", "", "k m use", ""},
	} {
		got, err := interp.FootprintOf(c.code)
		if err != nil {
			t.Errorf("%q: %v", c.code, err)
		}
		if d, r, ch := strings.Join(got.Declares, " "), strings.Join(got.Reads, " "), strings.Join(got.Changes, " "); d != c.declares || r != c.reads || ch != c.changes {
			t.Errorf("%q: declares %q, reads %q, changes %q; want %q, %q, %q", c.code, d, r, ch, c.declares, c.reads, c.changes)
		}
	}
	for _, bad := range []string{"x := ", ")", "if {", "\"open"} {
		if _, err := interp.FootprintOf(bad); err == nil {
			t.Errorf("%q has a footprint", bad)
		}
	}
}
