package main

import (
	"bytes"
	"strings"
	"testing"
)

func TestTally(t *testing.T) {
	tests := []struct {
		name, in       string
		passed, failed int
		shown, hidden  string
	}{
		{"mixed", `
{"Action":"output","Package":"p","Test":"TestA","Output":"quiet\n"}
{"Action":"pass","Package":"p","Test":"TestA"}
{"Action":"output","Package":"p","Test":"TestB","Output":"wrong value\n"}
{"Action":"fail","Package":"p","Test":"TestB"}
{"Action":"skip","Package":"p","Test":"TestC"}
{"Action":"output","Package":"p","Output":"FAIL\n"}
{"Action":"fail","Package":"p"}`, 1, 1, "wrong value", "quiet"},
		{"does not build", `
{"ImportPath":"p [p.test]","Action":"build-output","Output":"x.go:1:2: undefined: y\n"}
{"ImportPath":"p [p.test]","Action":"build-fail"}
{"Action":"output","Package":"p","Output":"FAIL p [build failed]\n"}
{"Action":"fail","Package":"p"}`, 0, 1, "undefined: y", ""},
		{"ends outside a test", `
{"Action":"pass","Package":"p","Test":"TestA"}
{"Action":"output","Package":"p","Output":"panic: late\n"}
{"Action":"fail","Package":"p"}`, 1, 1, "panic: late", ""},
		{"no test", "go: unknown flag\n", 0, 1, "unknown flag", ""},
		{"empty", "", 0, 1, "no test was run", ""},
	}
	for _, test := range tests {
		var out bytes.Buffer
		passed, failed, err := tally(strings.NewReader(test.in), &out)
		if err != nil || passed != test.passed || failed != test.failed {
			t.Errorf("%s: %d passed, %d failed, %v, want %d and %d", test.name, passed, failed, err, test.passed, test.failed)
		}
		if !strings.Contains(out.String(), test.shown) || test.hidden != "" && strings.Contains(out.String(), test.hidden) {
			t.Errorf("%s shows\n%s", test.name, out.String())
		}
	}
}
