package figure

import (
	"fmt"
	"math"

	"rotorhum/tacho"
)

// errNothing is the answer to a search or an inspection that is nil or empty.
func errNothing(what, make string) error {
	return fmt.Errorf("figure: %s is empty: make it with tacho.%s: %w", what, make, tacho.ErrTooShort)
}

// axesOf turns a view into axes; lo and hi bound x where the view does not.
func axesOf(v View, title string, lo, hi float64) Axes {
	a := Axes{Title: v.Title, Width: v.Width, Height: v.Height, XLo: lo, XHi: hi}
	if a.Title == "" {
		a.Title = title
	}
	return a
}

// densityDB returns a density in dB re full scale² per hertz, at least the given
// number of decibels below the largest.
func densityDB(x []float64, depth float64) []float64 {
	top := 0.0
	for _, v := range x {
		top = math.Max(top, v)
	}
	out := make([]float64, len(x))
	for k, v := range x {
		out[k] = 10 * math.Log10(math.Max(v, top*math.Pow(10, -depth/10)))
	}
	return out
}

// means returns the means of every by numbers; what is left behind them goes.
func means(x []float64, by int) []float64 {
	out := make([]float64, len(x)/by)
	for i := range out {
		for _, v := range x[i*by : (i+1)*by] {
			out[i] += v / float64(by)
		}
	}
	return out
}

// Floor draws the noise floor under the spectrum in which a family was searched,
// in the first channel, and what the fitted lines leave over: where the floor
// holds, the rest looks like noise around it.
//
// It returns an error if the search is nil or looked at nothing but silence.
func Floor(s *tacho.FamilySearch, view ...View) (*Picture, error) {
	v, err := viewOf(view, 420)
	if err != nil {
		return nil, err
	}
	if s == nil || len(s.Density) == 0 {
		return nil, errNothing("the search", "InspectFamily")
	}
	lo, hi := float64(v.Lo), float64(v.Hi)
	f := s.Freqs()
	if hi == 0 {
		hi = f[len(f)-1]
		if fam := s.Family; fam != nil && len(fam.Lines) > 0 {
			hi = math.Min(hi, 1.6*float64(fam.Lines[len(fam.Lines)-1].Freq)+2*fam.Tone.X)
		}
	}
	a := axesOf(v, "The noise floor under the lines", lo, hi)
	a.X, a.Y = "frequency (Hz)", "power density (dB re full scale²/Hz)"
	// no more than a point for every pixel, the mean of the bins there
	by := max(1, int((hi-lo)/s.DF)/v.Width)
	if by > 1 {
		a.Note = fmt.Sprintf("mean over every %.3g Hz", float64(by)*s.DF)
	}
	f = means(f, by)
	sound, floor := densityDB(means(s.Density[0], by), levelsDepth), densityDB(means(s.Floor[0], by), levelsDepth)
	curves := []Curve{Line("sound", f, sound)}
	lowest, loudest := math.Inf(1), math.Inf(-1)
	for k := range f {
		if f[k] >= lo && f[k] <= hi {
			lowest, loudest = math.Min(lowest, floor[k]), math.Max(loudest, sound[k])
		}
	}
	if len(s.Residual) > 0 {
		curves = append(curves, Line("what the fitted lines leave", f, densityDB(means(s.Residual[0], by), levelsDepth)))
	}
	curves = append(curves, Line("noise floor", f, floor))
	a.YLo, a.YHi = 5*math.Floor((lowest-18)/5), 5*math.Ceil((loudest+3)/5)
	if math.IsInf(lowest, 0) || math.IsInf(loudest, 0) || a.YLo >= a.YHi {
		a.YLo, a.YHi = 0, 0
	}
	a.Alt = "The floor follows the noise and not the lines."
	return Plot(a, curves...)
}

