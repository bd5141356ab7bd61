package synth_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"rotorhum/tacho/synth"
)

func TestTruthFindsThePeak(t *testing.T) {
	// A parabola with its top at pi seconds: 10 - (t - pi)².
	top := func(t float64) float64 { return math.Max(0, 10-(t-math.Pi)*(t-math.Pi)) }
	take := mustMake(t, synth.Scene{Rate: 2000, Seconds: 8, Rotors: []synth.Rotor{{Pulses: 2, Speed: top}}})
	tr := take.Truth
	// A maximum can be placed to the root of the rounding of its value: 1e-7 s.
	if math.Abs(tr.PeakTime-math.Pi) > 1e-6 || math.Abs(tr.PeakSpeed-10) > 1e-9 || tr.MinSpeed != 0 || tr.Steady {
		t.Errorf("peak %v rev/s at %v s, lowest %v, steady %v; want 10 at pi, 0, false", tr.PeakSpeed, tr.PeakTime, tr.MinSpeed, tr.Steady)
	}
	rest := math.Pi + math.Sqrt(10)
	if s := tr.Standstill; len(s) != 1 || math.Abs(s[0].From-rest) > 1e-4 || s[0].To != 8 {
		t.Errorf("standstill %v, want from %v to 8", s, rest)
	}
	// Turns: the integral from 0 to rest.
	want := 10*rest - (math.Pow(rest-math.Pi, 3)+math.Pow(math.Pi, 3))/3
	if math.Abs(tr.Turns-want) > 1e-5 { // trapezoids of 1 ms: h²/12 of the slope's change
		t.Errorf("turns %v, want %v", tr.Turns, want)
	}
	if got, want := tr.PulseRate(2), 2*top(2); got != want {
		t.Errorf("PulseRate(2) = %v, want %v", got, want)
	}
	for _, p := range tr.Track(0.5, 8) {
		if p.Speed != tr.Speed(p.T) {
			t.Errorf("track at %v s: %v, want %v", p.T, p.Speed, tr.Speed(p.T))
		}
	}
	if n := len(tr.Track(0.01, 8)); n != 801 {
		t.Errorf("a track every 10 ms of 8 s has %d points, want 801", n)
	}
}

func TestTruthKnowsWhenItSounds(t *testing.T) {
	// From rest to 10 rev/s in a second, constant, and back to rest, with
	// amplitude growing as the speed: within 30 dB above 0.3162 rev/s.
	take := mustMake(t, synth.Scene{Rate: 2000, Seconds: 6, Rotors: []synth.Rotor{{Pulses: 2, Growth: 1,
		Profile: synth.Profile{Kind: synth.KindTrial, Pushes: nil, Speed: 10, Friction: synth.Friction{Coulomb: 2}}}}})
	s := take.Truth.Sounding
	if want := 5 - 0.31622776/2; len(s) != 1 || s[0].From != 0 || math.Abs(s[0].To-want) > 1e-5 {
		t.Errorf("sounding %v, want from 0 to %v", s, want)
	}
	if !take.Truth.Sounds(1) || take.Truth.Sounds(5.5) {
		t.Error("Sounds disagrees with Sounding")
	}
}

func TestNoRotorNoTruth(t *testing.T) {
	take := mustMake(t, synth.Scene{Rate: 8000, Seconds: 0.5})
	if tr := take.Truth; tr.Pulses != 0 || tr.Speed(0.1) != 0 || tr.Sounds(0.1) || tr.Level(0.1) != 0 {
		t.Errorf("truth without a rotor: %+v", tr)
	}
	for _, v := range take.Samples[0] {
		if v != 0 {
			t.Fatal("an empty scene is not silent")
		}
	}
}

