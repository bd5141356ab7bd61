package tacho

import (
	"math"
	"math/rand/v2"
	"sort"
)

// PeakSpeed is the highest pulse rate of a recording and its moment.
type PeakSpeed struct {
	// T is the moment in seconds from the start, TLo95 and THi95 its interval.
	T, TLo95, THi95 float64
	// Tone is the pulse rate, with the contributions "tone" and "clock".
	Tone Value
}

// Peak returns the highest speed of the track and its moment, estimated from
// the model fitted around the top and not from the largest of many noisy
// points, which would be too high. It returns ErrNoReading if the track has no
// points.
func (t *Track) Peak() (*PeakSpeed, error) {
	if t.peak == nil {
		return nil, ErrNoReading
	}
	p := *t.peak
	return &p, nil
}

// peakDraws is the number of equally likely courses whose tops are compared.
const peakDraws = 400

// findPeak returns the highest rate of all stretches and its moment. Unless it is
// held, every stretch that comes near the top is drawn many times from what is known
// of it, and the moment of the top of every draw is one possible truth.
//
// No moment is known better than to tick, the time between samples, even that of
// an end of the recording.
func findPeak(in []*stretch, tick, seconds float64, opt Options) (*PeakSpeed, error) {
	if h := findHeldTop(in, seconds); h != nil {
		return h.peak(tick, seconds, opt), nil
	}
	reached, _, _ := surelyReached(in)
	top := make([]float64, peakDraws)
	when := make([]float64, peakDraws)
	for k, s := range in {
		src := rand.New(rand.NewPCG(20, uint64(k)))
		first, end := s.reach(seconds)
		runs := s.fit.Parts(s.nearTop(reached))
		if len(runs) == 0 {
			continue
		}
		for r, draws := range s.fit.Sample(runs, peakDraws, src) {
			from, to := runs[r][0], runs[r][1]
			d := 0
			for draw := range draws {
				if err := opt.stopped(); err != nil {
					return nil, err
				}
				// a rate at t, which stands for so many seconds around it
				see := func(omega, t, around float64) {
					if omega > top[d] {
						top[d], when[d] = omega, t+around*(src.Float64()-0.5)
					}
				}
				if from == 0 { // to the edge of the recording
					see(draw[0].Omega+draw[0].Alpha*(first-s.fit.Blocks[0].T), first, 0)
				}
				if k := len(draw) - 1; to == len(s.fit.Blocks) {
					see(draw[k].Omega+draw[k].Alpha*(end-s.fit.Blocks[to-1].T), end, 0)
				}
				for i := 1; i < len(draw); i++ {
					a, b := draw[i-1], draw[i]
					t0 := s.fit.Blocks[from+i-1].T
					h := s.fit.Blocks[from+i].T - t0
					const part = 0.25
					for u := 0.0; u < 1; u += part {
						see(hermite(u, a.Omega, b.Omega, h*a.Alpha, h*b.Alpha), t0+u*h, part*h)
					}
				}
				d++
			}
		}
	}
	sort.Float64s(when)
	q := func(p float64) float64 {
		f := p * float64(len(when)-1)
		i := min(int(f), len(when)-2)
		return when[i] + (f-float64(i))*(when[i+1]-when[i])
	}
	summit := findSummit(in, tick, seconds)
	either, more := summit.unheard(in, seconds)
	return &PeakSpeed{
		T:     q(0.5),
		TLo95: math.Max(0, q(0.025)-tick-either), THi95: math.Min(seconds, q(0.975)+either) + tick,
		Tone: opt.tone(summit.hz, math.Hypot(summit.u, math.Hypot(more, summit.late))),
	}, nil
}

// nearTop returns the runs of blocks, from and to, that may reach the rate that is
// surely reached, with some more on either side: what lies far apart is drawn apart.
func (s *stretch) nearTop(reached float64) (runs [][2]int) {
	const more = 12
	m := s.fit.Motion
	for i := range m {
		if m[i].Omega+5*math.Sqrt(m[i].OmegaVar) <= reached {
			continue
		}
		from, to := max(0, i-more), min(len(m), i+more+1)
		if n := len(runs); n > 0 && from <= runs[n-1][1] {
			runs[n-1][1] = to
		} else {
			runs = append(runs, [2]int{from, to})
		}
	}
	return runs
}

