package tacho

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// describe fills the track from refined stretches of a recording with samples tick
// seconds apart.
func (t *Track) describe(in []*stretch, tick float64, opt Options) (err error) {
	t.Verdict = VerdictVarying
	t.Points = t.Points[:0]
	for k, s := range in {
		if !s.held() {
			s.fit.Calm()
		}
		from, to := s.reach(t.Seconds)
		for i := int(math.Ceil(from / trackStep)); float64(i)*trackStep <= to+1e-9; i++ {
			at := float64(i) * trackStep
			hz, u, snr := s.at(at)
			if u > vague*hz || covered(in, k, at, u/hz, t.Seconds) {
				continue
			}
			lo, hi := opt.interval(hz, math.Hypot(u*s.calm(at), s.late(at)))
			t.Points = append(t.Points, TrackPoint{T: at, Tone: Hertz(hz), Lo95: lo, Hi95: hi, SNR: 10 * math.Log10(math.Max(snr, 1e-3))})
		}
	}
	slices.SortStableFunc(t.Points, func(a, b TrackPoint) int { return cmp.Compare(a.T, b.T) })
	if t.peak, err = findPeak(in, tick, t.Seconds, opt); err != nil {
		return err
	}
	best := mostEvident(in)
	for _, a := range best.alternatives {
		a.Tone *= Hertz(t.peak.Tone.X)
		t.Alternatives = append(t.Alternatives, a)
	}
	if best.balanced {
		t.Warnings = append(t.Warnings, fmt.Sprintf("the sound speaks nearly as much for %s times this speed", t.Alternatives[0].Factor))
	}
	t.Top = topFamily(in, t.peak, opt)
	return nil
}

// mostEvident returns the stretch with the most evidence.
func mostEvident(in []*stretch) *stretch {
	return slices.MaxFunc(in, func(a, b *stretch) int { return cmp.Compare(a.evidence, b.evidence) })
}

// vague is the relative standard uncertainty beyond which a rate is no reading: its
// interval reaches a twentieth of it to either side.
const vague = 0.025

// covered reports whether another stretch than the k-th knows the rate at t better
// than with the relative standard uncertainty u: where two meet, they may overlap.
func covered(in []*stretch, k int, t, u, seconds float64) bool {
	for j := max(0, k-1); j < min(len(in), k+2); j++ {
		if j == k {
			continue
		}
		if from, to := in[j].reach(seconds); t < from || t > to {
			continue
		}
		if hz, v, _ := in[j].at(t); v/hz < u || v/hz == u && j < k {
			return true
		}
	}
	return false
}

// warnOfEdges says so where the peak lies at an end of what was heard.
func (t *Track) warnOfEdges(in []*stretch) {
	for _, s := range in {
		from, to := s.reach(t.Seconds)
		switch {
		case math.Abs(t.peak.T-from) < trackStep:
			t.Warnings = append(t.Warnings, "the speed is highest where the rotor is first heard: it may have been higher before")
		case math.Abs(t.peak.T-to) < trackStep:
			t.Warnings = append(t.Warnings, "the speed is highest where the rotor is last heard: it may have been higher after")
		}
	}
}

// topFamily returns the lines around the peak.
func topFamily(in []*stretch, peak *PeakSpeed, opt Options) *Family {
	for _, s := range in {
		from, to := s.times()
		if peak.T < from-0.1 || peak.T > to+0.1 {
			continue
		}
		f := &Family{Tone: peak.Tone, Seconds: to - from}
		for m, l := range s.lines(peak.T, 0.25) {
			if l.power > 3 {
				f.Lines = append(f.Lines, Harmonic{M: float64(m + 1), Freq: Hertz(float64(m+1) * peak.Tone.X),
					Amp: l.amp, SNR: 10 * math.Log10(l.power)})
			}
		}
		return f
	}
	return nil
}

// strength is one harmonic of a stretch around a moment.
type strength struct{ amp, power float64 }

