package transform

import "math/bits"

// FastLen returns the smallest length of at least n whose transform is fast:
// a power of two. For n < 1 it returns 1.
func FastLen(n int) int {
	if n <= 1 {
		return 1
	}
	return 1 << bits.Len(uint(n-1))
}
