package typing

import (
	"go/ast"
	"go/token"
	"go/types"
	"maps"
)

// View is what can be said of a cell that need not be whole or right: the
// types of what could be understood.
type View struct {
	s *Session
	// Info holds the types and objects of the expressions that make sense.
	Info *types.Info
	// Names holds the live names, and those that the cell declares.
	Names Names
}

// Look checks as much of a cell as it can. It changes nothing.
func (s *Session) Look(nodes []ast.Node) *View {
	v := &View{s: s, Info: newInfo(), Names: maps.Clone(s.live)}
	methods := s.methods
	for _, g := range s.hoist(nodes) {
		defines, errs := s.checkStep(g, v.Names, v.Info)
		if len(errs) > 0 {
			defines = v.guess(g)
		}
		maps.Copy(v.Names, defines)
	}
	s.methods = methods
	return v
}

// guess collects the names that a step with errors declares all the same.
func (v *View) guess(nodes []ast.Node) Names {
	out := Names{}
	for _, n := range nodes {
		if names, ok := hoistable(n); ok {
			for id, o := range v.Info.Defs {
				for _, name := range names {
					if id.Name == name && o != nil && n.Pos() <= id.Pos() && id.Pos() < n.End() {
						out[name] = o
					}
				}
			}
			continue
		}
		for _, id := range declaredIdents(n) {
			if o := v.Info.Defs[id]; o != nil && o.Type() != nil {
				out[id.Name] = o
			}
		}
	}
	return out
}

// Lookup returns what a name stands for at a position of the cell, or nil.
func (v *View) Lookup(name string, pos token.Pos) types.Object {
	if o := v.Locals(pos)[name]; o != nil {
		return o
	}
	if o := v.Names[name]; o != nil {
		return o
	}
	if o := v.s.base[name]; o != nil {
		return o
	}
	return types.Universe.Lookup(name)
}

// Locals returns the local names that are visible at a position.
func (v *View) Locals(pos token.Pos) Names {
	out := Names{}
	depth := map[string]token.Pos{} // where the scope of the name begins
	for _, sc := range v.Info.Scopes {
		if !sc.Contains(pos) {
			continue
		}
		for _, name := range sc.Names() {
			o := sc.Lookup(name)
			if o.Pos() >= pos || v.Names[name] == o {
				continue
			}
			if _, isPkg := o.(*types.PkgName); isPkg {
				continue
			}
			if at, ok := depth[name]; !ok || sc.Pos() > at {
				depth[name], out[name] = sc.Pos(), o
			}
		}
	}
	return out
}

// TypeOf returns the type of an expression and whether it is a type itself.
func (v *View) TypeOf(e ast.Expr) (t types.Type, isType bool) {
	tv, ok := v.Info.Types[e]
	if !ok {
		if id, isIdent := e.(*ast.Ident); isIdent {
			if o := v.Info.ObjectOf(id); o != nil {
				_, isType := o.(*types.TypeName)
				return o.Type(), isType
			}
		}
		return nil, false
	}
	return tv.Type, tv.IsType()
}

// Member is a field or method.
type Member struct {
	Object types.Object // *types.Var or *types.Func
	// Owner is the type it was declared for, which an embedding type has it
	// from.
	Owner types.Type
}

// MembersOf lists the fields and methods that can be selected from a value of
// type t, in no order. Of types that no cell has declared, only the exported
// ones count.
func MembersOf(t types.Type) []Member {
	var out []Member
	seen := map[string]bool{}
	add := func(o types.Object, owner types.Type) {
		if seen[o.Name()] || !o.Exported() && (o.Pkg() == nil || o.Pkg().Path() != cellPath) {
			return
		}
		seen[o.Name()] = true
		out = append(out, Member{o, owner})
	}
	t = types.Unalias(t)
	base := t
	if p, ok := t.Underlying().(*types.Pointer); ok {
		base = types.Unalias(p.Elem())
	}
	if i, ok := base.Underlying().(*types.Interface); ok {
		if base == t { // a pointer to an interface has no methods
			for m := range i.Methods() {
				add(m, base)
			}
		}
		return out
	}
	set := types.NewMethodSet(types.NewPointer(base))
	for i := range set.Len() {
		sel := set.At(i)
		f := sel.Obj().(*types.Func)
		owner := base
		if r := f.Signature().Recv(); r != nil {
			owner = r.Type()
		}
		add(f, owner)
	}
	level := []types.Type{base}
	visited := map[types.Type]bool{}
	for len(level) > 0 {
		var next []types.Type
		for _, t := range level {
			if p, ok := t.Underlying().(*types.Pointer); ok {
				t = p.Elem()
			}
			st, ok := t.Underlying().(*types.Struct)
			if !ok || visited[t] {
				continue
			}
			visited[t] = true
			for f := range st.Fields() {
				add(f, t)
				if f.Embedded() {
					next = append(next, f.Type())
				}
			}
		}
		level = next
	}
	return out
}
