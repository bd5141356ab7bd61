//go:build !amd64 || purego

package phase

// lanes are for the vector code.
type lanes struct{}

func (f *four) takeIn(from *belief, list []look, q []float64) { f.takeInGo(from, list, q) }
