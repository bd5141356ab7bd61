package work

import (
	"runtime"
	"testing"
)

func TestEachDoesEveryJobOnce(t *testing.T) {
	for _, processors := range []int{1, 3} {
		old := runtime.GOMAXPROCS(processors)
		for _, n := range []int{0, 1, 2, 1000} {
			done := make([]int, n)
			Each(n, func(i int) { done[i]++ })
			for i, d := range done {
				if d != 1 {
					t.Errorf("%d processors, %d jobs: number %d was done %d times", processors, n, i, d)
				}
			}
		}
		runtime.GOMAXPROCS(old)
	}
}
