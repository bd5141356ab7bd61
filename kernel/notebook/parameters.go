package notebook

import (
	"fmt"
	"go/ast"
	"go/constant"
	"go/parser"
	"go/token"
	"slices"
	"strconv"
	"strings"
)

// Tags of the cells that carry parameters.
const (
	// ParametersTag marks the code cell that declares the notebook's
	// parameters with their defaults.
	ParametersTag = "parameters"
	// InjectedTag marks the cell that [Notebook.Set] puts after it.
	InjectedTag = "injected-parameters"
)

// injectedID is the id of the cell that [Notebook.Set] adds.
const injectedID = "rotorhum-set"

// Parameter is one variable that a notebook's parameters cell declares.
type Parameter struct {
	// Name is the variable's name.
	Name string
	// Default is the declared value, as written.
	Default string
	// Kind says which values fit: "string", "bool", "integer", "number" or "".
	// A parameter of kind "" cannot be set, and Why says why.
	Kind, Why string

	// limits is the name of the integer type whose range a value must keep, ""
	// for none.
	limits string

	// before and after surround the value in the declaration, so that setting
	// 6*tacho.Centimetre to 7 gives 7*tacho.Centimetre.
	before, after string
}

// Parameters returns what the notebook's parameters cell declares, in order.
// It is empty if no code cell is tagged [ParametersTag]; it fails if the cell
// holds anything but plain declarations.
func (nb *Notebook) Parameters() ([]Parameter, error) {
	c, _ := nb.parametersCell()
	if c == nil {
		return nil, nil
	}
	const head = "package p; func _() {\n"
	files := token.NewFileSet()
	file, err := parser.ParseFile(files, "", head+c.Source+"\n}", 0)
	if err != nil {
		return nil, fmt.Errorf("%w: the parameters cell may hold only declarations such as pulses := 5", ErrParameter)
	}
	src := func(from, to token.Pos) string {
		return c.Source[files.Position(from).Offset-len(head) : files.Position(to).Offset-len(head)]
	}
	var list []Parameter
	add := func(name *ast.Ident, typ, value ast.Expr) {
		p := Parameter{Name: name.Name}
		if kindOfType(typ) == "integer" {
			p.limits = typ.(*ast.Ident).Name
		}
		if value != nil {
			p.Default = src(value.Pos(), value.End())
		}
		switch literals := literalsIn(value); {
		case value == nil:
			p.Kind = kindOfType(typ)
			p.Default = map[string]string{"string": `""`, "bool": "false", "integer": "0", "number": "0"}[p.Kind]
			p.Why = "its type is not a plain one"
		case len(literals) == 1:
			at := literals[0]
			p.before, p.after = src(value.Pos(), at.Pos()), src(at.End(), value.End())
			p.Kind = kindOfLiteral(at)
			// In an expression or under a declared type the compiler decides
			// whether a fraction fits.
			if declared := kindOfType(typ); p.Kind == "integer" && declared != "integer" && (typ != nil || p.before+p.after != "") {
				p.Kind = "number"
			}
			p.Why = "its default is not a plain value"
		default:
			p.Why = fmt.Sprintf("its default holds %d values, not one", len(literals))
		}
		list = append(list, p)
	}
	for _, statement := range file.Decls[0].(*ast.FuncDecl).Body.List {
		switch s := statement.(type) {
		case *ast.AssignStmt:
			if s.Tok == token.DEFINE && len(s.Lhs) == len(s.Rhs) {
				for i := range s.Lhs {
					if name, ok := s.Lhs[i].(*ast.Ident); ok {
						add(name, nil, s.Rhs[i])
					}
				}
				continue
			}
		case *ast.DeclStmt:
			d := s.Decl.(*ast.GenDecl)
			if d.Tok == token.VAR {
				for _, spec := range d.Specs {
					v := spec.(*ast.ValueSpec)
					for i, name := range v.Names {
						var value ast.Expr
						if i < len(v.Values) {
							value = v.Values[i]
						}
						add(name, v.Type, value)
					}
				}
				continue
			}
		}
		line := files.Position(statement.Pos()).Line - 1
		return nil, fmt.Errorf("%w: line %d of the parameters cell is not a declaration such as pulses := 5 or var radius = 0.06", ErrParameter, line)
	}
	return list, nil
}

// Setting is a new value for a parameter, as text.
type Setting struct{ Name, Value string }

// ParseSetting reads "name=value".
func ParseSetting(s string) (Setting, error) {
	name, value, ok := strings.Cut(s, "=")
	name = strings.TrimSpace(name)
	if !ok || !token.IsIdentifier(name) {
		return Setting{}, fmt.Errorf("%w: %q is not of the form name=value", ErrParameter, s)
	}
	return Setting{name, value}, nil
}

// Set puts a cell after the parameters cell that assigns the given values, in
// place of one put there before. Text is given bare, without quotes; numbers
// and true or false as in Go. A value takes the place of the value in the
// declaration: with radius := 6*tacho.Centimetre, setting radius to 7 means
// 7*tacho.Centimetre. Errors match [ErrParameter].
func (nb *Notebook) Set(settings []Setting) error {
	if len(settings) == 0 {
		return nil
	}
	cell, at := nb.parametersCell()
	if cell == nil {
		return fmt.Errorf("%w: the notebook has no parameters; tag the code cell that declares them %q", ErrParameter, ParametersTag)
	}
	known, err := nb.Parameters()
	if err != nil {
		return err
	}
	var lines []string
	seen := map[string]bool{}
	for _, s := range settings {
		if seen[s.Name] {
			return fmt.Errorf("%w: %s is set twice", ErrParameter, s.Name)
		}
		seen[s.Name] = true
		i := slices.IndexFunc(known, func(p Parameter) bool { return p.Name == s.Name })
		if i < 0 {
			return fmt.Errorf("%w: there is no parameter %q; the notebook has %s", ErrParameter, s.Name, listParameters(known))
		}
		value, err := known[i].literal(s.Value)
		if err != nil {
			return err
		}
		lines = append(lines, s.Name+" = "+value)
	}
	nb.Cells = slices.DeleteFunc(nb.Cells, func(c *Cell) bool { return c.ID == injectedID || c.Tagged(InjectedTag) })
	at = slices.Index(nb.Cells, cell)
	nb.Cells = slices.Insert(nb.Cells, at+1, &Cell{
		Kind: CodeCell, ID: injectedID, Source: strings.Join(lines, "\n"),
		Metadata: map[string]any{"tags": []any{InjectedTag}},
	})
	return nil
}

