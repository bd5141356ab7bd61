package interp

import (
	"fmt"
	"go/ast"
	"go/token"
	"go/types"
	"runtime"
	"strconv"
)

// A slice that is larger than the machine would end the program, and with it all
// that the session holds, where Go has no panic for it. So make is asked first how
// much it wants: a slip such as a rate in hertz times a time in microseconds ends
// the cell only.

const makeRoom = hidden + "room"

// roomy lets a make of a slice look whether there is room.
func (r *rewriter) roomy(n *ast.CallExpr) {
	id, ok := n.Fun.(*ast.Ident)
	if !ok || len(n.Args) < 2 {
		return
	}
	if b, ok := r.info.Uses[id].(*types.Builtin); !ok || b.Name() != "make" {
		return
	}
	t := r.typeOf(n.Args[0])
	if t == nil {
		return
	}
	s, ok := t.Underlying().(*types.Slice)
	if !ok {
		return
	}
	size := r.typeOf(n.Args[len(n.Args)-1])
	if b, ok := size.(*types.Basic); !ok || b.Kind() != types.Int && b.Info()&types.IsUntyped == 0 {
		return
	}
	elem := types.SizesFor("gc", runtime.GOARCH).Sizeof(s.Elem())
	last := n.Args[len(n.Args)-1]
	call := callAt(last.Pos(), makeRoom, last, &ast.BasicLit{ValuePos: last.Pos(), Kind: token.INT, Value: strconv.FormatInt(elem, 10)})
	r.types[call] = types.Typ[types.Int]
	n.Args[len(n.Args)-1] = call
}

// checkRoom returns n, or panics if n elements of a slice cannot be had.
func checkRoom(n, size int) int {
	if most := memorySize(); size > 0 && n > most/size {
		panic(fmt.Errorf("a slice of %d elements takes %s, and this computer has %s of memory", n, bytesInWords(float64(n)*float64(size)), bytesInWords(float64(most))))
	}
	return n
}

// bytesInWords gives two digits or three.
func bytesInWords(b float64) string {
	units := []string{"bytes", "kB", "MB", "GB", "TB", "PB", "EB"}
	i := 0
	for b >= 1000 && i < len(units)-1 {
		b, i = b/1000, i+1
	}
	return fmt.Sprintf("%.3g %s", b, units[i])
}
