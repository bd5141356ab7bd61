package typing

import (
	"fmt"
	"go/ast"
	"strings"
)

// Hidden begins the names that no cell uses.
const Hidden = "ꟷ"

// must takes any number of values before the error, which no Go function can
// say. The declared one takes one value; where a call has another number,
// checkOverloads checks it against Hidden + "must" + that number.
const overloaded = "must"

// checkOverloads checks the groups of nodes, and once more for each call that
// needs another form of its function.
func (s *Session) checkOverloads(groups [][]ast.Node) (*Cell, []Error) {
	renamed := map[*ast.Ident]bool{}
	defer func() {
		for id := range renamed {
			id.Name = overloaded
		}
	}()
	for {
		c, errs := s.checkSteps(groups)
		id, name := s.otherForm(groups, errs)
		if id == nil || renamed[id] {
			return c, errs
		}
		id.Name, renamed[id] = name, true
	}
}

// otherForm finds the first call that failed for its number of values, and the
// form it needs.
func (s *Session) otherForm(groups [][]ast.Node, errs []Error) (*ast.Ident, string) {
	if s.live[overloaded] != nil {
		return nil, ""
	}
	for _, e := range errs {
		_, have, ok := strings.Cut(e.Msg, "\thave (")
		if !ok || !strings.Contains(e.Msg, "in call to "+overloaded) {
			continue
		}
		have, _, _ = strings.Cut(have, "\n")
		name := fmt.Sprintf("%s%s%d", Hidden, overloaded, countTypes(strings.TrimSuffix(have, ")"))-1)
		if s.base[name] == nil {
			continue
		}
		var found *ast.Ident
		for _, g := range groups {
			for _, n := range g {
				ast.Inspect(n, func(n ast.Node) bool {
					if call, ok := n.(*ast.CallExpr); ok && call.Pos() <= e.Pos && e.Pos <= call.End() {
						if id, ok := call.Fun.(*ast.Ident); ok && id.Name == overloaded {
							found = id // the innermost wins
						}
					}
					return true
				})
			}
		}
		if found != nil {
			return found, name
		}
	}
	return nil, ""
}

// countTypes counts the types of a parameter list.
func countTypes(list string) int {
	if list == "" {
		return 0
	}
	n, depth := 1, 0
	for _, r := range list {
		switch r {
		case '(', '[', '{':
			depth++
		case ')', ']', '}':
			depth--
		case ',':
			if depth == 0 {
				n++
			}
		}
	}
	return n
}
