package interp

import (
	"math"
	"sync"

	"golang.org/x/sys/unix"
)

// memorySize is the memory of the machine in bytes.
var memorySize = sync.OnceValue(func() int {
	var s unix.Sysinfo_t
	if unix.Sysinfo(&s) != nil {
		return math.MaxInt
	}
	return int((uint64(s.Totalram) + uint64(s.Totalswap)) * uint64(s.Unit))
})
