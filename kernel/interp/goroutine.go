package interp

import (
	"fmt"
	"go/ast"

	"github.com/cosmos72/gomacro/fast"
	xr "github.com/cosmos72/gomacro/xreflect"

	"rotorhum/kernel/cell"
)

// panicTrace is where a panic came from, noted by the deferred part of a
// function it passed.
type panicTrace struct {
	value any
	stack []frame
}

// notePanic is the last deferred call of a function that defers something.
func (in *Interp) notePanic(env *fast.Env) {
	run := env.Run
	if run.PanicFun == nil {
		return
	}
	in.traceMu.Lock()
	defer in.traceMu.Unlock()
	if t := in.trace; t == nil || !sameValue(t.value, run.Panic) {
		in.trace = &panicTrace{run.Panic, callStack(env.Caller)}
	}
}

// sameValue compares panic values, which may not be comparable.
func sameValue(a, b any) (same bool) {
	defer func() {
		if recover() != nil {
			same = fmt.Sprint(a) == fmt.Sprint(b)
		}
	}()
	return a == b
}

// noted returns the stack that was noted for a panic value, or nil.
func (in *Interp) noted(value any) []frame {
	in.traceMu.Lock()
	defer in.traceMu.Unlock()
	if t := in.trace; t != nil && sameValue(t.value, value) {
		return t.stack
	}
	return nil
}

// compileGoPanicked compiles the last deferred call of a goroutine, which gets
// the value that recover returned. The function is evaluated before that
// argument, while the stack of the panic is still to be seen.
func (in *Interp) compileGoPanicked(c *fast.Comp, call *ast.CallExpr) *fast.Call {
	any := c.TypeOfInterface()
	arg := c.Expr1(call.Args[0], nil)
	arg.To(c, any)
	fun := &fast.Expr{
		Lit: fast.Lit{Type: c.Universe.FuncOf([]xr.Type{any}, nil, false)},
		Fun: func(env *fast.Env) xr.Value {
			var stack []frame
			if env.Run.PanicFun != nil {
				stack = callStack(env)[1:]
			}
			return xr.ValueOf(func(v interface{}) {
				in.goroutines.Add(-1)
				if v != nil {
					in.goroutineFailed(v, stack)
				}
			})
		},
	}
	return &fast.Call{Fun: fun, Args: []*fast.Expr{arg}, OutTypes: []xr.Type{}}
}

// goroutineFailed reports the panic of a goroutine that a cell has started:
// as the fault of the running cell, or, if none runs, on its error stream.
func (in *Interp) goroutineFailed(v any, stack []frame) {
	if v == errInterrupted {
		return
	}
	f := in.panicFault(v, stack)
	f.Value = "in a goroutine: " + f.Value
	if in.stop.fail(f) {
		in.ir.Interrupt(nil)
		return
	}
	for _, line := range f.Traceback {
		fmt.Fprintln(in.cap.err.w, line)
	}
}

// fail ends the running cell with a fault; it reports false if none runs.
func (s *stopper) fail(f *cell.Fault) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.running {
		return false
	}
	if s.fault == nil {
		s.fault = f
	}
	s.raise()
	return true
}
