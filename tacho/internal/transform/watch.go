package transform

import (
	"context"
	"iter"
)

// watch ends long work on a plan early. The parts of a plan share one; its context
// is there only while work goes on that may be ended.
type watch struct{ ctx context.Context }

// stopped is the panic by which work ends early; it does not leave the package.
type stopped struct{ err error }

// look ends the work if the context has ended.
func (w *watch) look() {
	if w.ctx != nil {
		if err := w.ctx.Err(); err != nil {
			panic(stopped{err})
		}
	}
}

// numbersPerLook is how many numbers are worked on between two looks.
const numbersPerLook = 1 << 16

// pieces yields the beginnings and ends of pieces of n numbers, in order.
func (w *watch) pieces(n int) iter.Seq2[int, int] {
	return func(yield func(from, to int) bool) {
		for from := 0; from < n; from += numbersPerLook {
			w.look()
			if !yield(from, min(from+numbersPerLook, n)) {
				return
			}
		}
	}
}

// until runs the work and returns the error of the context if that ends first.
func (w *watch) until(ctx context.Context, work func()) (err error) {
	defer func() {
		w.ctx = nil
		switch p := recover().(type) {
		case nil:
		case stopped:
			err = p.err
		default:
			panic(p)
		}
	}()
	w.ctx = ctx
	w.look()
	work()
	return nil
}
