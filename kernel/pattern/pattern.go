// Package pattern holds regular expressions that are compiled when they are first
// used: the kernel starts often, and a session needs few of them.
package pattern

import (
	"regexp"
	"sync"
)

// Pattern is a regular expression in the syntax of package regexp. Goroutines may
// share one; it must not be copied after its first use.
type Pattern struct {
	expr     string
	once     sync.Once
	compiled *regexp.Regexp
}

// New returns the pattern with the given text. Whether the text is right shows only
// when it is used.
func New(expr string) *Pattern { return &Pattern{expr: expr} }

// Regexp returns the compiled expression. It panics if the text is not one.
func (p *Pattern) Regexp() *regexp.Regexp {
	p.once.Do(func() { p.compiled = regexp.MustCompile(p.expr) })
	return p.compiled
}
