// Package work shares independent jobs out among the processors.
package work

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// Each does job(0) to job(n-1), several at once, and returns when all are done.
// The jobs must not depend on each other, and what they leave behind must not
// depend on which comes first: then it does not depend on the number of
// processors either.
func Each(n int, job func(i int)) {
	workers := min(runtime.GOMAXPROCS(0), n)
	if workers < 2 {
		for i := range n {
			job(i)
		}
		return
	}
	var next atomic.Int64
	var all sync.WaitGroup
	for range workers {
		all.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				job(i)
			}
		})
	}
	all.Wait()
}