// Evidence draws how much the sound speaks for every rate, with the candidates
// that were weighed, the best labelled, and the level that had to be reached.
//
// It returns an error if the search is nil or empty.
func Evidence(s *tacho.FamilySearch, view ...View) (*Picture, error) {
	v, err := viewOf(view, 380)
	if err != nil {
		return nil, err
	}
	if s == nil || len(s.Rates) == 0 {
		return nil, errNothing("the search", "InspectFamily")
	}
	lo, hi := float64(v.Lo), float64(v.Hi)
	if hi == 0 {
		hi = float64(s.Rates[len(s.Rates)-1])
	}
	if lo == 0 {
		lo = float64(s.Rates[0])
	}
	a := axesOf(v, "Evidence for every pulse rate", lo, hi)
	a.X, a.Y, a.LogX = "pulse rate (Hz)", "evidence (nats)", true
	x := make([]float64, len(s.Rates))
	for i, r := range s.Rates {
		x[i] = float64(r)
	}
	curves := []Curve{Line("best evidence around each rate", x, s.Evidence)}
	var cx, cy []float64
	for _, c := range s.Candidates {
		if f := float64(c.Tone); f >= lo && f <= hi {
			cx, cy = append(cx, f), append(cy, c.Evidence)
		}
	}
	if len(cx) > 0 {
		curves = append(curves, Dots("candidates", cx, cy))
	}
	curves = append(curves, RuleY(fmt.Sprintf("%.3g nats had to be reached", s.Least), s.Least))
	if fam := s.Family; fam != nil {
		curves = append(curves, RuleX(fam.Tone.Rounded(), fam.Tone.X))
	} else {
		a.Note = "no reading: " + s.Reason
	}
	return Plot(a, curves...)
}

// Stacks draws what every harmonic says for each of the given rates, for a line
// there or against it, in nats: why one of them is believed and not the others.
// Without rates it compares the rate found, or else the best candidate, with those
// of its half, its double and its triple that were searched.
//
// It returns an error if the search is nil or empty, or if a rate lies outside
// what was searched.
func Stacks(s *tacho.FamilySearch, rates []tacho.Hertz, view ...View) (*Picture, error) {
	v, err := viewOf(view, 380)
	if err != nil {
		return nil, err
	}
	if s == nil || len(s.Candidates) == 0 {
		return nil, errNothing("the search", "InspectFamily")
	}
	if len(rates) == 0 {
		f := s.Candidates[0].Tone
		if s.Family != nil {
			f = tacho.Hertz(s.Family.Tone.X)
		}
		rates = []tacho.Hertz{f}
		for _, r := range []tacho.Hertz{f / 2, 2 * f, 3 * f} {
			if r >= s.Rates[0] && r <= s.Rates[len(s.Rates)-1] {
				rates = append(rates, r)
			}
		}
	}
	a := axesOf(v, "What each harmonic says for a rate", 0, 0)
	a.X, a.Y = "frequency of the harmonic (Hz)", "evidence for a line (nats)"
	a.Note = "each dot is a harmonic; below zero a line is missing"
	var curves []Curve
	last := 0.0
	for _, r := range rates {
		lines := s.Lines(r)
		if lines == nil {
			return nil, fmt.Errorf("figure: no lines were looked for at %v: %w", r, tacho.ErrOption)
		}
		var x, y []float64
		for _, l := range lines {
			x, y = append(x, float64(l.Freq)), append(y, l.Evidence)
			if l.Reach > 0.5 {
				last = math.Max(last, float64(l.Freq))
			}
		}
		curves = append(curves, Stems(fmt.Sprintf("%.5g Hz: %.3g nats together", float64(r), s.EvidenceAt(r)), x, y))
	}
	a.XLo, a.XHi = float64(v.Lo), float64(v.Hi)
	if a.XHi == 0 {
		a.XHi = 1.5*last + float64(rates[0])
	}
	return Plot(a, curves...)
}

// Residuals draws the measured phases of the pulse tone less the smoothed ones,
// with the interval of ±2 standard uncertainties in which most of them lie if
// the uncertainties are right.
//
// It returns an error if nothing was followed.
func Residuals(f *tacho.PhaseFit, view ...View) (*Picture, error) {
	v, err := viewOf(view, 320)
	if err != nil {
		return nil, err
	}
	if f == nil || len(f.T) == 0 {
		return nil, errNothing("the stretch", "Inspect")
	}
	var t, r, lo, hi, zero []float64
	for i := range f.T {
		if u := f.ResidualU[i]; !math.IsNaN(u) {
			t, r, zero = append(t, f.T[i]), append(r, f.Residual[i]), append(zero, 0)
			lo, hi = append(lo, -2*u), append(hi, 2*u)
		}
	}
	a := axesOf(v, "Phase that smoothing leaves over", v.From, v.To)
	a.X, a.Y = "time (s)", "phase of the pulse tone (rad)"
	a.Note = fmt.Sprintf("root mean square %.2g times the uncertainty", f.ResidualRMS())
	return Plot(a, Line("±2 standard uncertainties", t, zero).Interval(lo, hi), Dots("measured less smoothed", t, r))
}

