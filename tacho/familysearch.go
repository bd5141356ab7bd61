package tacho

import (
	"errors"
	"math"
	"slices"

	"rotorhum/tacho/internal/comb"
)

// FamilySearch is everything that [FindFamily] looked at: the noise floor under
// the spectrum, how much evidence there is for every rate, and what the lines of
// the best one leave over. Spectra are in full scale² per hertz, one-sided, a
// slice to a channel; channels are turned so that a copy of one is no second
// witness: the first is the loudest mixture of those of the recording.
type FamilySearch struct {
	// Family is what FindFamily says; nil where it says no reading, for which
	// Reason is the reason.
	Family *Family
	Reason string
	// From is where the piece of sound that was searched begins and Seconds its
	// length, in seconds.
	From, Seconds float64
	// Window is what the piece was weighed with: none, unless a line is so loud
	// that its leakage would hide others.
	Window Window
	// DF is the distance of the bins of the spectra, in hertz; they are finer than
	// what can be told apart, 1/Seconds.
	DF float64
	// Density is the power density of the sound, Floor that of the noise under
	// its lines, and Residual what is left of Density when the fitted lines are
	// taken out of the samples; nil where none were fitted.
	Density, Floor, Residual [][]float64
	// ResidualRMS is the root mean square of the samples that the fit leaves
	// over, per channel; full scale = 1.
	ResidualRMS []float64
	// Rates and Evidence are the curve that was searched: the evidence of the
	// whole stack of lines at each rate over noise alone, in nats, of which the
	// best in each of some two thousand equal ratios is kept.
	Rates    []Hertz
	Evidence []float64
	// Candidates are the rates that stood out, the best first. Where the number of
	// pulses is known they may lie below the range, as far as the shaft may: the
	// stack of unequal blades is one of the shaft.
	Candidates []Candidate
	// Chance is what the best of as many rates as were tried reaches by accident,
	// in nats, and Least what the best had to reach.
	Chance, Least float64

	look *comb.Spectrum
	scan *comb.Scanner
}

// Candidate is a rate that the sound could mean at a moment.
type Candidate struct {
	// T is the moment, in seconds from the start of the recording: the middle of
	// the sound that was looked at.
	T float64
	// Tone is the rate and Slope its change, as a share of itself per second.
	Tone  Hertz
	Slope float64
	// Evidence is the evidence for its lines over noise alone, in nats.
	Evidence float64
}

// LineEvidence is what one place of a stack says for it.
type LineEvidence struct {
	// M is the harmonic number and Freq M times the rate, in hertz.
	M    int
	Freq Hertz
	// SNR is the power there over the noise floor, in dB, in the channel in which
	// it is largest; about -∞ to 8 dB where there is nothing but noise.
	SNR float64
	// Evidence is what the place says for a line over none by itself, in nats: below
	// zero where a line is missing. It is bounded, so that no loud stranger outvotes
	// a stack. Lines about as loud as each other say more together.
	Evidence float64
	// Reach is the probability that the stack goes on as far as this harmonic.
	Reach float64
}

// searchCells is the number of equal ratios into which the curve of evidence is
// cut.
const searchCells = 2000

// InspectFamily is [FindFamily] with all that it looked at. A recording in which
// no family stands out is no error: Family is nil then.
//
// It takes some three times as long as FindFamily, and returns ErrOption and
// ErrTooShort as that does.
func InspectFamily(rec *Recording, opt Options) (*FamilySearch, error) {
	opt, err := opt.normal(rec)
	if err != nil {
		return nil, err
	}
	s := &FamilySearch{Window: Rectangle}
	opt.see = func(what any) { s.see(what, opt) }
	src, err := opt.source(rec)
	if err != nil {
		return nil, err
	}
	s.Family, err = findFamily(src, 0, src.Frames, opt)
	if h := src.Hum(); h != nil && h.Only {
		s.Family, err = nil, ErrNoReading
		s.Reason = "nothing is heard but the hum of the electric supply"
	}
	if stop := opt.stopped(); stop != nil {
		return nil, stop
	}
	if err != nil && !errors.Is(err, ErrNoReading) {
		return nil, err
	}
	if err == errBelowRange {
		s.Reason = belowRangeReason(opt)
	}
	if err != nil && s.Reason == "" {
		s.Reason = s.refusal()
	}
	return s, nil
}

// see takes what the search tells.
func (s *FamilySearch) see(what any, opt Options) {
	switch w := what.(type) {
	case *familyScan:
		s.look, s.scan = copied(w.look), w.scan // the fit takes the floor anew
		s.From, s.Seconds, s.DF = w.from, w.look.Seconds, w.look.DF
		if w.tapered {
			s.Window = Hann
		}
		s.Density, s.Floor = densities(w.look)
		s.Chance = math.Log(w.trials)
		s.Least = s.Chance + familyOdds(opt)
		for _, c := range w.best {
			s.Candidates = append(s.Candidates, Candidate{T: s.From + s.Seconds/2, Tone: Hertz(c.Rate), Evidence: c.Evidence})
		}
		s.trace(w.lo, w.hi, opt)
	case familyFits:
		s.Residual, s.ResidualRMS = nil, nil
		for _, fit := range w {
			left := comb.NewSpectrum([][]float64{fit.Residual}, fit.Rate, nil)
			density, _ := densities(left)
			s.Residual = append(s.Residual, density[0])
			sum := 0.0
			for _, v := range fit.Residual {
				sum += v * v
			}
			s.ResidualRMS = append(s.ResidualRMS, math.Sqrt(sum/float64(len(fit.Residual))))
		}
	}
}

