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
// lines, however many there are and whether alike in strength or not, against the
// noise floor around each; the winner is refined by least squares over all its lines at once, whose
// information matrix gives the uncertainty (the Cramér-Rao bound of a harmonic
// signal, Christensen and Jakobsson 2009, reached down to about -15 dB).
//
// It returns ErrNoReading if the best family is no better than chance would
// make it, or is a multiple of a rate below the range, ErrOption for options out
// of range and ErrTooShort for fewer than four periods of the lowest rate. It
// cannot notice that the speed changed meanwhile: [Follow] can.
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
	// the lines of unequal blades are a stack of the shaft, below the pulse rate
	slow := math.Max(2*src.Rate/float64(n), lo/float64(opt.Pulses))
	best, trials := scan.Scan(look, slow, hi, 12)
	opt.see.told(&familyScan{float64(from) / src.Rate, look, look != spec, scan, slow, hi, best, trials})
	// what turns below the range has multiples in it
	slower, _ := scan.Scan(look, math.Max(2*src.Rate/float64(n), opt.slowest()), lo, 4)
	f := &Family{Seconds: float64(n) / src.Rate}
	const mostDoubted = 4
	doubted := 0
	for {
		if len(best) == 0 {
			return nil, ErrNoReading
		}
		win, ok := pick(best, math.Log(trials), x, src.Rate, opt)
		if !ok {
			return nil, ErrNoReading
		}
		if opt.faint && best[win].Evidence-math.Log(trials) > 2*loudFamily {
			// the fit would take long, and hardly make a faint stack of a loud one
			best = slices.Delete(best, win, win+1)
			if doubted++; doubted == mostDoubted {
				return nil, ErrNoReading
			}
			continue
		}
		fit, err := settle(x, src.Rate, spec, scan, best[win].Rate, opt)
		if err != nil {
			return nil, err
		}
		d, nats := pulsesIn(fit.lines(), opt.Pulses)
		if float64(d)*fit.rate > float64(opt.Range.Hi) {
			d = 1
		}
		if tried := best[win].Rate; float64(d)*fit.rate < 0.999*lo {
			// no pulses in sight: then it is no shaft either
			best = slices.DeleteFunc(best, func(c comb.Candidate) bool { return c.Rate < lo || c.Rate == tried })
			continue
		}
		found := math.Min(best[win].Evidence, fit.evidence()) - math.Log(trials)
		if found < familyOdds(opt) {
			// a slope or a hill of the noise; there may be a stack beside it
			best = slices.Delete(best, win, win+1)
			if doubted++; doubted == mostDoubted {
				return nil, ErrNoReading
			}
			continue
		}
		if g, e, n := fit.slowerShaft(look, slow, d, opt); g != nil {
			fit, d, nats = g, e, n
		} else if d > 1 {
			fit.refine(d) // with the lines that only the pulses reach; else as it was
		}
		if d > 1 {
			f.Alternatives = append(f.Alternatives, Alternative{Tone: Hertz(fit.rate), Factor: ratioText(1 / float64(d)), Odds: math.Exp(math.Min(40, nats))})
		}
		f.LogOdds = found
		f.Lines = fit.lines()
		for i := range f.Lines {
			f.Lines[i].M /= float64(d)
		}
		rate := float64(d) * fit.rate
		if d == 1 && multipleOfSlower(rate, best[win].Evidence, slower, opt) {
			return nil, errBelowRange
		}
		f.Tone = opt.tone(rate, float64(d)*math.Sqrt(fit.variance))
		opt.see.told(familyFits(fit.fits))
		for i, c := range best {
			if i == win || len(f.Alternatives) == 5 || c.Rate < lo || math.Abs(c.Rate/rate-1) < 0.03 {
				continue
			}
			odds := math.Exp(math.Min(40, math.Max(0, best[win].Evidence-c.Evidence)))
			f.Alternatives = append(f.Alternatives, Alternative{Tone: Hertz(c.Rate), Factor: ratioText(c.Rate / rate), Odds: odds})
		}
		f.Balanced = len(f.Alternatives) > 0 && f.Alternatives[0].Odds < 3
		return f, nil
	}
}

// pick returns the candidate that is taken for the family: the one that choose
// prefers, unless that is heard for part of the time only. Where blades are
// unequal, a rate that has some of their lines and not the others may win that
// does not last, and a later candidate has them all.
func pick(best []comb.Candidate, chance float64, x [][]float64, fs float64, opt Options) (win int, ok bool) {
	win = choose(best)
	odds := best[win].Evidence - chance
	switch {
	case odds < familyOdds(opt):
		return 0, false
	case opt.Motion != Auto || odds <= 8 || throughout(x, fs, best[win].Rate):
		return win, true
	}
	cell := fs / float64(len(x[0]))
	for i, c := range best {
		// those next to it are the skirts of the same lines, and of a speed that changes
		apart := math.Abs(c.Rate-best[win].Rate) > math.Max(4*cell, 0.1*c.Rate)
		if apart && c.Evidence-chance > 8 && throughout(x, fs, c.Rate) {
			return i, true
		}
	}
	return 0, false
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

// loudFamily is the log odds of a family above which it is heard in short frames
// as well, if it is there all the time.
const loudFamily = 60

// knocks reports whether the middle of a recording, as far as a family is looked for in
// it, is not noise with lines in it but something that rings in a room: what stands out of
// that may be no lines.
func knocks(src *sound.Source) (bool, error) {
	n := min(src.Frames, int(familySeconds*src.Rate))
	x, err := src.Block(nil, (src.Frames-n)/2, n)
	if err != nil {
		return false, err
	}
	return comb.NewSpectrum(x, src.Rate, nil).Uneven(0), nil
}

// familyOdds is the log odds below which a family counts as an accident. White
// noise alone passes -3.5 in eight recordings of a hundred, -2.5 in five, -1.5 in two
// and -0.5 in one of two hundred (measured). Who says that the motion is steady knows that there is
// one; else two in a thousand recordings of noise alone are read from 0 on, of any
// colour and of 0.5 to 10 s (11 of 5588, and one from 3 on).
func familyOdds(opt Options) float64 {
	if opt.Motion == Steady {
		return -3.5
	}
	return 0
}

// choose picks the winner among candidates, best first: a rate at a whole
// multiple of the best one is preferred when the best explains hardly more,
// since every divisor of a rate has all its lines and catches some noise too. The
// louder the lines the more a divisor that is true explains, and the farther from
// their tops it may look for noise without losing them.
func choose(c []comb.Candidate) int {
	win, hardly := 0, math.Max(1, 0.1*c[0].Evidence)
	for i := 1; i < len(c); i++ {
		r := c[i].Rate / c[win].Rate
		k := math.Round(r)
		if k >= 2 && math.Abs(r/k-1) < 0.003 && c[win].Evidence-c[i].Evidence < hardly {
			win = i
		}
	}
	return win
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