// Harmonics draws the mean amplitude of every harmonic of a stretch, and what
// the noise alone would show, in decibels re full scale. From and To of the view
// choose the part of the stretch.
//
// It returns an error if nothing was followed or no block lies in the view.
func Harmonics(f *tacho.PhaseFit, view ...View) (*Picture, error) {
	v, err := viewOf(view, 360)
	if err != nil {
		return nil, err
	}
	if f == nil || len(f.T) == 0 {
		return nil, errNothing("the stretch", "Inspect")
	}
	first, last := math.Inf(1), math.Inf(-1)
	mean := func(x []float64) float64 {
		sum, n := 0.0, 0.0
		for i, a := range x {
			if t := f.T[i]; t >= v.From && (v.To == 0 || t <= v.To) {
				first, last = math.Min(first, t), math.Max(last, t)
				sum += a * a
				n++
			}
		}
		return math.Sqrt(sum / n)
	}
	var m, line, noise []float64
	for i := range f.Amp {
		a, n := mean(f.Amp[i]), mean(f.Noise[i])
		if !(n > 0) {
			continue
		}
		m = append(m, float64(i+1))
		line, noise = append(line, 20*math.Log10(math.Max(a, n/10))), append(noise, 20*math.Log10(n))
	}
	if len(m) == 0 {
		return nil, fmt.Errorf("figure: no block between %g and %g s: the stretch goes from %.3g to %.3g s: %w", v.From, v.To, f.T[0], f.T[len(f.T)-1], tacho.ErrTooShort)
	}
	a := axesOf(v, "Strength of the harmonics", 0, 0)
	a.X, a.Y = "harmonic m of the pulse tone", "amplitude (dB re full scale)"
	a.Note = fmt.Sprintf("mean from %.3g to %.3g s; what lies below a tenth of the noise is drawn there", first, last)
	return Plot(a, Dots("line", m, line), Line("noise alone", m, noise))
}

// shownReadings is how many readings a picture compares.
const shownReadings = 10

// Readings draws how much less the sound speaks for each reading of the same
// lines than for the best one.
//
// It returns an error if no readings were weighed.
func Readings(w *tacho.Weighing, view ...View) (*Picture, error) {
	v, err := viewOf(view, 340)
	if err != nil {
		return nil, err
	}
	if w == nil || len(w.Readings) == 0 {
		return nil, errNothing("the list of readings", "Inspect")
	}
	a := axesOf(v, fmt.Sprintf("Readings of the same lines, %.3g to %.3g s", w.From, w.To), 0, 0)
	a.X, a.Y = "times the best reading, "+w.Readings[0].Tone.String(), "evidence less that of the best (nats)"
	a.Note = "one nat less: 2.7 times less likely; 7 nats: a thousand times"
	var y []float64
	for _, r := range w.Readings[:min(shownReadings, len(w.Readings))] {
		a.Names = append(a.Names, r.Factor)
		y = append(y, r.Evidence-w.Readings[0].Evidence)
	}
	return Plot(a, Stems("", nil, y))
}

// Orders draws how far the lines of a stretch stand above their neighbourhood,
// against multiples of the best reading's rate, whatever that was at the time:
// its own lines stand at whole numbers.
//
// It returns an error if the stretch was too short for it.
func Orders(w *tacho.Weighing, view ...View) (*Picture, error) {
	v, err := viewOf(view, 360)
	if err != nil {
		return nil, err
	}
	if w == nil || len(w.Orders) == 0 {
		return nil, errNothing("the spectrum of orders", "Inspect")
	}
	a := axesOf(v, fmt.Sprintf("Lines in multiples of the pulse rate, %.3g to %.3g s", w.From, w.To), 0, w.Orders[len(w.Orders)-1])
	a.X, a.Y, a.LogY, a.YLo = "multiple of the pulse rate", "above the neighbourhood (scatter = 1)", true, 1
	if a.XHi > 12 {
		a.XHi = 12
	}
	var x, y []float64
	for i, z := range w.Contrast {
		a.YHi = math.Max(a.YHi, 1.5*z)
		if z > a.YLo {
			x, y = append(x, w.Orders[i]), append(y, z)
		}
	}
	if len(x) == 0 {
		return nil, errNothing("the spectrum of orders", "Inspect")
	}
	return Plot(a, Stems("", x, y))
}