// What is written as JSON must say the same as the methods.
func TestTruthAsJSONIsConsistent(t *testing.T) {
	scene := synth.Scene{Rate: 8000, Seconds: 5, Seed: 6, Rotors: []synth.Rotor{{
		Name: "seven-tooth card wheel", Pulses: 7, TipRadius: 0.045, Growth: 1, GainSpread: 0.1,
		Profile: synth.Trial(synth.Friction{Coulomb: 3}, synth.Push{Start: 1, Seconds: 1, Accel: 8}),
	}}}
	take := mustMake(t, scene)
	text, err := json.Marshal(take.Truth)
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Name       string           `json:"name"`
		Pulses     int              `json:"pulses_per_rev"`
		Radius     float64          `json:"tip_radius_m"`
		Peak       float64          `json:"peak_rev_per_s"`
		PeakT      float64          `json:"peak_t_s"`
		Sounding   []synth.Interval `json:"sounding"`
		Standstill []synth.Interval `json:"standstill"`
		Lines      []synth.Line     `json:"lines"`
	}
	if err := json.Unmarshal(text, &got); err != nil {
		t.Fatal(err)
	}
	tr := take.Truth
	if got.Name != tr.Name || got.Pulses != 7 || got.Radius != 0.045 || got.Peak != tr.PeakSpeed || got.PeakT != tr.PeakTime {
		t.Errorf("JSON says %+v, truth %+v", got, tr)
	}
	if math.Abs(tr.Speed(got.PeakT)-got.Peak) > 1e-12 {
		t.Errorf("the speed at the peak's time is %v, the peak %v", tr.Speed(got.PeakT), got.Peak)
	}
	if len(got.Standstill) != 2 || len(got.Sounding) != 1 || got.Standstill[0].To > got.Sounding[0].From || got.Sounding[0].To > got.Standstill[1].From {
		t.Errorf("intervals do not fit: sounding %v, standstill %v", got.Sounding, got.Standstill)
	}
	if len(got.Lines) != len(tr.Lines) || len(got.Lines) == 0 {
		t.Errorf("%d lines in JSON, %d in the truth", len(got.Lines), len(tr.Lines))
	}
}

func TestSceneSurvivesJSON(t *testing.T) {
	scene := synth.Scene{
		Title: "all of it", Rate: 8000, Seconds: 2, Seed: 11, ClockPPM: 20,
		Rotors: []synth.Rotor{
			{Pulses: 5, Profile: synth.Ramp(3, 20, 0.2, 1).Wobbling(synth.Wow{Rate: 2, Depth: 0.01}), PulseWidth: 0.1, GainSpread: 0.1, Growth: 2, Jet: &synth.Jet{LevelDB: -6, Depth: 0.5}, Beat: &synth.Beat{Depth: 0.1, Rate: 1}, Waver: 1},
			{Pulses: 4, Profile: synth.Through(synth.Point{T: 0, Speed: 5}, synth.Point{T: 2, Speed: 9}), Harmonics: []float64{1, 0.5}, RandomPhases: true, LevelDB: -3},
		},
		Voices: []synth.Voice{{LevelDB: -5}}, Music: []synth.Music{{LevelDB: -10, Plucked: true}}, Clicks: []synth.Clicks{{PerSecond: 2}},
		Room: &synth.Room{RT60: 0.4, Direct: 3}, Noise: []synth.Noise{synth.Pink(10)}, Mains: []synth.Mains{{Hz: 50, LevelDB: -9}},
		Channels: []synth.Channel{{}, {Delay: 0.0003, Gain: -3, Inverted: true}}, Microphone: &synth.Microphone{HighPass: 80},
		GainControl: &synth.GainControl{Strength: 0.4}, Clip: 0.01, Dropouts: &synth.Dropouts{PerSecond: 1, Seconds: 0.01},
		Codec: &synth.Codec{High: 3400, Companded: true}, Peak: 0.8, Bits: 16,
	}
	text, err := json.Marshal(scene)
	if err != nil {
		t.Fatal(err)
	}
	read, err := synth.ReadScene(strings.NewReader(string(text)))
	if err != nil {
		t.Fatal(err)
	}
	a, b := mustMake(t, scene), mustMake(t, read)
	for c := range a.Samples {
		for i, v := range a.Samples[c] {
			if v != b.Samples[c][i] {
				t.Fatalf("channel %d, sample %d: %v before, %v after a trip through JSON", c, i, v, b.Samples[c][i])
			}
			if math.IsNaN(v) || math.Abs(v) > 1 {
				t.Fatalf("channel %d, sample %d is %v", c, i, v)
			}
		}
	}
}

func TestPartsDrawIndependently(t *testing.T) {
	scene := synth.Scene{Rate: 8000, Seconds: 1, Seed: 3, Noise: []synth.Noise{synth.White(0)}}
	noise := mustMake(t, scene).Samples[0]
	scene.Voices = []synth.Voice{{}}
	scene.Clicks = []synth.Clicks{{PerSecond: 5}}
	both := mustMake(t, scene).Samples[0]
	scene.Noise = nil
	voice := mustMake(t, scene).Samples[0]
	for i := range noise {
		if math.Abs(noise[i]+voice[i]-both[i]) > 1e-12 {
			t.Fatalf("adding a voice changed the noise at sample %d", i)
		}
	}
	scene.Seed = 4
	other := mustMake(t, scene).Samples[0]
	same := true
	for i := range voice {
		same = same && voice[i] == other[i]
	}
	if same {
		t.Error("another seed gives the same voice")
	}
}