// summit is the highest part of all stretches: the rate there and its standard
// uncertainties in hertz, and from when to when the rate comes within one standard
// uncertainty of the highest without a break.
type summit struct {
	hz, u    float64
	late     float64 // by how much a rate may have been higher for a hall that makes it late
	in       *stretch
	from, to float64
}

// unheardSeconds is by how much, as a standard uncertainty, a rotor may have gone on as
// before beyond where it is first or last heard, or have done so only up to some way
// before that, as frames last and a room rings on.
const unheardSeconds = 0.05

// unheard returns by how much further, to either side, the moment of the top may lie,
// and by how much more the rate may differ, where the summit is at an end of what is
// heard of a rotor, and no end of the recording: a push may have ended in the midst of
// a louder sound.
func (p summit) unheard(in []*stretch, seconds float64) (either, hz float64) {
	const step = 0.004
	heard := func(t float64) bool {
		for _, s := range in {
			if from, to := s.reach(seconds); t >= from && t <= to {
				return true
			}
		}
		return t < 0 || t > seconds
	}
	from, to := p.in.reach(seconds)
	for i, t := range [...]float64{from, to} {
		out := float64(2*i - 1)
		if math.Abs(p.from-t) > step && math.Abs(p.to-t) > step || heard(t+2*out*step) {
			continue
		}
		a, _, _ := p.in.at(t)
		b, _, _ := p.in.at(t - 10*out*step)
		if rise := (a - b) / (10 * step); rise > 0 {
			either, hz = 2*unheardSeconds, rise*unheardSeconds
		}
	}
	return either, hz
}

// findSummit finds the summit.
//
// The highest of many points that each are uncertain is too high. The one with
// the highest lower end of its standard uncertainty is looked for, so that ill-known
// points do not win by chance, and all points above that end could be the top: their
// mean is taken, by weight, which on a plateau has no such bias. On a rounded top
// the mean of that cap lies a third of the uncertainty below the summit; half
// of that is added, as the kind of top is not known.
func findSummit(in []*stretch, tick, seconds float64) (top summit) {
	const step = 0.004
	each := func(see func(s *stretch, t, hz, u float64, edge bool)) {
		for _, s := range in {
			from, to := s.reach(seconds)
			n := int((to-from)/step + 1e-9)
			for i := 0; i <= n; i++ {
				t := from + float64(i)*step
				f, u, _ := s.at(t)
				see(s, t, f, u, i == 0)
			}
			f, u, _ := s.at(to)
			see(s, to, f, u, true)
		}
	}
	atEdge, best, reached := false, 0.0, 0.0
	each(func(s *stretch, t, f, u float64, edge bool) {
		if f-u > best {
			best, top, atEdge = f-u, summit{hz: f, u: u, in: s, from: t, to: t}, edge
		}
		reached = math.Max(reached, f+s.late(t))
	})
	defer func() { top.late = math.Max(0, reached-top.hz) }()
	if atEdge {
		// where the sound begins or ends is no choice among many, but known to a
		// sample only
		a, _, _ := top.in.at(top.from - step)
		b, _, _ := top.in.at(top.from + step)
		top.u = math.Hypot(top.u, (b-a)/(2*step)*tick)
		return top
	}
	sum, weight := 0.0, 0.0
	at, begun := top.from, top.from // the highest; where the run above the floor began
	above := false
	each(func(s *stretch, t, f, u float64, _ bool) {
		if f < best {
			above = false
			return
		}
		sum += f / (u * u)
		weight += 1 / (u * u)
		if !above {
			begun, above = t, true
		}
		if s == top.in && begun <= at && t >= at {
			top.from, top.to = begun, t
		}
	})
	top.hz = sum/weight + top.u/6
	return top
}
