package tacho

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// Of a rotor that coasts down for three seconds and one that hums on for six the one with
// more energy is meant: ten times the power for half the time is more, as much power less.
func TestWhatGivesMoreSoundIsMeant(t *testing.T) {
	const fs, seconds, from, to = 16000.0, 6.0, 1.5, 4.5
	hums := func(float64) float64 { return 263 }
	coasts := func(t float64) float64 { return 217 * math.Exp(-0.3*(t-from)) }
	for _, power := range []float64{0.1, 0.01} {
		r := rand.New(rand.NewPCG(9, 9))
		x := make([]float64, int(seconds*fs))
		stack(r, x, fs, hums, 0.01, 0)
		stack(r, x[int(from*fs):int(to*fs)], fs, func(t float64) float64 { return coasts(t + from) }, power, 0)
		for i := range x {
			x[i] += 0.01 * r.NormFloat64()
		}
		src := sampled(t, fs, x)
		followed := func(rate func(t float64) float64, from, to, evidence float64) *stretch {
			return traced(t, src, rate, from, to, evidence)
		}
		long, brief := followed(hums, 0, seconds, 300), followed(coasts, from, to, 100)
		want := long
		if power > 0.01 {
			want = brief
		}
		out, err := (&finder{src: src}).apart([]*stretch{long, brief}, []*stretch{brief}, 0)
		if err != nil || len(out) != 1 || out[0] != want {
			t.Errorf("power %g: %d stretches are kept (%v), want the one with more energy", power, len(out), err)
		}
	}
}

// traced follows a rate in src between two times.
func traced(t *testing.T, src *sound.Source, rate func(t float64) float64, from, to, evidence float64) *stretch {
	t.Helper()
	var course phase.Course
	for at := from; at <= to; at += 0.02 {
		course.Add(at, rate(at), 1e-3)
	}
	s, err := refineCourse(src, course, 1e-3, Options{})
	if err != nil || s == nil {
		t.Fatalf("not followed: %v", err)
	}
	s.evidence = evidence
	return s
}

// A rotor that was followed in two pieces and is half as loud again as one that hums on
// gives more sound in all, though neither piece does; one that is half as loud gives less.
func TestPiecesGiveSoundTogether(t *testing.T) {
	const fs, seconds, pause = 16000.0, 6.0, 0.3
	hums := func(float64) float64 { return 263 }
	coasts := func(t float64) float64 { return 217 * math.Exp(-0.08*t) }
	for _, power := range []float64{0.015, 0.005} {
		r := rand.New(rand.NewPCG(9, 10))
		x := make([]float64, int(seconds*fs))
		stack(r, x, fs, hums, 0.01, 0)
		stack(r, x, fs, coasts, power, 0)
		for i := range x {
			x[i] += 0.01 * r.NormFloat64()
		}
		src := sampled(t, fs, x)
		long := traced(t, src, hums, 0, seconds, 300)
		pieces := []*stretch{traced(t, src, coasts, 0, (seconds-pause)/2, 100), traced(t, src, coasts, (seconds+pause)/2, seconds, 90)}
		want := []*stretch{long}
		if power > 0.01 {
			want = pieces
		}
		out, err := (&finder{src: src}).apart([]*stretch{long, pieces[0], pieces[1]}, pieces, 0)
		if err != nil || !slices.Equal(out, want) {
			t.Errorf("power %g: %d stretches are kept (%v), not those with more energy", power, len(out), err)
		}
	}
}
