package interp

import (
	"go/ast"
	"reflect"
	"time"

	"github.com/cosmos72/gomacro/fast"
	xr "github.com/cosmos72/gomacro/xreflect"
)

// Operations of a cell that may wait for ever wait for an interrupt as well.
// Each takes the interrupt of the cell that started it: a goroutine that lives
// on after its cell is not stopped by the interrupt of another one.

const (
	recvValue  = hidden + "recv"
	recvOK     = hidden + "recvok"
	sendValue  = hidden + "send"
	asElement  = hidden + "elem"
	stopSignal = hidden + "stop"
	leaveCell  = hidden + "leave"
	lockUp     = hidden + "lock"
	unlock     = hidden + "unlock"
	waitFor    = hidden + "wait"
)

func (in *Interp) addBlocking() {
	in.builtin(recvValue, 1, 1, func(c *fast.Comp, call *ast.CallExpr) *fast.Call {
		ch := c.Expr1(call.Args[0], nil)
		return valueFunc(c, ch, ch.Type.Elem(), func(v reflect.Value) reflect.Value {
			x, _ := in.receive(v)
			return x
		})
	})
	in.builtin(recvOK, 1, 1, func(c *fast.Comp, call *ast.CallExpr) *fast.Call {
		ch := c.Expr1(call.Args[0], nil)
		out := []xr.Type{ch.Type.Elem(), c.Universe.BasicTypes[reflect.Bool]}
		fn := reflect.MakeFunc(reflect.FuncOf([]reflect.Type{ch.Type.ReflectType()}, []reflect.Type{out[0].ReflectType(), reflect.TypeFor[bool]()}, false),
			func(a []reflect.Value) []reflect.Value {
				x, ok := in.receive(a[0])
				return []reflect.Value{x, reflect.ValueOf(ok)}
			})
		return &fast.Call{Fun: constantFunc(c.Universe.FuncOf([]xr.Type{ch.Type}, out, false), fn.Interface()), Args: []*fast.Expr{ch}, OutTypes: out}
	})
	in.builtin(sendValue, 2, 2, func(c *fast.Comp, call *ast.CallExpr) *fast.Call {
		args := c.Exprs(call.Args)
		args[1].To(c, args[0].Type.Elem())
		ts := []xr.Type{args[0].Type, args[0].Type.Elem()}
		fn := reflect.MakeFunc(reflect.FuncOf([]reflect.Type{ts[0].ReflectType(), ts[1].ReflectType()}, nil, false), func(a []reflect.Value) []reflect.Value {
			in.send(a[0], a[1])
			return nil
		})
		return &fast.Call{Fun: constantFunc(c.Universe.FuncOf(ts, nil, false), fn.Interface()), Args: args, OutTypes: []xr.Type{}}
	})
	in.builtin(asElement, 2, 2, func(c *fast.Comp, call *ast.CallExpr) *fast.Call {
		t := c.Expr1(call.Args[0], nil).Type.Elem() // for its type alone
		v := c.Expr1(call.Args[1], nil)
		v.To(c, t)
		return valueFunc(c, v, t, func(v reflect.Value) reflect.Value { return v })
	})
	in.builtin(stopSignal, 0, 0, plainFunc(in.stopped))
	in.builtin(leaveCell, 0, 0, plainFunc(func() { panic(errInterrupted) }))
	in.builtin(lockUp, 2, 2, plainFunc(func(try func() bool, lock func()) {
		if !try() {
			in.wait(lock)
		}
	}))
	in.builtin(unlock, 3, 3, plainFunc(func(try func() bool, release, unlock func()) {
		if try() { // nobody holds it
			release()
			panic("sync: unlock of unlocked mutex")
		}
		unlock()
	}))
	in.builtin(waitFor, 1, 1, plainFunc(in.wait))
}

// stopped returns the channel that closes when the running cell is
// interrupted.
func (in *Interp) stopped() <-chan struct{} {
	in.stop.mu.Lock()
	defer in.stop.mu.Unlock()
	return in.stop.signal
}

func (in *Interp) receive(ch reflect.Value) (reflect.Value, bool) {
	if !ch.IsNil() {
		if x, ok := ch.TryRecv(); x.IsValid() {
			return x, ok
		}
	}
	i, x, ok := reflect.Select([]reflect.SelectCase{
		{Dir: reflect.SelectRecv, Chan: ch},
		{Dir: reflect.SelectRecv, Chan: reflect.ValueOf(in.stopped())},
	})
	if i == 1 {
		panic(errInterrupted)
	}
	return x, ok
}

func (in *Interp) send(ch, x reflect.Value) {
	if !ch.IsNil() && ch.TrySend(x) {
		return
	}
	i, _, _ := reflect.Select([]reflect.SelectCase{
		{Dir: reflect.SelectSend, Chan: ch, Send: x},
		{Dir: reflect.SelectRecv, Chan: reflect.ValueOf(in.stopped())},
	})
	if i == 1 {
		panic(errInterrupted)
	}
}

// wait runs a compiled function that only waits. After an interrupt it is left
// behind.
func (in *Interp) wait(f func()) {
	done := make(chan any, 1)
	go func() {
		defer func() { done <- recover() }()
		f()
	}()
	select {
	case p := <-done:
		if p != nil {
			panic(p)
		}
	case <-in.stopped():
		panic(errInterrupted)
	}
}

// sleep is time.Sleep for cells.
func (in *Interp) sleep(d time.Duration) {
	if d <= 0 {
		return
	}
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
	case <-in.stopped():
		panic(errInterrupted)
	}
}
