package transform

// FastLen returns the smallest length of at least n whose transforms are fast:
// 1, 2, 4, 8 or 16·2^a·3^b·5^c. For n < 1 it returns 1.
func FastLen(n int) int {
	const unit = 16
	if n <= unit {
		m := 1
		for m < n {
			m *= 2
		}
		return m
	}
	n = (n + unit - 1) / unit
	best := 1
	for best < n {
		best *= 2
	}
	for five := 1; five < best; five *= 5 {
		for m := five; m < best; m *= 3 {
			two := m
			for two < n {
				two *= 2
			}
			best = min(best, two)
		}
	}
	return unit * best
}