// lines returns the strength of every harmonic within reach seconds of t.
func (s *stretch) lines(t, reach float64) []strength {
	var out []strength
	for m := range s.fit.Lines {
		var p, n, k float64
		for i, b := range s.fit.Blocks {
			if math.Abs(b.T-t) > reach {
				continue
			}
			v := s.fit.Strength(i, m)
			p += v.Amp2
			n += v.Clear
			k++
		}
		if k == 0 {
			out = append(out, strength{})
			continue
		}
		out = append(out, strength{math.Sqrt(math.Max(0, p/k)), n / k})
	}
	return out
}

// steadyWander is the relative wander (rms) up to which a speed counts as
// steady although the sound shows that it wanders.
const steadyWander = 0.001

// settle turns a varying track into a steady one where one speed explains the
// whole recording as well, or, if it was said that one does, what is heard of it.
func (t *Track) settle(in []*stretch, src *sound.Source, opt Options) error {
	if len(in) != 1 {
		return nil
	}
	s := in[0]
	from, to := s.times()
	told := opt.Motion == Steady
	if !told && to-from < 0.8*t.Seconds-0.4 {
		return nil
	}
	m, wander, steady := s.steady()
	if !steady && wander > steadyWander {
		return nil
	}
	if !told {
		if gone, err := s.goneAtEdge(src, m.Omega/(2*math.Pi)); err != nil || gone {
			return err
		}
	}
	// a family takes the noise of each line for its own, which a jitter of the pulses is not
	if steady && s.alone == nil && s.fit.Jitter == 0 && src.Seconds() <= familySeconds {
		if f, err := findFamily(src, 0, src.Frames, opt); err == nil {
			rate := Hertz(m.Omega / (2 * math.Pi))
			same := alikeTone(Hertz(f.Tone.X), rate)
			if same {
				f.Alternatives = t.Alternatives
			}
			// of faint lines the whole recording at once tells more than frames of it
			known := oddsOf(t.Alternatives, Hertz(f.Tone.X))
			if same || f.LogOdds < loudFamily && known > 0 && oddsOf(f.Alternatives, rate) > known {
				t.setSteady(f, 0, opt)
				return nil
			}
		}
	}
	u := math.Sqrt(m.OmegaVar)
	if steady {
		wander = 0
	} else {
		// the mean of a speed that wanders slowly, one independent look a second
		u = math.Hypot(u, wander*m.Omega/math.Sqrt(math.Max(1, to-from)))
		t.Warnings = append(t.Warnings, fmt.Sprintf("the speed wanders by %.2g %% (rms) about its mean", 100*wander))
	}
	f := &Family{Tone: opt.tone(m.Omega/(2*math.Pi), u/(2*math.Pi)), Seconds: to - from, Alternatives: t.Alternatives, LogOdds: s.evidence}
	if t.Top != nil {
		for _, l := range t.Top.Lines {
			l.Freq = Hertz(l.M * f.Tone.X)
			f.Lines = append(f.Lines, l)
		}
	}
	t.setSteady(f, wander, opt)
	return nil
}

// alikeTone reports whether two rates are the same to within a hundredth.
func alikeTone(a, b Hertz) bool { return math.Abs(float64(a/b)-1) < 0.01 }

// oddsOf returns how many times less likely a rate is than the reading that has these
// alternatives, and 0 if it is none of them.
func oddsOf(alternatives []Alternative, rate Hertz) float64 {
	for _, a := range alternatives {
		if alikeTone(a.Tone, rate) {
			return a.Odds
		}
	}
	return 0
}

// steady returns the motion of a stretch if its rate is taken to be the same all the
// time, by how much the rate wanders about that (rms, relative), and whether that is no
// more than what is not known of it.
func (s *stretch) steady() (m phase.Smooth, wander float64, steady bool) {
	m = s.fit.Steady()
	for _, e := range s.fit.Motion {
		wander += (e.Omega/m.Omega - 1) * (e.Omega/m.Omega - 1)
	}
	return m, math.Sqrt(wander / float64(len(s.fit.Motion))), s.held()
}

// held reports whether a rate that is the same all the time explains the phases as well.
func (s *stretch) held() bool { return s.fit.Like-s.fit.LikeSteady <= 4 }
