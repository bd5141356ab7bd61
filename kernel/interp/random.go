package interp

import (
	oldrand "math/rand"
	"math/rand/v2"
	"sync"
)

// The global random functions of Go start anywhere. For cells they start from
// the session's seed instead, which the provenance tells: the same cells draw
// the same numbers every time. Generators that a cell makes itself are its own.

// DefaultSeed is the seed of the global random functions.
const DefaultSeed = 20

// random is what the cells' global random functions draw from.
type random struct {
	mu  sync.Mutex
	pcg *rand.PCG
	new *rand.Rand    // math/rand/v2
	old *oldrand.Rand // math/rand
}

// oldSource lets the older generator draw from the same source.
type oldSource struct{ *rand.PCG }

func (s oldSource) Int63() int64 { return int64(s.Uint64() >> 1) }
func (s oldSource) Seed(n int64) { s.PCG.Seed(uint64(n), 0) }

func (in *Interp) seedRandom(seed uint64) {
	r := &in.random
	r.pcg = rand.NewPCG(seed, 0)
	r.new, r.old = rand.New(r.pcg), oldrand.New(oldSource{r.pcg})
	in.origin.Seeded(seed)
}

// draw calls f, which draws from the session's generators.
func draw[T any](in *Interp, f func(r *random) T) T {
	in.origin.Drew()
	in.random.mu.Lock()
	defer in.random.mu.Unlock()
	return f(&in.random)
}

func (in *Interp) seedRandomV2() {
	const path = "math/rand/v2"
	in.replaceFunc(path, "Int", func() int { return draw(in, func(r *random) int { return r.new.Int() }) })
	in.replaceFunc(path, "Int32", func() int32 { return draw(in, func(r *random) int32 { return r.new.Int32() }) })
	in.replaceFunc(path, "Int64", func() int64 { return draw(in, func(r *random) int64 { return r.new.Int64() }) })
	in.replaceFunc(path, "Uint", func() uint { return draw(in, func(r *random) uint { return r.new.Uint() }) })
	in.replaceFunc(path, "Uint32", func() uint32 { return draw(in, func(r *random) uint32 { return r.new.Uint32() }) })
	in.replaceFunc(path, "Uint64", func() uint64 { return draw(in, func(r *random) uint64 { return r.new.Uint64() }) })
	in.replaceFunc(path, "IntN", func(n int) int { return draw(in, func(r *random) int { return r.new.IntN(n) }) })
	in.replaceFunc(path, "Int32N", func(n int32) int32 { return draw(in, func(r *random) int32 { return r.new.Int32N(n) }) })
	in.replaceFunc(path, "Int64N", func(n int64) int64 { return draw(in, func(r *random) int64 { return r.new.Int64N(n) }) })
	in.replaceFunc(path, "UintN", func(n uint) uint { return draw(in, func(r *random) uint { return r.new.UintN(n) }) })
	in.replaceFunc(path, "Uint32N", func(n uint32) uint32 { return draw(in, func(r *random) uint32 { return r.new.Uint32N(n) }) })
	in.replaceFunc(path, "Uint64N", func(n uint64) uint64 { return draw(in, func(r *random) uint64 { return r.new.Uint64N(n) }) })
	in.replaceFunc(path, "Float32", func() float32 { return draw(in, func(r *random) float32 { return r.new.Float32() }) })
	in.replaceFunc(path, "Float64", func() float64 { return draw(in, func(r *random) float64 { return r.new.Float64() }) })
	in.replaceFunc(path, "NormFloat64", func() float64 { return draw(in, func(r *random) float64 { return r.new.NormFloat64() }) })
	in.replaceFunc(path, "ExpFloat64", func() float64 { return draw(in, func(r *random) float64 { return r.new.ExpFloat64() }) })
	in.replaceFunc(path, "Perm", func(n int) []int { return draw(in, func(r *random) []int { return r.new.Perm(n) }) })
	in.replaceFunc(path, "Shuffle", func(n int, swap func(i, j int)) {
		for i, j := range in.shuffled(n) {
			swap(i, j)
		}
	})
}

func (in *Interp) seedRandomV1() {
	const path = "math/rand"
	in.replaceFunc(path, "Seed", func(seed int64) {
		draw(in, func(r *random) bool { r.old.Seed(seed); return true })
	})
	in.replaceFunc(path, "Int", func() int { return draw(in, func(r *random) int { return r.old.Int() }) })
	in.replaceFunc(path, "Int31", func() int32 { return draw(in, func(r *random) int32 { return r.old.Int31() }) })
	in.replaceFunc(path, "Int63", func() int64 { return draw(in, func(r *random) int64 { return r.old.Int63() }) })
	in.replaceFunc(path, "Uint32", func() uint32 { return draw(in, func(r *random) uint32 { return r.old.Uint32() }) })
	in.replaceFunc(path, "Uint64", func() uint64 { return draw(in, func(r *random) uint64 { return r.old.Uint64() }) })
	in.replaceFunc(path, "Intn", func(n int) int { return draw(in, func(r *random) int { return r.old.Intn(n) }) })
	in.replaceFunc(path, "Int31n", func(n int32) int32 { return draw(in, func(r *random) int32 { return r.old.Int31n(n) }) })
	in.replaceFunc(path, "Int63n", func(n int64) int64 { return draw(in, func(r *random) int64 { return r.old.Int63n(n) }) })
	in.replaceFunc(path, "Float32", func() float32 { return draw(in, func(r *random) float32 { return r.old.Float32() }) })
	in.replaceFunc(path, "Float64", func() float64 { return draw(in, func(r *random) float64 { return r.old.Float64() }) })
	in.replaceFunc(path, "NormFloat64", func() float64 { return draw(in, func(r *random) float64 { return r.old.NormFloat64() }) })
	in.replaceFunc(path, "ExpFloat64", func() float64 { return draw(in, func(r *random) float64 { return r.old.ExpFloat64() }) })
	in.replaceFunc(path, "Perm", func(n int) []int { return draw(in, func(r *random) []int { return r.old.Perm(n) }) })
	in.replaceFunc(path, "Shuffle", func(n int, swap func(i, j int)) {
		for i, j := range in.shuffled(n) {
			swap(i, j)
		}
	})
	in.replaceFunc(path, "Read", func(p []byte) (int, error) {
		return draw(in, func(r *random) int { n, _ := r.old.Read(p); return n }), nil
	})
}

// shuffled gives the swaps that shuffle n things. The generator is not held while
// they are made, because a cell's swap function may draw from it, too.
func (in *Interp) shuffled(n int) func(yield func(i, j int) bool) {
	if n < 0 {
		panic("invalid argument to Shuffle")
	}
	return func(yield func(i, j int) bool) {
		for i := n - 1; i > 0; i-- {
			j := draw(in, func(r *random) int { return r.new.IntN(i + 1) })
			if !yield(i, j) {
				return
			}
		}
	}
}
