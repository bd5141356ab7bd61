package live

import (
	"fmt"
	"math"
	"slices"

	"rotorhum/tacho"
	"rotorhum/tacho/internal/transform"
)

// noise is the power density of the noise of a room, per hertz.
type noise struct {
	df float64
	p  []float64
}

// noiseOf takes, for every bin, a low quantile of the power over time, which talk
// and knocks do not lift, corrected to its mean if it is noise.
func noiseOf(x []float64, fs float64) noise {
	n := 64
	for float64(2*n) <= 0.4*fs {
		n *= 2
	}
	plan := transform.NewReal(n)
	w := tacho.Hann.Weights(n)
	energy := 0.0
	for _, v := range w {
		energy += v * v
	}
	buf := make([]float64, n)
	bins := make([][]float64, n/2+1)
	var power []float64
	take := func(gaps bool) {
		for from := 0; from+n <= len(x); from += n / 2 {
			zeros := 0
			for i := range buf {
				buf[i] = x[from+i] * w[i]
				if x[from+i] == 0 {
					zeros++
				}
			}
			if zeros > n/10 && !gaps {
				continue
			}
			power = plan.Power(power, buf)
			for k, p := range power {
				bins[k] = append(bins[k], p)
			}
		}
	}
	if take(false); len(bins[0]) < 8 {
		take(true) // so quiet that most samples are nothing
	}
	const low = 0.3
	out := noise{df: fs / float64(n), p: make([]float64, len(bins))}
	for k, b := range bins {
		out.p[k] = quantile(b, low) / -math.Log(1-low) * 2 / (fs * energy)
	}
	return out
}

// quantile returns the q-quantile of x, which it sorts.
func quantile(x []float64, q float64) float64 {
	slices.Sort(x)
	return x[int(q*float64(len(x)-1)+0.5)]
}

// mean returns the level of the density from lo to hi hertz, in dB: its median,
// which lines do not lift.
func (n noise) mean(lo, hi float64) float64 {
	first := min(max(1, int(lo/n.df+0.5)), len(n.p)-1)
	last := min(max(first, int(hi/n.df)), len(n.p)-1)
	p := slices.Clone(n.p[first : last+1])
	return 10 * math.Log10(quantile(p, 0.5)+1e-30)
}

const (
	// lowEdge is the fall within an octave downwards, in dB, of a microphone that
	// ends there; of rooms themselves the noise rises towards low frequencies.
	lowEdge = 10.0
	// highEdge is the fall within a third of an octave upwards of a recorder that
	// ends there.
	highEdge = 20.0
)

// reach looks at the band that arrives: n is the noise at the full rate, low that
// at a lower one, without a hum. A rotor that is heard needs no more low sounds.
func (s *Setup) reach(n, low noise, turning bool, opt tacho.Options) {
	nyquist := s.Rate / 2
	s.High = tacho.Hertz(nyquist)
	for f := 500.0; f*1.3 < 0.95*nyquist; f *= 1.03 {
		if n.mean(f/1.15, f)-n.mean(f*1.15, f*1.3) > highEdge {
			// what lies above stays down
			if n.mean(f/1.15, f)-n.mean(f*1.3, 0.98*nyquist) > highEdge {
				s.High = tacho.Hertz(f)
				break
			}
		}
	}
	for f := 500.0; f > 4*low.df; f /= 1.03 {
		if low.mean(f, f*1.6)-low.mean(f/2, f/1.7) > lowEdge {
			s.Low = tacho.Hertz(f)
			break
		}
	}
	lo, hi := float64(opt.Range.Lo), float64(opt.Range.Hi)
	if opt.Range == tacho.DefaultRange {
		hi = 0 // nothing is known of the rotor
	}
	switch {
	case s.High < tacho.Hertz(math.Max(4000, 2*hi)) && float64(s.High) < 0.85*nyquist:
		s.add(false, "high sounds", fmt.Sprintf("nothing arrives above some %s, as over a telephone", about(s.High)),
			"switch off the headset or voice mode, or record with an app that does not compress for speech")
	default:
		s.add(true, "high sounds", "arrive up to "+about(s.High), "")
	}
	switch {
	case !turning && s.Low > 40 && float64(s.Low) > 1.3*lo:
		s.add(false, "low sounds", fmt.Sprintf("fade below some %s", about(s.Low)),
			fmt.Sprintf("a pulse rate below that is heard by its multiples only: say the range in which it lies, switch off a cut of low sounds (for wind or steps), or use another microphone%s", expected(lo)))
	case s.Low > 0:
		s.add(true, "low sounds", fmt.Sprintf("arrive from some %s on", about(s.Low)), "")
	default:
		s.add(true, "low sounds", "arrive", "")
	}
}

// about writes a frequency to two digits.
func about(f tacho.Hertz) string {
	step := math.Pow(10, math.Floor(math.Log10(float64(f)))-1)
	return fmt.Sprintf("%g Hz", math.Round(float64(f)/step)*step)
}

// expected words the lowest pulse rate that is looked for.
func expected(lo float64) string {
	if lo == float64(tacho.DefaultRange.Lo) {
		return ""
	}
	return fmt.Sprintf("; rates from %.4g Hz on are expected", lo)
}

// followedAbove is how far the level of a rotor's hum must lie above the noise
// within a tenth of the pulse rate around each of five lines, in dB, to be followed
// (from trials with synthetic rotors; see scripts/live).
const followedAbove = 6.0

// tooMasked is the least level of a hum that is too loud to ask for, in dB.
const tooMasked = -30.0

// rotor says whether a rotor is heard, or how loud one must be.
func (s *Setup) rotor(heard *Reading, n noise, opt tacho.Options) {
	lo := float64(opt.Range.Lo)
	hi := math.Min(float64(opt.Range.Hi), 0.45*s.Rate)
	if opt.Range == tacho.DefaultRange {
		hi = math.Min(1000, hi)
	}
	// at the pulse rate where the noise is worst
	s.Least = math.Inf(-1)
	for f := lo; f <= hi; f *= 1.1 {
		power := 0.0
		for m := 1.0; m <= 5 && m*f < s.Rate/2; m++ {
			power += math.Pow(10, n.mean(0.9*m*f, 1.1*m*f)/10) * 0.2 * f
		}
		s.Least = math.Max(s.Least, 10*math.Log10(2*power)+followedAbove)
	}
	if heard != nil {
		s.Speed = &heard.Speed
		s.add(true, "rotor", fmt.Sprintf("heard, at last at %s (%.4g Hz)", heard.Speed.Rounded(), heard.Tone.X), "")
		return
	}
	span := fmt.Sprintf("from %.4g to %.4g Hz", lo, hi)
	s.add(s.Least < tooMasked, "rotor", fmt.Sprintf("not heard; with a pulse rate %s it must be louder than some %s here", span, levelText(s.Least)),
		"make the room quieter or move the microphone closer to the rotor, out of its wind")
}
