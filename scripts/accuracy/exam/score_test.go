package exam

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// TestClassesDraw: every class draws scenes that can be made and kept as JSON,
// the same ones for the same seed and others for another.
func TestClassesDraw(t *testing.T) {
	for _, c := range Classes() {
		if c.Short >= c.Draws {
			t.Errorf("%s: a short exam has %d draws, a whole one %d", c.Name, c.Short, c.Draws)
		}
		texts := map[string]int{}
		for i := range 120 {
			k := c.Case(5, i)
			text, err := json.Marshal(k.Scene)
			if err != nil {
				t.Fatalf("%s draw %d: %v", c.Name, i, err)
			}
			if _, err := synth.ReadScene(strings.NewReader(string(text))); err != nil {
				t.Errorf("%s draw %d (%s): %v", c.Name, i, k.Group, err)
			}
			if again, _ := json.Marshal(c.Case(5, i).Scene); string(again) != string(text) {
				t.Errorf("%s draw %d differs the second time:\n%s\n%s", c.Name, i, text, again)
			}
			if other, _ := json.Marshal(c.Case(6, i).Scene); string(other) == string(text) {
				t.Errorf("%s draw %d is the same for another seed", c.Name, i)
			}
			if j, twice := texts[string(text)]; twice {
				t.Errorf("%s draws %d and %d are the same", c.Name, i, j)
			}
			texts[string(text)] = i
			if k.Silent != (len(k.Scene.Rotors) == 0) {
				t.Errorf("%s draw %d: silent %v with %d rotors", c.Name, i, k.Silent, len(k.Scene.Rotors))
			}
			if k.Scene.Seconds < 1 || k.Scene.Seconds > 25 {
				t.Errorf("%s draw %d lasts %g s", c.Name, i, k.Scene.Seconds)
			}
		}
	}
}

// upAndDown makes a take of ten seconds: at rest, up to 20 rev/s, and back to rest.
func upAndDown(t *testing.T) (Case, *synth.Take) {
	t.Helper()
	k := Case{Scene: synth.Scene{
		Rate: 8000, Seconds: 10,
		Rotors: []synth.Rotor{{Pulses: 5, Harmonics: []float64{1, 0.5}, Profile: synth.Through(
			synth.Point{T: 1, Speed: 0}, synth.Point{T: 4, Speed: 20}, synth.Point{T: 9, Speed: 0})}},
		Noise: []synth.Noise{synth.White(20)},
	}}
	take, err := k.Scene.Make()
	if err != nil {
		t.Fatal(err)
	}
	return k, take
}

// reading makes a track that reads factor times the truth, u relative uncertainty,
// from one moment to another.
func reading(take *synth.Take, from, to, factor, u float64) *tacho.Track {
	track := &tacho.Track{Verdict: tacho.VerdictVarying, Step: 0.02, Seconds: take.Seconds()}
	for i := int(math.Ceil(from / 0.02)); float64(i)*0.02 < to; i++ {
		at := float64(i) * 0.02
		f := factor * take.Truth.PulseRate(at)
		if f == 0 {
			f = 30 // something else
		}
		track.Points = append(track.Points, tacho.TrackPoint{T: at, Tone: tacho.Hertz(f),
			Lo95: tacho.Hertz(f * (1 - 1.96*u)), Hi95: tacho.Hertz(f * (1 + 1.96*u))})
	}
	return track
}