func copied(s *comb.Spectrum) *comb.Spectrum {
	c := &comb.Spectrum{DF: s.DF, Seconds: s.Seconds}
	for i := range s.Z {
		c.Z, c.Noise = append(c.Z, slices.Clone(s.Z[i])), append(c.Noise, slices.Clone(s.Noise[i]))
	}
	return c
}

// densities returns the power density of the sound and of its noise floor.
func densities(look *comb.Spectrum) (sound, noise [][]float64) {
	perHertz := 2 / (2 * look.Top()) // noise of variance 1 fills 0 to half the sample rate
	for c, z := range look.Z {
		s, n := make([]float64, len(z)), make([]float64, len(z))
		for k := range z {
			n[k] = perHertz * look.Noise[c][k]
			s[k] = z[k] * n[k]
		}
		sound, noise = append(sound, s), append(noise, n)
	}
	return sound, noise
}

// trace computes the curve of evidence from lo to hi, unless the options' context
// ends.
func (s *FamilySearch) trace(lo, hi float64, opt Options) {
	top := s.look.Top()
	hi = math.Min(hi, top)
	s.Rates, s.Evidence = nil, nil
	for cell, f := 0, lo; cell < searchCells && opt.stopped() == nil; cell++ {
		end := lo * math.Pow(hi/lo, float64(cell+1)/searchCells)
		best, where := math.Inf(-1), 0.0
		for f < end {
			if e := s.scan.Order.Max(s.scan.Places(s.look, f)); e > best {
				best, where = e, f
			}
			// a quarter of what moves the highest line by what can be told apart
			f += 0.25 / (s.Seconds * math.Max(1, math.Min(float64(s.scan.Harmonics), math.Floor(top/f))))
		}
		if where > 0 {
			s.Rates = append(s.Rates, Hertz(where))
			s.Evidence = append(s.Evidence, s.scan.Evidence(s.look, where))
		}
	}
}

// Lines returns what every harmonic of a rate says for it: why this rate, and
// not its half or its double. It returns nil if there was nothing to search, or
// if the rate is not above 0 Hz and below half the sampling rate.
func (s *FamilySearch) Lines(rate Hertz) []LineEvidence {
	if math.IsNaN(s.EvidenceAt(rate)) {
		return nil
	}
	places := s.scan.Places(s.look, float64(rate))
	reach := s.scan.Order.Weights(places)
	out := make([]LineEvidence, len(places))
	for i, e := range places {
		f := float64(i+1) * float64(rate)
		z := 0.0
		for _, ch := range s.look.Z {
			z = math.Max(z, ch[int(f/s.DF+0.5)])
		}
		out[i] = LineEvidence{M: i + 1, Freq: Hertz(f), SNR: 10 * math.Log10(z), Evidence: e, Reach: reach[i]}
	}
	return out
}

// EvidenceAt returns the evidence of the whole stack of lines at a rate over noise
// alone, in nats: the average over how many harmonics the stack may have, all that
// [FamilySearch.Lines] says. It is NaN where Lines returns nil.
func (s *FamilySearch) EvidenceAt(rate Hertz) float64 {
	if s.look == nil || !(rate > 0) || !(float64(rate) < s.look.Top()) {
		return math.NaN()
	}
	return s.scan.Evidence(s.look, float64(rate))
}

// Freqs returns the frequencies of the bins of the spectra, in hertz.
func (s *FamilySearch) Freqs() []float64 {
	if len(s.Density) == 0 {
		return nil
	}
	f := make([]float64, len(s.Density[0]))
	for k := range f {
		f[k] = float64(k) * s.DF
	}
	return f
}

// best returns the rate that was found, or else the best candidate.
func (s *FamilySearch) best() Hertz {
	if s.Family != nil {
		return Hertz(s.Family.Tone.X)
	}
	return s.Candidates[0].Tone
}

// refusal words why there is no family.
func (s *FamilySearch) refusal() string {
	switch {
	case len(s.Candidates) == 0:
		return "there is nothing but silence"
	case s.Candidates[0].Evidence < s.Least:
		return "the best stack of lines has evidence of " + formatSig(s.Candidates[0].Evidence, 3) + " nats, and chance alone brings " +
			formatSig(s.Chance, 3) + ": it must reach " + formatSig(s.Least, 3)
	case s.Residual == nil:
		return "the best stack of lines is not there all the time"
	}
	return "no stack of lines could be fitted"
}