func TestScenesRefuseNonsense(t *testing.T) {
	good := `{"rate_hz": 8000, "seconds": 1, "rotors": [{"pulses_per_rev": 5, "profile": {"kind": "steady", "rev_per_s": 10}}]}`
	if _, err := synth.ReadScene(strings.NewReader(good)); err != nil {
		t.Fatal(err)
	}
	cases := map[string]struct{ text, says string }{
		"empty":               {``, "line 1"},
		"not JSON":            {"{\n\"rate_hz\": 8000,\n\"seconds\": }", "line 3"},
		"unknown field":       {`{"rate": 8000}`, "rate"},
		"wrong type":          {"{\"rate_hz\": 8000,\n\"seconds\": \"long\"}", "line 2"},
		"two scenes":          {good + good, "after the end"},
		"no rate":             {`{"seconds": 1}`, "rate_hz"},
		"no length":           {`{"rate_hz": 8000}`, "seconds"},
		"too long":            {`{"rate_hz": 48000, "seconds": 1e9}`, "seconds"},
		"no pulses":           {`{"rate_hz": 8000, "seconds": 1, "rotors": [{"profile": {"kind": "steady"}}]}`, "pulses_per_rev"},
		"no profile":          {`{"rate_hz": 8000, "seconds": 1, "rotors": [{"pulses_per_rev": 5}]}`, "rotor 1"},
		"negative harmonic":   {`{"rate_hz": 8000, "seconds": 1, "rotors": [{"pulses_per_rev": 5, "profile": {"kind": "steady"}, "harmonics": [-1]}]}`, "harmonic 1"},
		"blades miscounted":   {`{"rate_hz": 8000, "seconds": 1, "rotors": [{"pulses_per_rev": 5, "profile": {"kind": "steady"}, "blade_gains": [1, 1]}]}`, "5 blades"},
		"noise band reversed": {`{"rate_hz": 8000, "seconds": 1, "noise": [{"snr_db": 1, "low_hz": 900, "high_hz": 100}]}`, "noise 1"},
		"microphone too high": {`{"rate_hz": 8000, "seconds": 1, "microphone": {"low_pass_hz": 5000}}`, "microphone"},
		"clip everything":     {`{"rate_hz": 8000, "seconds": 1, "clip": 1}`, "clip"},
		"room of no size":     {`{"rate_hz": 8000, "seconds": 1, "room": {"rt60_s": 0}}`, "rt60_s"},
		"one bit":             {`{"rate_hz": 8000, "seconds": 1, "bits": 1}`, "bits"},
		"bad voice":           {`{"rate_hz": 8000, "seconds": 1, "voices": [{"level_db": 0, "pitch_hz": 5}]}`, "voice 1"},
		"bad mains":           {`{"rate_hz": 8000, "seconds": 1, "mains": [{"level_db": 0}]}`, "mains 1"},
		"dropout reversed":    {`{"rate_hz": 8000, "seconds": 1, "dropouts": {"at": [{"from_s": 2, "to_s": 1}]}}`, "interval 1"},
		"steps in disorder":   {`{"rate_hz": 8000, "seconds": 1, "gain_control": {"steps": [{"t_s": 2}, {"t_s": 1}]}}`, "step 2"},
		"beat too deep":       {`{"rate_hz": 8000, "seconds": 1, "rotors": [{"pulses_per_rev": 5, "profile": {"kind": "steady"}, "beat": {"depth": 2}}]}`, "beat"},
		"jet too deep":        {`{"rate_hz": 8000, "seconds": 1, "rotors": [{"pulses_per_rev": 5, "profile": {"kind": "steady"}, "jet": {"level_db": 0, "depth": 2}}]}`, "jet"},
	}
	for name, c := range cases {
		scene, err := synth.ReadScene(strings.NewReader(c.text))
		if err == nil {
			_, err = scene.Make()
		}
		if err == nil {
			t.Errorf("%s: accepted", name)
		} else if !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: error %q does not mention %q", name, err, c.says)
		}
	}
	for name, speed := range map[string]float64{"NaN": math.NaN(), "negative": -1, "infinite": math.Inf(1)} {
		_, err := synth.Scene{Rate: 8000, Seconds: 1, Rotors: []synth.Rotor{{Pulses: 1, Speed: func(float64) float64 { return speed }}}}.Make()
		if err == nil || !strings.Contains(err.Error(), "0.000 s") {
			t.Errorf("a speed function that returns %s: error %v", name, err)
		}
	}
}
