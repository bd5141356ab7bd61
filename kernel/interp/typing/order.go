package typing

import (
	"go/ast"
	"go/token"
	"strconv"
)

// A cell may call a function that it declares further down, as a Go file may.
// hoist puts the declarations of functions, types and constants in front of
// the statements that may need them, and keeps the statements in order.

// decl is a hoistable declaration.
type decl struct {
	node  ast.Node
	index int             // among the cell's nodes
	names []string        // what it declares
	uses  map[string]bool // names it may mean from outside itself
	after int             // the node it has to wait for, -1 for none
	state int             // of the search for after: 0 new, 1 under way, 2 done
	out   bool
}

func (s *Session) hoist(nodes []ast.Node) [][]ast.Node {
	live := s.live
	var decls []*decl
	byName := map[string][]*decl{}
	vars := map[string][]int{} // the nodes that declare a variable or import
	for i, n := range nodes {
		if names, ok := hoistable(n); ok {
			d := &decl{node: n, index: i, names: names, uses: freeNames(n), after: -1}
			decls = append(decls, d)
			for _, name := range names {
				byName[name] = append(byName[name], d)
			}
			continue
		}
		for _, id := range declaredIdents(n) {
			vars[id.Name] = append(vars[id.Name], i)
		}
		if g, ok := n.(*ast.GenDecl); ok && g.Tok == token.IMPORT {
			for _, name := range s.importNames(g) {
				vars[name] = append(vars[name], i)
			}
			vars["."] = append(vars["."], i)
		}
	}
	var settle func(d *decl)
	settle = func(d *decl) {
		if d.state != 0 {
			return
		}
		d.state = 1
		for name := range d.uses {
			for _, other := range byName[name] {
				settle(other)
				d.after = max(d.after, other.after)
			}
			d.after = max(d.after, declaredBefore(vars[name], d.index, live[name] != nil))
		}
		// a dot import may declare anything
		d.after = max(d.after, declaredBefore(vars["."], d.index, true))
		d.state = 2
	}
	for _, d := range decls {
		settle(d)
	}
	for range decls { // declarations that need one another wait together
		for _, d := range decls {
			for name := range d.uses {
				for _, other := range byName[name] {
					d.after = max(d.after, other.after)
				}
			}
		}
	}
	var groups [][]ast.Node
	emit := func(upTo int) {
		var g []ast.Node
		seen := map[string]bool{}
		for _, d := range decls {
			if d.out || d.after > upTo {
				continue
			}
			for _, name := range d.names {
				if seen[name] { // declared twice: the later one in a later step
					groups = append(groups, g)
					g, seen = nil, map[string]bool{}
				}
			}
			for _, name := range d.names {
				seen[name] = true
			}
			d.out = true
			g = append(g, d.node)
		}
		if len(g) > 0 {
			groups = append(groups, g)
		}
	}
	emit(-1)
	for i, n := range nodes {
		if _, ok := hoistable(n); ok {
			continue
		}
		groups = append(groups, []ast.Node{n})
		emit(i)
	}
	return groups
}

// declaredBefore picks, among the nodes that declare a variable, the one that
// a declaration at index means: the last one before it, or else the first one
// after it unless an earlier cell has the name too. -1 means none.
func declaredBefore(at []int, index int, live bool) int {
	best := -1
	for _, i := range at {
		if i < index {
			best = i
		}
	}
	if best < 0 && len(at) > 0 && !live {
		best = at[0]
	}
	return best
}

// single is the order as written, one node a step.
func single(nodes []ast.Node) [][]ast.Node {
	var groups [][]ast.Node
	for _, n := range nodes {
		groups = append(groups, []ast.Node{n})
	}
	return groups
}

// hoistable returns the names that a declaration of functions, types or
// constants declares. A method goes by its own name and depends on its type.
func hoistable(n ast.Node) (names []string, ok bool) {
	switch n := n.(type) {
	case *ast.FuncDecl:
		if n.Recv != nil {
			return nil, true
		}
		return []string{n.Name.Name}, true
	case *ast.GenDecl:
		switch n.Tok {
		case token.TYPE:
			for _, sp := range n.Specs {
				names = append(names, sp.(*ast.TypeSpec).Name.Name)
			}
			return names, true
		case token.CONST:
			for _, sp := range n.Specs {
				for _, id := range sp.(*ast.ValueSpec).Names {
					names = append(names, id.Name)
				}
			}
			return names, true
		}
	}
	return nil, false
}

// importNames lists the names that an import declaration declares.
func (s *Session) importNames(g *ast.GenDecl) []string {
	var out []string
	for _, sp := range g.Specs {
		sp := sp.(*ast.ImportSpec)
		if sp.Name != nil {
			out = append(out, sp.Name.Name)
		} else if path, err := strconv.Unquote(sp.Path.Value); err == nil {
			out = append(out, s.mirror.pkg(path).Name())
		}
	}
	return out
}

// freeNames lists the names in n that may stand for something outside it. A
// name that n declares anywhere inside itself does not count.
func freeNames(n ast.Node) map[string]bool {
	used, local := map[string]bool{}, map[string]bool{}
	declare := func(es ...ast.Expr) {
		for _, e := range es {
			if id, ok := e.(*ast.Ident); ok && id != nil {
				local[id.Name] = true
			}
		}
	}
	ast.Inspect(n, func(m ast.Node) bool {
		switch m := m.(type) {
		case *ast.Ident:
			used[m.Name] = true
		case *ast.SelectorExpr:
			ast.Inspect(m.X, func(x ast.Node) bool {
				if id, ok := x.(*ast.Ident); ok {
					used[id.Name] = true
				}
				return true
			})
			if _, ok := m.X.(*ast.Ident); ok {
				return false // m.Sel names nothing outside
			}
		case *ast.StructType: // the names of its fields mean nothing outside
			for _, f := range m.Fields.List {
				for name := range freeNames(f.Type) {
					used[name] = true
				}
			}
			return false
		case *ast.AssignStmt:
			if m.Tok == token.DEFINE {
				declare(m.Lhs...)
			}
		case *ast.RangeStmt:
			if m.Tok == token.DEFINE {
				declare(m.Key, m.Value)
			}
		case *ast.ValueSpec:
			if _, top := n.(*ast.GenDecl); !top {
				for _, id := range m.Names {
					local[id.Name] = true
				}
			}
		case *ast.FuncType:
			for _, l := range []*ast.FieldList{m.Params, m.Results} {
				if l == nil {
					continue
				}
				for _, f := range l.List {
					for _, id := range f.Names {
						local[id.Name] = true
					}
				}
			}
		}
		return true
	})
	if d, ok := n.(*ast.FuncDecl); ok && d.Recv != nil {
		for _, f := range d.Recv.List {
			for _, id := range f.Names {
				local[id.Name] = true
			}
		}
	}
	for name := range local {
		delete(used, name)
	}
	return used
}