// literal returns the Go expression that gives p the value written as text.
func (p Parameter) literal(text string) (string, error) {
	wrong := func(want, example string) error {
		return fmt.Errorf("%w: %s is %s, %q is not; write for example %s=%s", ErrParameter, p.Name, want, text, p.Name, example)
	}
	trimmed := strings.TrimSpace(text)
	switch p.Kind {
	case "string":
		return p.before + strconv.Quote(text) + p.after, nil
	case "bool":
		if trimmed != "true" && trimmed != "false" {
			return "", wrong("true or false", "true")
		}
	case "integer", "number":
		digits := strings.TrimLeft(trimmed, "+-")
		v := constant.MakeFromLiteral(digits, token.INT, 0)
		if v.Kind() == constant.Unknown && p.Kind == "number" {
			v = constant.MakeFromLiteral(digits, token.FLOAT, 0)
		}
		if v.Kind() == constant.Unknown || len(trimmed)-len(digits) > 1 || len(digits) > 40 {
			if p.Kind == "integer" {
				return "", wrong("a whole number", "5")
			}
			return "", wrong("a number", "0.06")
		}
		if p.Kind == "integer" {
			if lo, hi := rangeOf(p.limits); !withinRange(trimmed, v, lo, hi) {
				return "", fmt.Errorf("%w: %s takes whole numbers from %v to %v, and %s is not one of them", ErrParameter, p.Name, lo, hi, trimmed)
			}
		}
	default:
		return "", fmt.Errorf("%w: %s cannot be set because %s; declare it as in %s := 5", ErrParameter, p.Name, p.Why, p.Name)
	}
	if p.before != "" && strings.ContainsAny(trimmed[:1], "+-") {
		trimmed = "(" + trimmed + ")"
	}
	return p.before + trimmed + p.after, nil
}

func (nb *Notebook) parametersCell() (*Cell, int) {
	for i, c := range nb.Cells {
		if c.Kind == CodeCell && c.Tagged(ParametersTag) {
			return c, i
		}
	}
	return nil, -1
}

func listParameters(known []Parameter) string {
	if len(known) == 0 {
		return "none"
	}
	var names []string
	for _, p := range known {
		names = append(names, p.Name+" (now "+p.Default+")")
	}
	return strings.Join(names, ", ")
}

// literalsIn returns the literals, and the words true and false, in e; a sign
// belongs to its number.
func literalsIn(e ast.Expr) []ast.Expr {
	var found []ast.Expr
	if e == nil {
		return nil
	}
	ast.Inspect(e, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.UnaryExpr:
			if lit, ok := n.X.(*ast.BasicLit); ok && (n.Op == token.SUB || n.Op == token.ADD) && lit.Kind != token.STRING {
				found = append(found, n)
				return false
			}
		case *ast.BasicLit:
			found = append(found, n)
		case *ast.Ident:
			if n.Name == "true" || n.Name == "false" {
				found = append(found, n)
			}
		}
		return true
	})
	return found
}

func kindOfLiteral(e ast.Expr) string {
	if u, ok := e.(*ast.UnaryExpr); ok {
		e = u.X
	}
	switch e := e.(type) {
	case *ast.Ident:
		return "bool"
	case *ast.BasicLit:
		switch e.Kind {
		case token.STRING:
			return "string"
		case token.INT:
			return "integer"
		case token.FLOAT:
			return "number"
		}
	}
	return ""
}

func kindOfType(e ast.Expr) string {
	name, ok := e.(*ast.Ident)
	if !ok {
		return ""
	}
	switch name.Name {
	case "string", "bool":
		return name.Name
	case "float32", "float64":
		return "number"
	case "int", "int8", "int16", "int32", "int64", "uint", "uint8", "uint16", "uint32", "uint64", "byte", "rune":
		return "integer"
	}
	return ""
}

// rangeOf returns the smallest and the largest value of an integer type, by its
// name; "" is int, the type of pulses := 5.
func rangeOf(name string) (lo, hi constant.Value) {
	bits := uint(64)
	switch strings.TrimLeft(name, "uint") {
	case "8", "byte":
		bits = 8
	case "16":
		bits = 16
	case "32", "rune":
		bits = 32
	}
	one := constant.MakeInt64(1)
	if name == "byte" || strings.HasPrefix(name, "u") {
		return constant.MakeInt64(0), constant.BinaryOp(constant.Shift(one, token.SHL, bits), token.SUB, one)
	}
	half := constant.Shift(one, token.SHL, bits-1)
	return constant.UnaryOp(token.SUB, half, 0), constant.BinaryOp(half, token.SUB, one)
}

// withinRange reports whether a number, given without its sign and as it was
// written, lies between lo and hi.
func withinRange(written string, v, lo, hi constant.Value) bool {
	if strings.HasPrefix(written, "-") {
		v = constant.UnaryOp(token.SUB, v, 0)
	}
	return constant.Compare(lo, token.LEQ, v) && constant.Compare(v, token.LEQ, hi)
}
