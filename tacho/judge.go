package tacho

import (
	"math"
	"slices"

	"rotorhum/tacho/internal/comb"
	"rotorhum/tacho/internal/path"
	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// What is a rotor and what a voice or a note is weighed, in nats: the logarithm of
// how much likelier what is heard of a stretch is of a rotor.
const (
	// caution is what a claim costs.
	caution = 2.5
	// phrase is the mean time, in seconds, for which a voice or a note is followed
	// without a break; rotors go on. Among notes one in four is of a slow tune, or
	// hands its rate on to the next, and lasts slowly on the mean. No length says
	// more than mostByLength nats.
	phrase, slowly, mostByLength = 0.7, 2.0, 8.0
	// A stretch that goes on beyond its end may be the next note or syllable of the
	// same pitch. One that stops may be a rotor that is pushed or braked from there
	// on, unless it keeps its rate, to within held shares per second, to the end.
	goingOn, stopping, holding, held = 1.0, 1.7, 3.5, 0.03
)

// keeping weighs the share c of the power of the lines that keeps its phase along
// a stretch of agility a, the rate of which holds for the share still of its time.
//
// Rotors whose rate holds keep nearly all of it, in rooms as well, and nine tenths
// or so in company; notes keep anything, as most begin or end within the stretch.
// While a rate changes, a room takes phases away from rotors too. A restless rotor
// could hardly have been seen to be restless were its lines not clean, unless it is pushed
// hard in a hall, where the echo is about as loud as the sound itself. Voices change their
// vowels: of 1200 restless stretches of voices and notes of 0.6 s and more half lost
// over a tenth, one in 40 less than 2.5 per cent and one in 150 less than 1.5; of 50
// that only swayed five lost less than four.
func keeping(c, a, still float64) float64 {
	const worst = 0.72 // worse ones are all alike
	c = math.Max(worst, math.Min(1, c))
	normal := func(mean, sd float64) float64 {
		x := (c - mean) / sd
		return math.Exp(-x*x/2) / sd
	}
	if a > restless {
		const loss, spread = 0.105, 0.75 // a normal distribution of the logarithm
		lost := math.Max(1e-3, 1-c)
		x := math.Log(lost/loss) / spread
		return math.Log((0.65*normal(1, 0.02) + 0.1*normal(0.91, 0.05) + 0.25*normal(0.8, 0.1)) /
			(0.99*math.Exp(-x*x/2)/(spread*lost) + 0.01*normal(1, 0.02)))
	}
	notes := 0.4
	if a > swaying {
		notes = 0.1
	}
	held := (0.75*normal(1, 0.02) + 0.20*normal(0.92, 0.06) + 0.05*normal(0.75, 0.12)) /
		(0.90*normal(0.83, 0.12) + 0.10*normal(0.98, 0.03))
	moving := (0.6*normal(1, 0.02) + 0.4*normal(0.85, 0.1)) /
		((1-notes)*normal(0.75, 0.15) + notes*normal(0.97, 0.03))
	return still*math.Log(held) + (1-still)*math.Log(moving)
}

// lasted weighs that a stretch was followed for so many seconds, for the share
// still of which its rate holds, as that of a long note does.
func lasted(seconds, still float64) float64 {
	brief := math.Exp(-seconds / phrase)
	long := 0.75*brief + 0.25*math.Exp(-seconds/slowly)
	return (1-still)*math.Min(mostByLength, seconds/phrase) + still*math.Min(mostByLength, -math.Log(long))
}

// soundingOn weighs that the lines of a stretch broke off n times while its rate
// held for so many seconds. Of rotors one in ten does it now and then, for a gain
// that is turned or for company; of notes two in three do, at any rate.
func soundingOn(n int, held float64) float64 {
	poisson := func(rate float64) float64 {
		x := rate * held
		return math.Exp(float64(n)*math.Log(x+1e-9) - x)
	}
	rotors := 0.9*poisson(0.01) + 0.1*poisson(0.15)
	others := 0.35 * poisson(0.02)
	for _, rate := range [...]float64{0.3, 0.8, 2} {
		others += 0.65 / 3 * poisson(rate)
	}
	return math.Max(-mostByBreaks, math.Log(rotors/others))
}

// stepping weighs that the rate of a stretch stepped n times. A push or a brake
// steps once in thirty recordings.
func stepping(n int) float64 {
	if n == 0 {
		return 0.1
	}
	return math.Max(-mostByBreaks, -1.5*float64(n))
}

// mostByBreaks is the most, in nats, that breaks or steps say.
const mostByBreaks = 9.0

// Regular knocks ring on for as long as one likes, at rates that sway from one to the
// next: the length of what is agile, from swaying on, and keeps less than ringing of
// its power in phase says mostByRinging nats at most. Of rotors so agile all but one in
// forty keep more.
const swaying, ringing, mostByRinging = 0.56, 0.85, 3.0

// So does a voice that goes on in pitch through its pauses: what swells by more than
// swelling decibels, where at least someVoices of what is as agile and no rotor are voices.
const swelling, someVoices = 3.0, 0.1

// keepsAlone is the share of the power of its lines that one of two rotors keeps in
// phase at least when it is followed without what sounds beside it: the blades of the
// other, or lines that cross, may take more from the one, but hardly from both. Any two
// stacks explain much of what several notes have in common; neither keeps as much.
const keepsAlone = 0.95

// odds weighs whether a stretch is a rotor's, in nats; ends is the evidence that
// it goes on beyond its ends.
func (s *stretch) odds(src *sound.Source, ends [2]float64) (float64, error) {
	went, err := s.continuity(src)
	if err != nil {
		return 0, err
	}
	from, to := s.times()
	s.still = math.Min(1, went.held/(to-from))
	a := s.agility()
	slow := s.takesTime(a)
	sum := lasted(to-from, s.still)
	if a > swaying && s.fit.Coherence < ringing {
		sum = math.Min(sum, mostByRinging+slow)
	}
	if voiceShare(a) > someVoices && went.swell > swelling {
		sum = math.Min(sum, mostByRinging)
	}
	sum -= caution
	sum += math.Min(restlessness(0), restlessness(a)+slow) + keeping(s.fit.Coherence, a, s.still)
	sum += soundingOn(went.breaks, went.held) + stepping(went.steps) + syllables(went.swell, a)
	for i, e := range ends {
		slope := s.slopeAtEnd(i) / held
		sum += math.Max(-stopping-holding*math.Exp(-slope*slope), math.Min(goingOn, e))
	}
	return sum, nil
}

// onlyRotors judges stretches anew as they are in the end, read as another multiple
// perhaps, or joined. It reports whether any was the hum of a supply.
func onlyRotors(src *sound.Source, in []*stretch) (out []*stretch, hum bool, err error) {
	nats := map[*stretch]float64{}
	for _, s := range in {
		if s.hums(src.Hum()) {
			hum = true
			continue
		}
		if s.tornByNotes() {
			continue
		}
		if s.partner != nil {
			if can, err := s.holdsApart(src); err != nil {
				return nil, false, err
			} else if !can {
				continue
			}
		}
		if nats[s], err = s.odds(s.in(src), [2]float64{}); err != nil {
			return nil, false, err
		}
	}
	for _, s := range in {
		n, judged := nats[s]
		if s.nextTo(in, func(o *stretch) bool { return nats[o] > beyondDoubt+caution }) {
			n += caution
		}
		if s.piece {
			n += caution
		}
		if judged && n >= -goingOn { // it may have gone on beyond both ends
			out = append(out, s)
		}
	}
	return out, hum, nil
}

// nextTo reports whether a stretch comes just after another, or before it, that is as
// asked: where a rotor was heard beyond doubt it takes no more caution to believe that
// it is heard again.
func (s *stretch) nextTo(among []*stretch, asked func(*stretch) bool) bool {
	from, to := s.times()
	return slices.ContainsFunc(among, func(o *stretch) bool {
		a, b := o.times()
		pause := math.Max(a-to, from-b)
		return o != s && pause > -handover && pause < joinSeconds && asked(o)
	})
}

// holdsApart reports whether a stretch that was followed without what sounds beside it can
// be a rotor's.
func (s *stretch) holdsApart(src *sound.Source) (bool, error) {
	odds, other, err := bothOdds(src, s, s.partner)
	return s.keepsBeside(s.partner, odds, other), err
}

// holdsRate reports whether a stretch is calm, and at one rate for most of its time, as
// rotors and notes may be and voices are not.
func (s *stretch) holdsRate() bool {
	return s.agility() < restless && s.still > 0.7
}

// amongNotes is the least odds, in nats, of a rotor that is heard among so many
// notes: the next note may look more like one.
func amongNotes(n int) float64 { return math.Log1p(2 * float64(n)) }

// slopeAtEnd returns by how much, relative and per second, the rate moves over the
// first (0) or the last (1) part of the stretch: one moment alone may be any, as
// unequal blades make a rate swing from pulse to pulse, and a push that begins amid
// the part may bring the rate back to where it was.
func (s *stretch) slopeAtEnd(end int) float64 {
	const part = 0.3 // seconds
	b, m := s.fit.Blocks, s.fit.Motion
	i, j := 0, len(m)-1
	if end == 0 {
		for j = 1; j < len(m)-1 && b[j].T < b[0].T+part; j++ {
		}
	} else {
		for i = len(m) - 2; i > 0 && b[i].T > b[len(b)-1].T-part; i-- {
		}
	}
	lo, hi := m[i].Omega, m[i].Omega
	for _, e := range m[i : j+1] {
		lo, hi = math.Min(lo, e.Omega), math.Max(hi, e.Omega)
	}
	return math.Log(hi/lo) / (b[j].T - b[i].T)
}

// leastShare is the share of a recording that a rotor must be heard for when
// voices or the like are heard too, as among many syllables some are calm; unless
// it is one by at least beyondDoubt nats.
const leastShare, beyondDoubt = 0.5, 2.0

// share returns the share of a recording that the stretches fill.
func share(in []*stretch, seconds float64) float64 {
	sum := 0.0
	for _, s := range in {
		from, to := s.times()
		sum += to - from
	}
	return sum / seconds
}

// mask takes out of the frames every candidate that belongs to the given
// course or to one of its simple multiples.
func mask(f *comb.Frames, c path.Course) {
	for i, s := range c.Steps {
		next := s.Moment + 1
		if i+1 < len(c.Steps) {
			next = c.Steps[i+1].Moment
		}
		for k := s.Moment; k < next && k < len(f.Moments); k++ {
			kept := f.Moments[k].States[:0]
			for _, q := range f.Moments[k].States {
				if !related(q.Rate / s.State.Rate) {
					kept = append(kept, q)
				}
			}
			f.Moments[k].States = kept
		}
	}
}

// related reports whether r is near a ratio of small whole numbers that the
// same sound could be read as.
func related(r float64) bool {
	for _, k := range [...]float64{1, 2, 3, 4, 0.5, 1.0 / 3, 0.25, 1.5, 2.0 / 3} {
		if math.Abs(r/k-1) < 0.05 {
			return true
		}
	}
	return false
}

// torn reports whether a family that nobody followed or asked for is hardly
// likelier than one at no simple ratio to it: then neither stack explains what is
// heard, as with knocks or with a few notes.
func (f *Family) torn() bool {
	for _, a := range f.Alternatives {
		if a.Odds < hardlyLikelier && !related(float64(a.Tone)/f.Tone.X) {
			return true
		}
	}
	return false
}

// hardlyLikelier are the odds below which a reading is hardly likelier than another.
const hardlyLikelier = 100

// tornByNotes is torn for a stretch that was followed where notes were refused, and that
// holds its rate as they do: what several of them have in common. Another rotor that was
// found beside it is not meant.
func (s *stretch) tornByNotes() bool {
	const few, holds = 2, 1.0 / 3
	return s.amidNotes >= few && s.still > holds && slices.ContainsFunc(s.alternatives, func(a Alternative) bool {
		return a.Odds < hardlyLikelier && !related(float64(a.Tone)) && !slices.Contains(s.others, a)
	})
}

func last(m []phase.Smooth) phase.Smooth { return m[len(m)-1] }
