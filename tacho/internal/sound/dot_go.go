//go:build !amd64 || purego

package sound

func dot(taps, x []float64) float64 { return dotGo(taps, x) }
