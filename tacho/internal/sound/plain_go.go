//go:build !amd64 || purego

package sound

func dot(taps, x []float64) float64 { return dotGo(taps, x) }

func atRest(x []float64, w float64, start int) segment { return atRestGo(x, w, start) }

func takeLine(x []float64, w float64, start int, amp, rise complex128) {
	takeLineGo(x, w, start, amp, rise)
}
