package interp

import (
	"sort"
	"strings"
)

// nearest returns the candidate that name was probably meant to be, or "".
func nearest(name string, candidates []string) string {
	best, bestCost := "", 1+len([]rune(name))/3
	if bestCost > 3 {
		bestCost = 3
	}
	sort.Strings(candidates)
	for _, c := range candidates {
		if c == name || c == "" || c == "_" || strings.HasPrefix(c, hidden) {
			continue
		}
		cost := editCost(strings.ToLower(name), strings.ToLower(c))
		if strings.EqualFold(name, c) {
			cost = 0
		}
		if cost < bestCost {
			best, bestCost = c, cost
		}
	}
	return best
}

// editCost counts the letters to change, insert, drop or swap with a neighbour
// to turn a into b (the optimal string alignment distance).
func editCost(a, b string) int {
	x, y := []rune(a), []rune(b)
	prev2, prev, cur := []int(nil), make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(x); i++ {
		cur[0] = i
		for j := 1; j <= len(y); j++ {
			change := 1
			if x[i-1] == y[j-1] {
				change = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+change)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				cur[j] = min(cur[j], prev2[j-2]+1)
			}
		}
		prev2, prev, cur = prev, cur, make([]int, len(y)+1)
	}
	return prev[len(y)]
}
