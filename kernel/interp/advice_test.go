package interp

import "testing"

// Patterns are compiled when they are used, so that a broken one would show late.
func TestAdviceCompiles(t *testing.T) {
	n := 0
	for _, rules := range [][]rule{syntaxRules, compileRules, runRules} {
		for _, r := range rules {
			if r.message.Regexp() == nil || r.advice == nil {
				t.Error("a rule without a message or advice")
			}
			n++
		}
	}
	for _, h := range habits {
		if h.line.Regexp() == nil || h.advice == "" {
			t.Error("a habit without a line or advice")
		}
		n++
	}
	if n < 80 {
		t.Errorf("only %d rules", n)
	}
}
