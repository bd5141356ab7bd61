package tacho

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"rotorhum/tacho/internal/comb"
	"rotorhum/tacho/internal/linefit"
	"rotorhum/tacho/internal/sound"
)

// Family is a stack of lines at whole multiples of one pulse rate: what a
// rotor's hum is made of.
type Family struct {
	// Tone is the pulse rate in hertz, with the contributions "tone" (noise)
	// and "clock" (the recorder's sampling rate).
	Tone Value
	// Lines are the harmonics found above the noise, in order of M.
	Lines []Harmonic
	// Seconds is the length of sound the family was fitted to.
	Seconds float64
	// LogOdds is the evidence for the family over noise alone, in nats, less
	// what the number of rates that were tried would bring by chance. Below
	// about zero a family is as likely an accident.
	LogOdds float64
	// Alternatives are the other readings of the same sound, the best first.
	Alternatives []Alternative
	// Balanced reports that the evidence does not decide between Tone and the
	// first alternative.
	Balanced bool
}

// Harmonic is one line of a family.
type Harmonic struct {
	// M is the harmonic number in units of the pulse rate: 1 is the pulse
	// tone, 2 its octave. Lines of unequal blades fall between whole numbers,
	// at multiples of 1/z.
	M float64
	// Freq is M times the pulse rate, in hertz.
	Freq Hertz
	// Amp is the line's amplitude (peak, full scale = 1) and Phase its phase
	// in radians, at the middle of the fitted sound.
	Amp, Phase float64
	// SNR is the line's power over the noise in one resolution cell, in dB.
	SNR float64
}

// Alternative is another speed that the same sound could mean.
type Alternative struct {
	// Tone is its pulse rate.
	Tone Hertz
	// Factor is its ratio to the winner in words, such as "1/2" or "3".
	Factor string
	// Odds is how many times less likely it is than the winner (at least 1).
	Odds float64
}

// The steady search looks at no more harmonics than this, and at no longer a
// piece of sound at once: a rotor that is steady for longer is found in pieces
// and refined over the whole.
const (
	familyHarmonics = 30
	familySeconds   = 3.0
)

// FindFamily returns the family of the one pulse rate that explains rec best,
// if the rate does not change while it lasts: up to a few seconds of a steady
// rotor, or a slice of a changing one short enough to count as steady.
//
// Every rate in opt.Range is weighed by the evidence of its whole stack of
// lines, however many there are, against the noise floor around each; the
// winner is refined by least squares over all its lines at once, whose
// information matrix gives the uncertainty (the Cramér-Rao bound of a harmonic
// signal, Christensen and Jakobsson 2009, reached down to about -15 dB).
//
// It returns ErrNoReading if the best family is no better than chance would
// make it, ErrOption for options out of range and ErrTooShort for fewer than
// four periods of the lowest rate. It cannot notice that the speed changed
// meanwhile: [Follow] can.
func FindFamily(rec *Recording, opt Options) (*Family, error) {
	opt, err := opt.normal(rec)
	if err != nil {
		return nil, err
	}
	src, err := opt.source(rec)
	if err != nil {
		return nil, err
	}
	if h := src.Hum(); h != nil && h.Only {
		return nil, ErrNoReading
	}
	return findFamily(src, 0, src.Frames, opt)
}

// loudLine is the power of a line over the floor from which on its leakage
// matters.
const loudLine = 3000

