package transform

import "testing"

// TestFastLen compares with a search that tries every length.
func TestFastLen(t *testing.T) {
	for n := -1; n <= 5000; n++ {
		want := max(n, 1)
		for !fast(want) {
			want++
		}
		got := FastLen(n)
		if got != want {
			t.Errorf("FastLen(%d) = %d, want %d", n, got, want)
		}
		if n >= 96 && 3*got > 4*n {
			t.Errorf("FastLen(%d) = %d, more than a third longer", n, got)
		}
	}
	for _, n := range []int{1<<22 - 1, 1 << 22, 1<<22 + 1} {
		if got := FastLen(n); got < n || !fast(got) {
			t.Errorf("FastLen(%d) = %d", n, got)
		}
	}
}

// fast is FastLen's promise.
func fast(n int) bool {
	if n&(n-1) == 0 {
		return true
	}
	if n%32 != 0 || n%27 == 0 {
		return false
	}
	for _, f := range []int{2, 3, 5} {
		for n%f == 0 {
			n /= f
		}
	}
	return n == 1
}
