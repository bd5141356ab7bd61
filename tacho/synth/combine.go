package synth

// Sum returns the sample-by-sample sum of signals. It is as long as the longest;
// a shorter one counts as silent after its end. The signals are not modified.
func Sum(signals ...[]float64) []float64 {
	n := 0
	for _, x := range signals {
		n = max(n, len(x))
	}
	out := make([]float64, n)
	for _, x := range signals {
		add(out, x, 1)
	}
	return out
}

// Scaled returns x with every sample multiplied by gain. x is not modified.
func Scaled(x []float64, gain float64) []float64 {
	out := make([]float64, len(x))
	add(out, x, gain)
	return out
}

// Join returns the signals one after the other. Silence is a signal of zeros,
// as make([]float64, n) gives it.
func Join(signals ...[]float64) []float64 {
	var out []float64
	for _, x := range signals {
		out = append(out, x...)
	}
	return out
}

// Every returns every step-th sample of x, beginning with the first: what a
// recorder with a step times lower sample rate takes when nothing in it removes
// the high sounds first. It panics if step is below 1.
func Every(x []float64, step int) []float64 {
	if step < 1 {
		panic("synth: Every needs a step of 1 or more")
	}
	var out []float64
	for i := 0; i < len(x); i += step {
		out = append(out, x[i])
	}
	return out
}