// findFamily searches frames from..from+n of src, at most familySeconds.
func findFamily(src *sound.Source, from, n int, opt Options) (*Family, error) {
	if limit := int(familySeconds * src.Rate); n > limit {
		from, n = from+(n-limit)/2, limit
	}
	lo := math.Max(float64(opt.Range.Lo), 2*src.Rate/float64(n))
	hi := math.Min(float64(opt.Range.Hi), 0.49*src.Rate)
	if n < 64 || lo >= hi {
		return nil, fmt.Errorf("%w: %.3g s of sound cannot show a pulse rate below %.3g Hz; record for longer or raise the range",
			ErrTooShort, float64(n)/src.Rate, float64(opt.Range.Hi))
	}
	x, err := src.Block(nil, from, n)
	if err != nil {
		return nil, err
	}
	spec := comb.NewSpectrum(x, src.Rate, nil)
	scan := comb.NewScanner(familyHarmonics)
	look := spec
	if spec.Loudest() > loudLine {
		// without a window a loud line leaks everywhere; there is signal to spare
		look = comb.NewSpectrum(x, src.Rate, Hann.Weights(n))
	}
	best, trials := scan.Scan(look, lo, hi, 12)
	opt.see.told(&familyScan{float64(from) / src.Rate, look, look != spec, scan, lo, hi, best, trials})
	if len(best) == 0 {
		return nil, ErrNoReading
	}
	win := choose(best)
	f := &Family{Seconds: float64(n) / src.Rate, LogOdds: best[win].Evidence - math.Log(trials)}
	if f.LogOdds < familyOdds(opt) || opt.Motion == Auto && f.LogOdds > 8 && !throughout(x, src.Rate, best[win].Rate) {
		return nil, ErrNoReading
	}
	rate, variance, lines := refine(x, src.Rate, spec, scan, best[win].Rate, opt.see)
	if variance == 0 {
		return nil, ErrNoReading
	}
	f.Lines = lines
	f.Tone = opt.tone(rate, math.Sqrt(variance))
	if d, nats := pulsesIn(lines, opt.Pulses); nats > unequalBlades && float64(d)*rate <= float64(opt.Range.Hi) {
		f.Alternatives = append(f.Alternatives, Alternative{Tone: Hertz(rate), Factor: ratioText(1 / float64(d)), Odds: math.Exp(math.Min(40, nats-unequalBlades))})
		rate *= float64(d)
		f.Tone = opt.tone(rate, float64(d)*math.Sqrt(variance))
		for i := range lines {
			lines[i].M /= float64(d)
		}
	}
	for i, c := range best {
		if i == win || len(f.Alternatives) == 5 || math.Abs(c.Rate/rate-1) < 0.03 {
			continue
		}
		odds := math.Exp(math.Min(40, math.Max(0, best[win].Evidence-c.Evidence)))
		f.Alternatives = append(f.Alternatives, Alternative{Tone: Hertz(c.Rate), Factor: ratioText(c.Rate / rate), Odds: odds})
	}
	f.Balanced = len(f.Alternatives) > 0 && f.Alternatives[0].Odds < 3
	return f, nil
}

// familyScan and familyFits are what a search tells its observer: the rates that
// were weighed in the piece of sound from time from on, and the fits of the best
// of them, one to a channel.
type (
	familyScan struct {
		from    float64
		look    *comb.Spectrum
		tapered bool // look is, by a Hann window
		scan    *comb.Scanner
		lo, hi  float64
		best    []comb.Candidate
		trials  float64
	}
	familyFits []*linefit.Fit
)

// throughout reports whether a family that is well heard in the whole of x is
// heard in each quarter of it: one speed for part of the time is not steady.
func throughout(x [][]float64, fs, rate float64) bool {
	n := len(x[0]) / 4
	if float64(n) < 6*fs/rate {
		return true
	}
	var power [4]float64
	for q := range power {
		for _, ch := range x {
			p := comb.Powers(ch[q*n:(q+1)*n], fs)
			for m := 1.0; m <= 5; m++ {
				power[q] += p.Mean(m*rate-p.Cell, m*rate+p.Cell)
				power[q] -= (p.Mean((m-0.5)*rate-p.Cell, (m-0.5)*rate+p.Cell) + p.Mean((m+0.5)*rate-p.Cell, (m+0.5)*rate+p.Cell)) / 2
			}
		}
	}
	return slices.Min(power[:]) > 0.04*slices.Max(power[:])
}

// lasting reports whether the family found in the middle of a recording is there
// for most of it: one that was an accident of the piece is not found again.
func lasting(src *sound.Source, f *Family) bool {
	n := int(familySeconds * src.Rate)
	pieces := min(9, src.Frames/n)
	if pieces < 2 {
		return true
	}
	scan := comb.NewScanner(familyHarmonics)
	found := 0
	for i := 0; i < pieces; i++ {
		x, err := src.Block(nil, i*(src.Frames-n)/(pieces-1), n)
		if err != nil {
			return false
		}
		spec := comb.NewSpectrum(x, src.Rate, nil)
		// half a resolution cell on either side
		best, _ := scan.Scan(spec, f.Tone.X-0.5/familySeconds, f.Tone.X+0.5/familySeconds, 1)
		if len(best) > 0 && best[0].Evidence > 5 {
			found++
		}
	}
	return 3*found >= 2*pieces
}

// familyOdds is the log odds below which a family counts as an accident. White
// noise alone passes -4.3 in one recording of ten, -3.5 in some four of a
// hundred, -2.5 in one of a hundred and -1.5 in one of several hundred
// (measured). Who says that the motion is steady knows that there is one.
func familyOdds(opt Options) float64 {
	if opt.Motion == Steady {
		return -4.3
	}
	return 3 // a reading that nobody asked for must be beyond doubt
}

// choose picks the winner among candidates, best first: a rate at a whole
// multiple of the best one is preferred when the best explains hardly more,
// since every divisor of a rate has all its lines and catches some noise too.
func choose(c []comb.Candidate) int {
	win := 0
	for i := 1; i < len(c); i++ {
		r := c[i].Rate / c[win].Rate
		k := math.Round(r)
		if k >= 2 && math.Abs(r/k-1) < 0.003 && c[win].Evidence-c[i].Evidence < 2.5 {
			win = i
		}
	}
	return win
}