func TestJudgeTrack(t *testing.T) {
	k, take := upAndDown(t)
	for _, c := range []struct {
		name            string
		track           *tacho.Track
		result          Result
		gross, standing int // points
		holds           float64
		instead         string
	}{
		{"right", reading(take, 2, 8, 1.0005, 0.001), Right, 0, 0, 1, ""},
		{"right, interval too narrow", reading(take, 2, 8, 1.0005, 0.0001), Right, 0, 0, 0, ""},
		{"half", reading(take, 2, 8, 0.5, 0.001), Wrong, 300, 0, 0, "1/2"},
		{"third harmonic", reading(take, 2, 8, 3, 0.001), Wrong, 300, 0, 0, "3"},
		{"nothing in tune", reading(take, 2, 8, 0.87, 0.001), Wrong, 300, 0, 0, "0.87"},
		{"goes on at rest", reading(take, 2, 9.5, 1, 0.001), Right, 0, 25, 1, ""},
		{"nothing", &tacho.Track{Verdict: tacho.VerdictNoReading}, Missed, 0, 0, 0, ""},
	} {
		o := judge(k, take, c.track)
		if o.Result != c.result || o.Instead != c.instead {
			t.Errorf("%s: result %s %q, want %s %q", c.name, o.Result, o.Instead, c.result, c.instead)
		}
		if c.result == Missed {
			continue
		}
		s := o.Track
		if s.Gross != c.gross || s.Standstill != c.standing || math.Abs(float64(s.Holding)/float64(s.Points)-c.holds) > 0.02 {
			t.Errorf("%s: %d gross, %d at rest, %d of %d hold; want %d, %d, a share of %g", c.name, s.Gross, s.Standstill, s.Holding, s.Points, c.gross, c.standing, c.holds)
		}
	}
	silent := k
	silent.Silent = true
	if o := judge(silent, take, reading(take, 2, 8, 1, 0.001)); o.Result != False {
		t.Errorf("a reading where nothing turns is %s, want false", o.Result)
	}
}

// TestMoment: a top has one moment if it is neither held nor reached again.
func TestMoment(t *testing.T) {
	for _, c := range []struct {
		name    string
		profile synth.Profile
		want    bool
	}{
		{"run-up that is held", synth.Ramp(5, 20, 1, 3), false},
		{"run-up to the very end", synth.Ramp(5, 20, 1, 9), true},
		{"one hill", synth.Through(synth.Point{T: 0, Speed: 5}, synth.Point{T: 5, Speed: 20}, synth.Point{T: 10, Speed: 5}), true},
		{"a long, flat hill", synth.Steady(10).Wobbling(synth.Wow{Rate: 0.1, Depth: 0.002}), true},
		{"swings", synth.Steady(10).Wobbling(synth.Wow{Rate: 1, Depth: 0.05}), false},
		{"two hills, one higher", synth.Through(synth.Point{T: 0, Speed: 5}, synth.Point{T: 3, Speed: 20}, synth.Point{T: 6, Speed: 5}, synth.Point{T: 8, Speed: 20.01}, synth.Point{T: 10, Speed: 5}), true},
	} {
		take, err := synth.Scene{Rate: 1000, Seconds: 10, Rotors: []synth.Rotor{{Pulses: 1, Profile: c.profile}}}.Make()
		if err != nil {
			t.Fatal(err)
		}
		if got := moment(take.Truth, 10); got != c.want {
			t.Errorf("%s: one moment %v, want %v", c.name, got, c.want)
		}
	}
}

// TestSummarise: the numbers of a row are those of its outcomes.
func TestSummarise(t *testing.T) {
	speed := func(err, bound float64) *Estimate {
		return &Estimate{Value: 100 + err, Lo: 100 + err - 1.959964*bound, Hi: 100 + err + 1.959964*bound, Truth: 100, Bound: bound}
	}
	out := []Outcome{
		{Group: "a", Result: Right, Speed: speed(0.3, 0.1), Track: &TrackScore{Points: 10, Holding: 0, Sounding: 1, Covered: 1}},
		{Group: "a", Result: Right, Speed: speed(-0.1, 0.1), Track: &TrackScore{Points: 10, Holding: 10, Sounding: 1, Covered: 1}},
		{Group: "a", Result: Missed},
		{Group: "b", Result: Wrong, Speed: speed(50, 0.1), Track: &TrackScore{Points: 10, Sounding: 1, GrossTime: 1}},
	}
	rows := Summarise(out)
	if len(rows) != 4 || rows[2].Group != "all" || rows[3].Group != "right ones" {
		t.Fatalf("%d rows: want a, b, all, right ones", len(rows))
	}
	a := rows[0]
	near(t, "error over bound", a.Ratio, math.Sqrt(5), 1e-9)
	near(t, "RMS error in per cent", a.RMS, math.Sqrt(0.05), 1e-9)
	near(t, "share of held speeds", a.CoverSpeed, 50, 1e-9)
	near(t, "width over bound", a.Width, 1, 1e-6)
	near(t, "looseness", a.Loose, 0.6745/2, 1e-4)
	if a.Right != 2 || a.Missed != 1 || rows[1].Wrong != 1 || rows[3].N != 2 {
		t.Errorf("counts %+v", rows)
	}
	near(t, "gross share of all", rows[2].Gross, 100.0/3, 1e-9)
}
