package interp

import (
	"fmt"
	"go/ast"
	"go/types"
	"io"
	"os"
	"strings"

	"github.com/cosmos72/gomacro/fast"
	xr "github.com/cosmos72/gomacro/xreflect"
)

// Cells print without the detour through a pipe: the functions of fmt that
// write to a standard stream are replaced by ones that hand their text to the
// capture. Where a cell has put another file in os.Stdout they write there.

func (in *Interp) adaptFmt() {
	in.adaptScan()
	const path = "fmt"
	in.replaceFunc(path, "Print", func(a ...any) (int, error) { return in.print(os.Stdout, fmt.Append(nil, a...)) })
	in.replaceFunc(path, "Println", func(a ...any) (int, error) { return in.print(os.Stdout, fmt.Appendln(nil, a...)) })
	in.replaceFunc(path, "Printf", func(f string, a ...any) (int, error) { return in.print(os.Stdout, fmt.Appendf(nil, f, a...)) })
	in.replaceFunc(path, "Fprint", func(w io.Writer, a ...any) (int, error) { return in.print(w, fmt.Append(nil, a...)) })
	in.replaceFunc(path, "Fprintln", func(w io.Writer, a ...any) (int, error) { return in.print(w, fmt.Appendln(nil, a...)) })
	in.replaceFunc(path, "Fprintf", func(w io.Writer, f string, a ...any) (int, error) {
		return in.print(w, fmt.Appendf(nil, f, a...))
	})
}

// printers are the builtins that stand for functions of fmt where these are
// statements.
var printers = map[string]struct {
	name   string
	format func([]any) []byte
}{
	"Print":   {hidden + "print", func(a []any) []byte { return fmt.Append(nil, a...) }},
	"Println": {hidden + "println", func(a []any) []byte { return fmt.Appendln(nil, a...) }},
	"Printf":  {hidden + "printf", func(a []any) []byte { return fmt.Appendf(nil, a[0].(string), a[1:]...) }},
}

func (in *Interp) addPrinters() {
	for _, p := range printers {
		in.builtin(p.name, 0, 65535, in.compilePrinter(p.format))
	}
}

// printStmt takes the printing of loops and functions, whose results nobody wants,
// past reflection, through which the engine calls compiled functions: that would
// be half the cost of a line.
func (r *rewriter) printStmt(s *ast.ExprStmt) {
	n, ok := s.X.(*ast.CallExpr)
	if !ok || n.Ellipsis.IsValid() {
		return
	}
	f := r.callee(n)
	if f == nil || f.Pkg() == nil || f.Pkg().Path() != "fmt" {
		return
	}
	p, ok := printers[f.Name()]
	if !ok {
		return
	}
	for _, a := range n.Args {
		if _, several := r.typeOf(a).(*types.Tuple); several {
			return
		}
	}
	call := callAt(n.Pos(), p.name, n.Args...)
	call.Rparen = n.Rparen
	r.types[call] = r.typeOf(n)
	s.X = call
}

func (in *Interp) compilePrinter(format func([]any) []byte) compileHook {
	return func(c *fast.Comp, call *ast.CallExpr) *fast.Call {
		t := c.TypeOfInterface()
		var args []func(*fast.Env) xr.Value
		for _, a := range c.Exprs(call.Args) {
			a.To(c, t)
			args = append(args, a.AsX1())
		}
		c.Pos = call.Pos() // a fault is told at the statement
		return effect(c, func(env *fast.Env) {
			vals := make([]any, len(args))
			for i, arg := range args {
				if v := arg(env); v.IsValid() {
					vals[i] = v.Interface()
				}
			}
			in.print(os.Stdout, format(vals))
		})
	}
}

// Reading from standard input asks the person at the front end.
func (in *Interp) adaptScan() {
	const path = "fmt"
	in.replaceFunc(path, "Scanln", func(a ...any) (int, error) {
		text, err := in.ask("", false)
		if err != nil {
			return 0, err
		}
		return fmt.Sscanln(text, a...)
	})
	in.replaceFunc(path, "Scanf", func(f string, a ...any) (int, error) {
		text, err := in.ask("", false)
		if err != nil {
			return 0, err
		}
		return fmt.Sscanf(text, strings.TrimSuffix(f, "\n"), a...)
	})
	in.replaceFunc(path, "Scan", func(a ...any) (n int, err error) {
		for n < len(a) {
			text, err := in.ask("", false)
			if err != nil {
				return n, err
			}
			got, err := fmt.Sscan(text, a[n:]...)
			n += got
			if err != nil && err != io.ErrUnexpectedEOF && err != io.EOF {
				return n, err
			}
		}
		return n, nil
	})
}

func (in *Interp) print(w io.Writer, text []byte) (int, error) {
	in.variance.prints()
	switch w {
	case in.cap.out.w:
		in.cap.write(in.cap.out, text)
	case in.cap.err.w:
		in.cap.write(in.cap.err, text)
	default:
		return w.Write(text)
	}
	return len(text), nil
}
