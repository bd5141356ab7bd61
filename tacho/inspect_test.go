package tacho_test

import (
	"encoding/xml"
	"io"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// stack returns harmonics of rate with the given amplitudes, in white noise of
// standard deviation sigma.
func stack(t *testing.T, seed uint64, fs, seconds, rate, sigma float64, amps ...float64) *tacho.Recording {
	t.Helper()
	src := rand.New(rand.NewPCG(seed, 1))
	x := make([]float64, int(fs*seconds))
	phase := make([]float64, len(amps))
	for m := range phase {
		phase[m] = 2 * math.Pi * src.Float64()
	}
	for i := range x {
		x[i] = sigma * src.NormFloat64()
		for m, a := range amps {
			x[i] += a * math.Cos(2*math.Pi*float64(m+1)*rate*float64(i)/fs+phase[m])
		}
	}
	rec, err := tacho.NewRecording("stack", fs, x)
	if err != nil {
		t.Fatal(err)
	}
	return rec
}

// White noise of variance s² fills the band to fs/2 evenly: 2s²/fs (definition).
func TestFloorOfWhiteNoiseIsItsDensity(t *testing.T) {
	const fs, sigma = 8000.0, 0.05
	s, err := tacho.InspectFamily(stack(t, 3, fs, 2, 0, sigma), tacho.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if s.Family != nil || s.Reason == "" || s.Candidates[0].Evidence > s.Least {
		t.Errorf("noise is taken for %v: %s", s.Family, s)
	}
	want, mean := 2*sigma*sigma/fs, 0.0
	for k, v := range s.Floor[0] {
		if math.Abs(10*math.Log10(v/want)) > 1.5 {
			t.Fatalf("floor at %g Hz is %g, want %g: more than 1.5 dB off", s.Freqs()[k], v, want)
		}
		mean += v / float64(len(s.Floor[0]))
	}
	if math.Abs(mean/want-1) > 0.03 {
		t.Errorf("mean floor %g, want %g", mean, want)
	}
}

// The evidence is highest at the truth, and lower at its half, its double and
// its triple; what the fit leaves is the noise that was put in.
func TestSearchShowsWhyThisRate(t *testing.T) {
	const fs, rate, sigma = 8000.0, 113.7, 0.02
	rec := stack(t, 5, fs, 1.5, rate, sigma, 0.05, 0.1, 0.06, 0.03, 0.05)
	s, err := tacho.InspectFamily(rec, tacho.Options{})
	if err != nil || s.Family == nil {
		t.Fatalf("%v, %v", s, err)
	}
	direct, err := tacho.FindFamily(rec, tacho.Options{})
	if err != nil || !reflect.DeepEqual(direct, s.Family) {
		t.Errorf("inspected %v, found %v, %v", s.Family, direct, err)
	}
	best := 0
	for i, e := range s.Evidence {
		if e > s.Evidence[best] {
			best = i
		}
	}
	if f := float64(s.Rates[best]); math.Abs(f-rate) > 0.1/s.Seconds {
		t.Errorf("the evidence is highest at %g Hz, truth %g", f, rate)
	}
	if d := s.Evidence[best] - s.Candidates[0].Evidence; math.Abs(d) > 1 {
		t.Errorf("the curve and the best candidate differ by %g nats", d)
	}
	f := s.Candidates[0].Tone
	for _, ratio := range []tacho.Hertz{0.5, 1. / 3, 2, 3, 1.5} {
		if e := s.EvidenceAt(ratio * f); e > s.Candidates[0].Evidence-2 {
			t.Errorf("%g times the truth has evidence of %.1f nats, the truth %.1f", float64(ratio), e, s.Candidates[0].Evidence)
		}
	}
	for i, l := range s.Lines(f)[:7] {
		if there := i < 5; there != (l.Evidence > 0) || there != (l.Reach > 0.5) {
			t.Errorf("harmonic %d: evidence %.2f nats, reached with %.2f", l.M, l.Evidence, l.Reach)
		}
	}
	if rms := s.ResidualRMS[0]; math.Abs(rms/sigma-1) > 0.02 {
		t.Errorf("the fit leaves %g, the noise is %g", rms, sigma)
	}
	k := int(math.Round(rate / s.DF))
	if s.Density[0][k] < 100*s.Floor[0][k] || s.Residual[0][k] > 10*s.Floor[0][k] {
		t.Errorf("at the pulse tone: sound %g, floor %g, residual %g", s.Density[0][k], s.Floor[0][k], s.Residual[0][k])
	}
	for _, r := range []tacho.Hertz{0, -1, tacho.Hertz(math.NaN()), 4000, 1e9} {
		if s.Lines(r) != nil || !math.IsNaN(s.EvidenceAt(r)) {
			t.Errorf("lines at %v", r)
		}
	}
}

// A ramp is chained from candidates that are really there, along the truth; its
// phase fits within its noise; the amplitudes are those that were put in.
func TestInspectShowsThePath(t *testing.T) {
	rec, take := taken(t, synth.Scene{
		Rate: 16000, Seconds: 4, Seed: 21,
		Rotors: []synth.Rotor{{Pulses: 5, Profile: synth.Ramp(12, 22, 0.5, 3.5)}},
		Noise:  []synth.Noise{{SNR: 15}},
	})
	opt := tacho.Options{Pulses: 5}
	in, err := tacho.Inspect(rec, opt)
	if err != nil {
		t.Fatal(err)
	}
	track, err := tacho.Follow(rec, opt)
	if err != nil || !reflect.DeepEqual(track, in.Track) {
		t.Errorf("inspected %v, followed %v, %v", in.Track, track, err)
	}
	if len(in.Courses) == 0 || len(in.Fits) != 1 || len(in.Weighings) == 0 || in.Search != nil || in.Hum != 0 {
		t.Fatalf("%v", in)
	}
	kept := 0
	for _, c := range in.Courses {
		if c.Why == "" {
			t.Errorf("a course without a reason")
		}
		if !c.Kept {
			continue
		}
		kept++
		for i, at := range c.T {
			found := false
			for _, q := range in.At(at) {
				found = found || q.Tone == c.Tone[i]
			}
			truth := take.Truth.PulseRate(at)
			if !found || math.Abs(float64(c.Tone[i])/truth-1) > 0.03 {
				t.Fatalf("at %g s the course runs through %v (a candidate: %t), truth %g", at, c.Tone[i], found, truth)
			}
		}
	}
	if kept != 1 {
		t.Errorf("%d courses taken for a rotor", kept)
	}
	for i := 1; i < len(in.Candidates); i++ {
		if a, b := in.Candidates[i-1], in.Candidates[i]; b.T < a.T || b.T == a.T && b.Evidence > a.Evidence {
			t.Fatalf("candidates %v and %v are out of order", a, b)
		}
	}
	f := in.Fits[0]
	for i, at := range f.T {
		if truth := take.Truth.PulseRate(at); math.Abs(f.Tone[i]-truth) > 5*f.U[i]+1e-3*truth {
			t.Errorf("at %g s the phase turns at %g ± %g Hz, truth %g", at, f.Tone[i], f.U[i], truth)
		}
	}
	if z := f.ResidualRMS(); !(z > 0.6 && z < 1.1) {
		t.Errorf("residuals are %.2f times their uncertainty", z)
	}
}

// In a steady stack the residual phases scatter as stated, and amplitudes and noise
// are what was put in: a Hann block of n samples shows noise of variance s² as an
// amplitude of s·sqrt(6/n) (its noise bandwidth of 1.5 bins; Harris 1978, from
// memory).
func TestPhaseFitStatesWhatWasPutIn(t *testing.T) {
	const fs, rate, sigma, a = 8000.0, 90.0, 0.05, 0.1
	in, err := tacho.Inspect(stack(t, 8, fs, 6, rate, sigma, a, a/2, a/4), tacho.Options{Motion: tacho.Varying})
	if err != nil || len(in.Fits) != 1 {
		t.Fatalf("%v, %v", in, err)
	}
	f := in.Fits[0]
	if z := f.ResidualRMS(); !(z > 0.75 && z < 1) {
		t.Errorf("residuals are %.2f times their uncertainty, want about 0.87", z)
	}
	for m, want := range []float64{a, a / 2, a / 4} {
		var line, noise float64
		for i := range f.T {
			line += f.Amp[m][i] * f.Amp[m][i] / float64(len(f.T))
			noise += f.Noise[m][i] * f.Noise[m][i] / float64(len(f.T))
		}
		if math.Abs(math.Sqrt(line)/want-1) > 0.03 {
			t.Errorf("harmonic %d has amplitude %g, want %g", m+1, math.Sqrt(line), want)
		}
		n := f.Length[0] * fs
		if want := sigma * math.Sqrt(6/n); math.Abs(math.Sqrt(noise)/want-1) > 0.08 {
			t.Errorf("noise at harmonic %d reads %g, want %g", m+1, math.Sqrt(noise), want)
		}
	}
}

// Readings: the best first, their odds the difference of their evidence, and the
// lines at whole multiples of the best one.
func TestWeighingShowsTheMultiples(t *testing.T) {
	const rate = 64.0
	in, err := tacho.Inspect(stack(t, 13, 8000, 5, rate, 0.02, 0.02, 0.1, 0.05, 0.03), tacho.Options{Motion: tacho.Varying})
	if err != nil || len(in.Weighings) == 0 {
		t.Fatalf("%v, %v", in, err)
	}
	w := in.Weighings[0]
	if r := w.Readings[0]; r.Factor != "1" || r.Ratio != 1 || r.Odds != 1 || math.Abs(float64(r.Tone)-rate) > 0.05 {
		t.Errorf("the best reading is %+v", r)
	}
	factors := map[string]float64{}
	for i, r := range w.Readings[1:] {
		want := math.Exp(math.Min(40, w.Readings[0].Evidence-r.Evidence))
		if math.Abs(r.Odds/want-1) > 1e-9 || r.Evidence > w.Readings[i].Evidence || math.Abs(float64(r.Tone)/float64(w.Readings[0].Tone)-r.Ratio) > 1e-9 {
			t.Errorf("reading %d: %+v", i+1, r)
		}
		factors[r.Factor] = r.Odds
	}
	for _, factor := range []string{"1/2", "2", "3"} {
		if factors[factor] < 10 {
			t.Errorf("%s times the truth has odds of %g", factor, factors[factor])
		}
	}
	for _, a := range in.Track.Alternatives {
		if factors[a.Factor] != a.Odds {
			t.Errorf("the track says odds of %g for %s, the weighing %g", a.Odds, a.Factor, factors[a.Factor])
		}
	}
	for i, z := range w.Contrast {
		if x := w.Orders[i]; z > 10 && math.Abs(x-math.Round(x)) > 0.06 {
			t.Errorf("a line at %g times the rate", x)
		}
	}
	steady, err := tacho.Inspect(stack(t, 13, 8000, 2, rate, 0.02, 0.02, 0.1, 0.05, 0.03), tacho.Options{Motion: tacho.Steady})
	if err != nil || steady.Search == nil || steady.Search.Family != steady.Track.Steady || len(steady.Candidates) == 0 {
		t.Errorf("a motion said to be steady: %v, %v", steady, err)
	}
}

// What cannot be a rotor says why.
func TestInspectSaysWhyNot(t *testing.T) {
	rec, err := tacho.Open("../datasets/pier-at-night.wav")
	if err != nil {
		t.Fatal(err)
	}
	in, err := tacho.Inspect(rec, tacho.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if in.Track.Verdict != tacho.VerdictNoReading || len(in.Courses) == 0 || math.Abs(float64(in.Hum)-50) > 0.2 {
		t.Fatalf("%v", in)
	}
	for _, c := range in.Courses {
		if c.Kept || c.Why == "" {
			t.Errorf("%+v", c)
		}
	}
	if _, err := tacho.Inspect(nil, tacho.Options{}); err == nil {
		t.Error("nothing was inspected")
	}
	if _, err := tacho.InspectFamily(rec, tacho.Options{Pulses: -1}); err == nil {
		t.Error("a rotor of -1 pulses was inspected")
	}
}

func TestInspectionsShowThemselves(t *testing.T) {
	rec := stack(t, 13, 8000, 2, 64, 0.02, 0.02, 0.1, 0.05)
	in, err := tacho.Inspect(rec, tacho.Options{})
	if err != nil {
		t.Fatal(err)
	}
	s, err := tacho.InspectFamily(rec, tacho.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		text, html string
		holds      []string
	}{
		{in.String(), in.HTML(), []string{"steady", "moves like a thing with inertia", "<th scope=\"col\">restlessness (s^-2.5)</th>", "times the best", "phase followed through"}},
		{s.String(), s.HTML(), []string{"nats", "harmonic m", "64.0"}},
		{in.Weighings[0].String(), in.Weighings[0].HTML(), []string{"won of", "the best"}},
		{in.Fits[0].String(), in.Fits[0].String(), []string{"coherence"}},
	} {
		for _, want := range c.holds {
			if !strings.Contains(c.html, want) && !strings.Contains(c.text, want) {
				t.Errorf("%q is in neither\n%s\nnor\n%s", want, c.text, c.html)
			}
		}
		d := xml.NewDecoder(strings.NewReader("<div>" + c.html + "</div>"))
		for {
			if _, err := d.Token(); err == io.EOF {
				break
			} else if err != nil {
				t.Fatalf("not well formed: %v\n%s", err, c.html)
			}
		}
	}
}
