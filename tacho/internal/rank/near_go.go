//go:build !amd64 || purego

package rank

func upTo(x []float32, v float32) int { return upToGo(x, v) }
