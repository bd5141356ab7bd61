package synth

import "math"

// timbre is a rotor's sound at full level: the complex amplitude of every order
// that is a multiple of stride, from stride upwards.
type timbre struct {
	stride int
	re, im []float64
	power  []float64 // power[j]: of the first j lines
}

// newTimbre packs lines for evaluation as a polynomial in exp(2 pi i stride turn).
func newTimbre(lines []Line) timbre {
	t := timbre{}
	for _, l := range lines {
		t.stride = gcd(t.stride, l.Order)
	}
	if t.stride == 0 {
		return timbre{stride: 1, power: []float64{0}}
	}
	n := lines[len(lines)-1].Order / t.stride
	t.re, t.im, t.power = make([]float64, n), make([]float64, n), make([]float64, n+1)
	for _, l := range lines {
		j := l.Order/t.stride - 1
		s, c := math.Sincos(l.Phase)
		t.re[j], t.im[j] = l.Amplitude*c, l.Amplitude*s
	}
	for j := range n {
		t.power[j+1] = t.power[j] + (t.re[j]*t.re[j]+t.im[j]*t.im[j])/2
	}
	return t
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// The highest lines fade between these parts of the sample rate, so that no
// line ever folds back from half the rate.
const (
	fadeFrom = 0.45
	fadeTo   = 0.495
)

// at returns the sound at an angle of turn turns, with lines fading out where
// they come near half the sample rate. rate is the shaft speed over the sample
// rate, in turns per sample.
func (t timbre) at(turn, rate float64) float64 {
	n := len(t.re)
	angle := turn * float64(t.stride)
	s, c := math.Sincos(2 * math.Pi * (angle - math.Floor(angle)))
	step := rate * float64(t.stride)
	var yr, yi float64
	if step*float64(n) > fadeFrom {
		if keep := int(fadeTo / step); keep < n {
			n = keep
		}
		for j := n - 1; j >= 0; j-- {
			x := step * float64(j+1)
			if x <= fadeFrom {
				break
			}
			w := 0.5 + 0.5*math.Cos(math.Pi*(x-fadeFrom)/(fadeTo-fadeFrom))
			yr, yi = yr*c-yi*s+w*t.re[j], yr*s+yi*c+w*t.im[j]
			n = j
		}
	}
	re, im := t.re[:n], t.im[:n]
	if n%2 == 1 {
		yr, yi = yr*c-yi*s+re[n-1], yr*s+yi*c+im[n-1]
		n--
	}
	// Even and odd powers apart: two chains of sums that do not wait for each
	// other, each in steps of the square.
	s2, c2 := 2*s*c, c*c-s*s
	var zr, zi float64
	for j := n - 2; j >= 0; j -= 2 {
		yr, yi = yr*c2-yi*s2+re[j], yr*s2+yi*c2+im[j]
		zr, zi = zr*c2-zi*s2+re[j+1], zr*s2+zi*c2+im[j+1]
	}
	yr, yi = yr+zr*c-zi*s, yi+zr*s+zi*c
	return yr*c - yi*s
}

// powerAt returns the power of the lines that fit below half the sample rate.
func (t timbre) powerAt(rate float64) float64 {
	n := len(t.re)
	if n == 0 {
		return 0
	}
	if step := rate * float64(t.stride); step*float64(n) > fadeFrom {
		n = min(n, int((fadeFrom+fadeTo)/2/step))
	}
	return t.power[n]
}
