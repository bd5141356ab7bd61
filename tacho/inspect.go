package tacho

import (
	"math"

	"rotorhum/tacho/internal/comb"
	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// Inspection is everything that [Follow] weighed on its way to a track, so that
// one can see why it took this line and not that one.
type Inspection struct {
	// Track is what Follow says.
	Track *Track
	// Hum is the frequency of the electric supply whose lines were taken out
	// before anything else, in hertz; 0 if there was none.
	Hum Hertz
	// Candidates are the rates that the short frames offer, in order of time, the
	// best of each moment first, some twenty to a moment.
	Candidates []Candidate
	// Courses are the chains of candidates that obey inertia, in order of time.
	Courses []Course
	// Weighings are the readings of the same lines (halves, thirds, multiples), one
	// list for every course that was followed.
	Weighings []*Weighing
	// Fits are the stretches of the track as their phases were followed.
	Fits []*PhaseFit
	// Search is how the one rate of a steady recording was found; nil unless that
	// was asked.
	Search *FamilySearch
}

// Course is a chain of candidates, one to a moment at most, that a thing with
// inertia could have run through.
type Course struct {
	// T are the moments in seconds, Tone the rates there.
	T    []float64
	Tone []Hertz
	// Evidence is what it gathered beyond what noise offers, less the cost of its
	// turns and gaps, in nats.
	Evidence float64
	// Agility is how restless it proved when its phase was followed: the square
	// root of the intensity of its changes of acceleration over its speed, in
	// s^-2.5. A push reaches some 3, a voice more than 5. NaN if it was not followed.
	Agility float64
	// Coherence is the share of its lines' power that keeps its phase, 0 to 1:
	// near 1 for a rotor close by, less in echo, little for a voice. NaN if it was
	// not followed.
	Coherence float64
	// Kept reports that it was taken for a rotor, and Why says why or why not.
	Kept bool
	Why  string
}

// Weighing is how the readings of one stack of lines compare.
type Weighing struct {
	// From and To bound the stretch, in seconds.
	From, To float64
	// Readings are the multiples that were weighed, the best first.
	Readings []Reading
	// Orders are multiples of the best reading's rate, whatever it was at the time,
	// and Contrast says how far the mean power there stands above its neighbourhood,
	// in units of the scatter of that. Of each line only the top counts: the places
	// beside it and all without excess are 0 or below. Empty if the stretch is too
	// short for it.
	Orders, Contrast []float64
}

// Reading is one way to read a stack of lines.
type Reading struct {
	// Factor is its ratio to the best one in words, such as "1/2", Ratio in figures.
	Factor string
	Ratio  float64
	// Tone is its rate in the middle of the stretch.
	Tone Hertz
	// Evidence is what its lines, those that are there and those that are missing,
	// say for it, less what odd ratios cost, in nats.
	Evidence float64
	// Odds is how many times less likely it is than the best, at least 1, and at
	// most exp(40).
	Odds float64
}

// PhaseFit is one stretch of a track: how its phase was followed. All slices but
// those of harmonics have one entry for each short block of sound; blocks overlap
// by half.
type PhaseFit struct {
	// T are the middles of the blocks and Length their lengths, in seconds.
	T, Length []float64
	// Tone is the rate of the smoothed phase and U its standard uncertainty without
	// that of the clock, in hertz.
	Tone, U []float64
	// Residual is the measured phase of the pulse tone less the smoothed one, and
	// ResidualU the standard uncertainty of the measured one, in radians. Blocks in
	// which nothing was measured hold NaN.
	Residual, ResidualU []float64
	// Amp[m-1] is the amplitude (peak, full scale = 1) of harmonic m in each block,
	// and Noise[m-1] the amplitude that the noise alone would show there (root mean
	// square). Both sum the powers of all channels.
	Amp, Noise [][]float64
	// Inflation is the factor by which the variances were widened since the lines
	// disagree about the rate by more than their noise, at least 1, mean over the
	// stretch.
	Inflation float64
	// Jitter is by how much single pulses come early or late, each on its own: root mean
	// square, as a share of the time from one to the next; 0 where none shows. ResidualU
	// includes it.
	Jitter float64
	// Flutter are the waves, wow or flutter, that the speed makes at steady rates; nil where
	// none shows. Tone, the residuals and their uncertainties include them. A stretch of more
	// than two and a half minutes is followed in pieces, and none is told.
	Flutter []Flutter
	// HighPass is the corner frequency, in hertz, of a high-pass among the lines, of a recorder
	// or a small microphone, as far as the kind of filter that fits best tells it; nil where
	// none shows. It delays low lines: Tone is free of that, and U includes what is not known
	// of it. A stretch of more than two and a half minutes is followed in pieces, and none is
	// told.
	HighPass *Value
	// Coherence is the share of the lines' power that keeps its phase, 0 to 1.
	Coherence float64
}

// Flutter is a speed that swings to and fro at a steady rate: that rate, in hertz, and how far
// it swings to either side, in per cent of the speed. Their uncertainties are those of the fit:
// the recorder's clock, as in Tone, is not in them.
type Flutter struct {
	Rate, Depth Value
}

// ResidualRMS returns the root mean square of the residual phases, each in units
// of its standard uncertainty: about 0.9 in noise, as blocks overlap and smoothing
// follows a little of it, less where the lines disagree among themselves and the
// uncertainties were widened for it, and NaN without residuals.
func (f *PhaseFit) ResidualRMS() float64 {
	sum, n := 0.0, 0.0
	for i, r := range f.Residual {
		if z := r / f.ResidualU[i]; !math.IsNaN(z) {
			sum += z * z
			n++
		}
	}
	return math.Sqrt(sum / n)
}

// Inspect is [Follow] with everything that it weighed. It needs some 40 kB of
// memory for every second of sound: of a long recording inspect a slice.
//
// It returns the errors of Follow.
func Inspect(rec *Recording, opt Options) (*Inspection, error) {
	w := &witness{in: &Inspection{}, search: &FamilySearch{Window: Rectangle}}
	normal, err := opt.normal(rec)
	if err != nil {
		return nil, err
	}
	opt.see = func(what any) { w.see(what, normal) }
	if w.in.Track, err = Follow(rec, opt); err != nil {
		return nil, err
	}
	if w.search.look != nil {
		if f := w.in.Track.Steady; f != nil && len(f.Lines) > 0 {
			w.search.Family = f
		} else {
			w.search.Reason = w.search.refusal()
		}
		w.in.Search = w.search
	}
	return w.in, nil
}

// At returns the candidates of the moment nearest to t seconds, the best first.
func (in *Inspection) At(t float64) []Candidate {
	nearest := math.Inf(1)
	for _, c := range in.Candidates {
		if d := math.Abs(c.T - t); d < math.Abs(nearest-t) {
			nearest = c.T
		}
	}
	var out []Candidate
	for _, c := range in.Candidates {
		if c.T == nearest {
			out = append(out, c)
		}
	}
	return out
}

// witness writes down what Follow tells.
type witness struct {
	in     *Inspection
	src    *sound.Source
	search *FamilySearch
	round  int
}

func (w *witness) see(what any, opt Options) {
	switch v := what.(type) {
	case *sound.Source:
		w.src = v
		if h := v.Hum(); h != nil {
			w.in.Hum = Hertz(h.Base)
		}
	case *comb.Frames:
		for i, m := range v.Moments {
			for _, s := range m.States {
				w.in.Candidates = append(w.in.Candidates, Candidate{T: float64(i) * v.Hop, Tone: Hertz(s.Rate), Slope: s.Slope, Evidence: s.Evidence})
			}
		}
	case courseJudged:
		w.judged(v)
	case *readingsWeighed:
		w.weighed(v)
	case []*stretch:
		w.in.Fits = w.in.Fits[:0]
		for _, s := range v {
			w.in.Fits = append(w.in.Fits, phaseFit(s.fit))
		}
	case *familyScan, familyFits:
		w.search.see(what, opt)
	}
}

// judged adds a course. A later round looks again without what cannot be a rotor:
// of the rounds before only that is kept.
func (w *witness) judged(v courseJudged) {
	if v.round > w.round {
		w.round = v.round
		refused := w.in.Courses[:0]
		for _, c := range w.in.Courses {
			if !c.Kept && !math.IsNaN(c.Agility) {
				refused = append(refused, c)
			}
		}
		w.in.Courses = refused
	}
	c := Course{Evidence: v.Evidence, Agility: math.NaN(), Coherence: math.NaN()}
	for _, s := range v.Steps {
		c.T = append(c.T, float64(s.Moment)*frameHop)
		c.Tone = append(c.Tone, Hertz(s.State.Rate))
	}
	if v.followed != nil {
		c.Agility, c.Coherence = v.followed.agility(), v.followed.fit.Coherence
	}
	switch {
	case v.followed == nil && v.Evidence < leastEvidence:
		c.Why = "too little evidence: noise can do that"
	case v.followed == nil:
		c.Why = "too brief for its phase to be followed"
	case v.followed.hums(w.src.Hum()):
		c.Why = "what is left of the hum of the electric supply"
	case v.followed.rotor < 0:
		c.Why = "too restless for a thing with inertia, too brief to tell, or its lines set in and broke off while its rate held: a voice or a note"
	default:
		c.Kept, c.Why = true, "it moves like a thing with inertia"
	}
	w.in.Courses = append(w.in.Courses, c)
}

func (w *witness) weighed(v *readingsWeighed) {
	w.in.Weighings = w.in.Weighings[:0]
	for i, s := range v.stretches {
		if len(v.lists[i]) == 0 {
			continue
		}
		best := v.lists[i][0]
		g := &Weighing{}
		g.From, g.To = s.times()
		hz, _, _ := s.at((g.From + g.To) / 2)
		for _, r := range v.lists[i] {
			f := r.ratio() / best.ratio()
			g.Readings = append(g.Readings, Reading{Factor: ratioText(f), Ratio: f, Tone: Hertz(hz * r.ratio()), Evidence: r.score,
				Odds: math.Exp(math.Min(40, math.Max(0, best.score-r.score)))})
		}
		if o := v.spectra[i]; o != nil {
			for k, z := range o.Z {
				x := float64(k) / float64(o.Per)
				if x > o.Top {
					break
				}
				g.Orders = append(g.Orders, x/best.ratio())
				g.Contrast = append(g.Contrast, z)
			}
		}
		w.in.Weighings = append(w.in.Weighings, g)
	}
}

// phaseFit lays open how a stretch was followed.
func phaseFit(r *phase.Result) *PhaseFit {
	f := &PhaseFit{Inflation: r.Inflation, Jitter: r.Jitter, Coherence: r.Coherence,
		Amp: make([][]float64, len(r.Lines)), Noise: make([][]float64, len(r.Lines))}
	for _, w := range r.Swings {
		f.Flutter = append(f.Flutter, Flutter{
			Measured(w.Hz, w.HzU, "Hz", "phase"), Measured(100*w.Depth, 100*w.DepthU, "%", "phase")})
	}
	if r.Corner > 0 {
		corner := Measured(r.Corner, r.CornerU, "Hz", "phase")
		f.HighPass = &corner
	}
	for i, b := range r.Blocks {
		p, s := r.Points[i], r.Motion[i]
		f.T = append(f.T, b.T)
		f.Length = append(f.Length, b.Length)
		f.Tone = append(f.Tone, s.Omega/(2*math.Pi))
		f.U = append(f.U, math.Sqrt(s.OmegaVar)/(2*math.Pi))
		residual, u := p.Phi-s.Phi, math.Sqrt(p.Var)
		if math.IsInf(u, 1) {
			residual, u = math.NaN(), math.NaN()
		}
		f.Residual, f.ResidualU = append(f.Residual, residual), append(f.ResidualU, u)
		for m := range r.Lines {
			v := r.Strength(i, m)
			f.Amp[m] = append(f.Amp[m], math.Sqrt(v.Channels*math.Max(0, v.Amp2)))
			f.Noise[m] = append(f.Noise[m], math.Sqrt(v.Channels*v.Noise2))
		}
	}
	return f
}
