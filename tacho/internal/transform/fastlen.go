package transform

// FastLen returns the smallest length of at least n whose transforms are fast:
// a power of two, or 32·2^a·3^b·5^c with b at most 2. For n < 1 it returns 1.
//
// Of the lengths that have passes of their own these are the ones that pay:
// none up to 20000 takes over a tenth longer than the next of them, as others
// do. From 96 on the next is never more than a third longer than n.
func FastLen(n int) int {
	const unit = 32
	best := 1
	for best < n {
		best *= 2
	}
	for five := 1; unit*five < best; five *= 5 {
		for _, three := range []int{1, 3, 9} {
			m := unit * five * three
			for m < n {
				m *= 2
			}
			best = min(best, m)
		}
	}
	return best
}
