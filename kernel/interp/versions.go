package interp

import (
	"encoding/binary"
	"fmt"
	"hash/maphash"
	"maps"
	"math"
	"reflect"
	"strings"
	"time"
	"unsafe"
)

// Limits of looking into a value for its version.
const (
	maxParts  = 100_000 // parts of one value
	maxFlat   = 1 << 20 // bytes of plain numbers that are looked at one by one
	flatPiece = 4 << 10 // of more, pieces of so many bytes are
	flatCount = 64      // and so many of them
)

var hashSeed = maphash.MakeSeed()

// content hashes a value with all that can be reached from it. whole reports that
// the hash tells the value from every other: nothing in it was out of sight.
func (in *Interp) content(v reflect.Value) (sum uint64, whole bool) {
	c := &looker{in: in, whole: true}
	c.h.SetSeed(hashSeed)
	c.value(v, 0)
	return c.h.Sum64(), c.whole
}

// spot is where a pointer, slice or map leads to.
type spot struct {
	at unsafe.Pointer
	t  reflect.Type
	n  int
}

// looker goes through a value.
type looker struct {
	in    *Interp
	h     maphash.Hash
	whole bool
	parts int
	seen  map[spot]int
}

func (c *looker) number(n uint64) {
	var b [8]byte
	binary.LittleEndian.PutUint64(b[:], n)
	c.h.Write(b[:])
}

// met reports whether what a pointer, slice or map leads to has been looked at
// already, and notes which time that was: the same shape gives the same hash.
func (c *looker) met(v reflect.Value, n int) bool {
	key := spot{v.UnsafePointer(), v.Type(), n}
	if at, ok := c.seen[key]; ok {
		c.number(uint64(at))
		return true
	}
	if c.seen == nil {
		c.seen = map[spot]int{}
	}
	c.seen[key] = len(c.seen)
	return false
}

func (c *looker) value(v reflect.Value, depth int) {
	if c.parts++; c.parts > maxParts || depth > 200 {
		c.whole = false
		return
	}
	if !v.IsValid() {
		c.number(0)
		return
	}
	switch v.Kind() {
	case reflect.Bool:
		if v.Bool() {
			c.number(1)
		} else {
			c.number(2)
		}
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		c.number(uint64(v.Int()))
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64, reflect.Uintptr:
		c.number(v.Uint())
	case reflect.Float32, reflect.Float64:
		c.number(math.Float64bits(v.Float()))
	case reflect.Complex64, reflect.Complex128:
		c.number(math.Float64bits(real(v.Complex())))
		c.number(math.Float64bits(imag(v.Complex())))
	case reflect.String:
		c.number(uint64(v.Len()))
		c.h.WriteString(v.String())
	case reflect.Pointer:
		if v.IsNil() {
			c.number(0)
			return
		}
		c.number(3)
		if !c.met(v, 0) {
			c.value(v.Elem(), depth+1)
		}
	case reflect.Interface:
		if v.IsNil() {
			c.number(0)
			return
		}
		c.h.WriteString(v.Elem().Type().String())
		c.value(v.Elem(), depth+1)
	case reflect.Slice:
		if v.IsNil() {
			c.number(0)
			return
		}
		c.number(uint64(v.Len()) + 4)
		if v.Len() > 0 && !c.met(v, v.Len()) {
			c.list(v, depth)
		}
	case reflect.Array:
		c.list(v, depth)
	case reflect.Map:
		c.entries(v, depth)
	case reflect.Struct:
		c.fields(v, depth)
	default: // functions, channels
		c.whole = false
	}
}

// list looks at the elements of a slice or array.
func (c *looker) list(v reflect.Value, depth int) {
	if flat(v.Type().Elem().Kind()) && (v.Kind() == reflect.Slice || v.CanAddr()) && v.Len() > 0 {
		size := int(v.Type().Elem().Size())
		data := unsafe.Slice((*byte)(v.Index(0).Addr().UnsafePointer()), v.Len()*size)
		if len(data) <= maxFlat {
			c.h.Write(data)
			return
		}
		for i := range flatCount {
			at := (len(data) - flatPiece) / (flatCount - 1) * i
			c.h.Write(data[at : at+flatPiece])
		}
		c.h.Write(data[len(data)-flatPiece:])
		return
	}
	for i := range v.Len() {
		c.value(v.Index(i), depth+1)
	}
}

func flat(k reflect.Kind) bool { return k >= reflect.Bool && k <= reflect.Complex128 }

// entries looks at a map, whose order must not matter.
func (c *looker) entries(v reflect.Value, depth int) {
	if v.IsNil() {
		c.number(0)
		return
	}
	c.number(uint64(v.Len()) + 5)
	if c.met(v, 0) {
		return
	}
	var sum uint64
	for it := v.MapRange(); it.Next(); {
		e := &looker{in: c.in, whole: true, parts: c.parts}
		if len(c.seen) <= 64 {
			e.seen = maps.Clone(c.seen) // what was met before the map
		}
		e.h.SetSeed(hashSeed)
		e.value(it.Key(), depth+1)
		e.value(it.Value(), depth+1)
		c.parts = e.parts
		c.whole = c.whole && e.whole
		sum += e.h.Sum64()
	}
	c.number(sum)
}

// silent are the packages whose types keep to themselves what their unexported
// fields hold: caches, locks, handles and samples that do not change.
var silent = []string{"rotorhum/", "sync", "os", "time", "context", "regexp", "reflect", "log", "net", "gonum.org/v1/plot"}

func isSilent(path string) bool {
	for _, p := range silent {
		if path == p || strings.HasPrefix(path, strings.TrimSuffix(p, "/")+"/") {
			return true
		}
	}
	return false
}

func (c *looker) fields(v reflect.Value, depth int) {
	t := v.Type()
	path := t.PkgPath()
	if strings.HasPrefix(path, "github.com/cosmos72/gomacro") || strings.HasPrefix(path, "rotorhum/kernel/interp") {
		c.boxed(v, depth)
		return
	}
	if t == reflect.TypeFor[time.Time]() && v.CanInterface() {
		c.h.WriteString(fmt.Sprint(v.Interface()))
		return
	}
	quiet, shown := isSilent(path), 0
	for i := range t.NumField() {
		if quiet && !t.Field(i).IsExported() {
			continue
		}
		shown++
		c.value(v.Field(i), depth+1)
	}
	if quiet && shown == 0 && t.NumField() > 0 && path != "sync" {
		c.whole = false
	}
}

// boxed looks into a value of a cell's type inside an interface.
func (c *looker) boxed(v reflect.Value, depth int) {
	c.whole = false
	if !v.CanAddr() || !v.CanInterface() {
		return
	}
	x, t, ok := c.in.opened(v.Addr().Interface())
	if !ok || !x.IsValid() || t == nil {
		return
	}
	c.whole = true
	c.h.WriteString(t.String())
	c.value(x.ReflectValue(), depth+1)
}