// refine fits the harmonics of rate that stand out of the noise and returns
// the improved rate, its variance and the lines; the variance is zero when the
// fit failed.
func refine(x [][]float64, fs float64, spec *comb.Spectrum, scan *comb.Scanner, rate float64, see observer) (float64, float64, []Harmonic) {
	first := rate
	n := len(x[0])
	var fits []*linefit.Fit
	variance := 0.0
	for round := 0; round < 3; round++ {
		places := append([]float64(nil), scan.Places(spec, rate)...)
		reach := scan.Order.Weights(places)
		fits = fits[:0]
		info, step := 0.0, 0.0
		for c := range x {
			fit := &linefit.Fit{Rate: fs, Coef: []float64{rate}}
			for m := range places {
				k := int(float64(m+1)*rate/spec.DF + 0.5)
				if reach[m]*scan.Line.Posterior(spec.Z[c][k]) > 0.7 {
					fit.Orders = append(fit.Orders, float64(m+1))
					fit.Noise = append(fit.Noise, spec.Noise[c][k])
				}
			}
			if len(fit.Orders) == 0 {
				continue
			}
			if round == 2 && len(fits) < len(x) {
				fit.Noise = localNoise(fit, x[c], fs, rate)
			}
			steps := 6
			if len(x) > 1 {
				steps = 1
			}
			if fit.Run(x[c], steps) != nil {
				continue
			}
			w := 1 / fit.Cov.At(0, 0)
			info += w
			step += w * fit.Coef[0]
			fits = append(fits, fit)
		}
		if info == 0 || math.IsNaN(step) {
			return first, 0, nil
		}
		rate = step / info
		variance = 1 / info
		if round == 0 && len(fits) == len(x) {
			// strong lines lift the floor around them: look at what is left
			for c, fit := range fits {
				spec.Refloor(c, fit.Residual, fs)
			}
		}
	}
	if math.Abs(rate-first)*float64(n)/fs > 1 {
		return first, 0, nil // ran away to another line
	}
	see.told(familyFits(fits))
	// the lines of the channel in which each is strongest
	var lines []Harmonic
	byOrder := map[float64]int{}
	for _, fit := range fits {
		for i, m := range fit.Orders {
			a := fit.Amp[i]
			p := real(a)*real(a) + imag(a)*imag(a)
			h := Harmonic{M: m, Freq: Hertz(m * rate), Amp: math.Sqrt(p), Phase: math.Atan2(imag(a), real(a)),
				SNR: 10 * math.Log10(p*float64(n)/4/fit.Noise[i])}
			if j, ok := byOrder[m]; ok {
				if h.SNR > lines[j].SNR {
					lines[j] = h
				}
				continue
			}
			byOrder[m] = len(lines)
			lines = append(lines, h)
		}
	}
	return rate, variance, lines
}

// localNoise returns the noise around each line as the residual of the fit
// shows it, where that is more than the floor: what clutters the line itself,
// such as a voice or a second rotor, widens the interval.
func localNoise(fit *linefit.Fit, x []float64, fs, rate float64) []float64 {
	probe := &linefit.Fit{Rate: fs, Coef: []float64{rate}, Orders: fit.Orders, Noise: fit.Noise}
	out := append([]float64(nil), fit.Noise...)
	if probe.Run(x, 1) != nil {
		return out
	}
	spec := comb.Powers(probe.Residual, fs)
	for i, m := range fit.Orders {
		// twelve resolution cells on either side
		if p := spec.Mean(m*rate-12*spec.Cell, m*rate+12*spec.Cell); p > 1.6*out[i] {
			out[i] = p
		}
	}
	return out
}

// unequalBlades is what it costs, in nats, to believe in blades so unlike that
// all lines of the shaft are heard.
const unequalBlades = 3

// pulsesIn returns which of the lines, every d-th, are the pulses of a rotor with
// z unequal blades, and how credible that is, in nats.
func pulsesIn(lines []Harmonic, z int) (d int, nats float64) {
	if z < 2 || len(lines) == 0 {
		return 1, 0
	}
	top := 0.0
	for _, l := range lines {
		top = math.Max(top, l.M)
	}
	power := make([]float64, int(top))
	for i := range power {
		power[i] = math.Ln2 // a line that does not stand out
	}
	for _, l := range lines {
		power[int(l.M)-1] = math.Max(math.Ln2, l.SNR*math.Ln10/10)
	}
	return comb.PatternIn(power, z)
}

// ratioText writes a ratio of small whole numbers, such as "3/2", or two
// decimals where it is none.
func ratioText(r float64) string {
	for q := 1; q <= 12; q++ {
		p := math.Round(r * float64(q))
		if p >= 1 && math.Abs(r*float64(q)/p-1) < 0.004 {
			if q == 1 {
				return fmt.Sprintf("%.0f", p)
			}
			return fmt.Sprintf("%.0f/%d", p, q)
		}
	}
	return strings.TrimRight(fmt.Sprintf("%.2f", r), "0")
}
