package live

import (
	"math"
	"strings"
	"testing"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// setup checks a synthetic room.
func setup(t *testing.T, s synth.Scene, opt tacho.Options) *Setup {
	t.Helper()
	if s.Rate == 0 {
		s.Rate = 48000
	}
	if s.Seconds == 0 {
		s.Seconds = 3
	}
	s.Bits = 16
	take, err := s.Make()
	if err != nil {
		t.Fatal(err)
	}
	rec, err := tacho.NewRecording("room", float64(take.Rate), take.Samples...)
	if err != nil {
		t.Fatal(err)
	}
	got, err := Check(rec, opt)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// bad lists what a check wants changed.
func bad(s *Setup) string {
	var out []string
	for _, f := range s.Findings {
		if !f.Good {
			out = append(out, f.About)
		}
		if f.Good == (f.Do != "") {
			out = append(out, f.About+" says good and what to do")
		}
	}
	return strings.Join(out, ", ")
}

// club is the club's room on a quiet evening: without a rotor the noise has the
// power of a sound of RMS 0.1 less the SNR.
func club(snr float64) synth.Scene {
	return synth.Scene{Seed: 3, Noise: []synth.Noise{{SNR: snr, Slope: -3}, {SNR: snr + 10}}}
}

func TestCheckFindsWhatIsWrongInARoom(t *testing.T) {
	whirligig := tacho.Options{Pulses: 5, Range: tacho.Range{Lo: 30, Hi: 400}}
	telephone := club(25)
	telephone.Codec = &synth.Codec{Low: 300, High: 3400}
	cut := club(25)
	cut.Microphone = &synth.Microphone{HighPass: 200, Order: 4}
	hum := club(35)
	hum.Mains = []synth.Mains{{Hz: 50.02, LevelDB: -25}}
	slow := club(25)
	slow.Rate = 8000
	far := club(75)
	loud := club(0)
	clipping := club(25)
	clipping.Clip = 0.01
	clipping.Peak = 1
	gated := club(25)
	gated.Dropouts = &synth.Dropouts{PerSecond: 2, Seconds: 0.2}
	turning := club(25)
	turning.Rotors = []synth.Rotor{{Pulses: 5, Profile: synth.Steady(17.3), Level: 0.05}}
	for _, c := range []struct {
		name string
		room synth.Scene
		want string
	}{
		{"quiet room", club(30), ""},
		{"rotor", turning, ""},
		{"telephone", telephone, "high sounds, low sounds"},
		{"cut of low sounds", cut, "low sounds"},
		{"mains", hum, "mains hum"},
		{"8 kHz", slow, "sampling rate"},
		{"far away", far, "level"},
		{"loud room", loud, "noise, rotor"},
		{"clipped", clipping, "level, noise, rotor"},
		{"noise gate", gated, "sound"},
		{"nothing", synth.Scene{}, "sound"},
	} {
		s := setup(t, c.room, whirligig)
		if got := bad(s); got != c.want {
			t.Errorf("%s: to be changed: %q, want %q\n%v", c.name, got, c.want, s)
		} else {
			t.Logf("%s\n%v", c.name, s)
		}
		if s.OK() != (c.want == "") {
			t.Errorf("%s: OK says %v", c.name, s.OK())
		}
	}
}

func TestCheckMeasuresWhatIsThere(t *testing.T) {
	room := club(40)
	room.Mains = []synth.Mains{{Hz: 60.01, LevelDB: -20}}
	room.Microphone = &synth.Microphone{HighPass: 120, Order: 4}
	room.Mains[0].Electronic = true
	s := setup(t, room, tacho.Options{})
	// a sound of RMS 0.1 lies 17 dB below a sine of full scale, whose RMS is 0.707
	if math.Abs(float64(s.Hum)-60.01) > 0.02 || math.Abs(s.HumLevel+37) > 1.5 {
		t.Errorf("hum of %v at %.1f dB, want 60.01 Hz at -37", s.Hum, s.HumLevel)
	}
	if s.Low < 60 || s.Low > 240 {
		t.Errorf("low sounds arrive from %v, want about 120 Hz", s.Low)
	}
	turning := club(30)
	turning.Rotors = []synth.Rotor{{Pulses: 12, Profile: synth.Steady(17.5), Level: 0.1}}
	s = setup(t, turning, tacho.Options{Pulses: 12})
	if s.Speed == nil {
		t.Fatalf("a rotor 30 dB above the noise is not heard:\n%v", s)
	}
	if lo, hi := s.Speed.CI95(); lo > 17.5 || hi < 17.5 {
		t.Errorf("speed %v to %v, want 17.5 rev/s", lo, hi)
	}
}

func TestCheckRefuses(t *testing.T) {
	if _, err := Check(nil, tacho.Options{}); err == nil {
		t.Error("no recording is no error")
	}
	rec, err := tacho.NewRecording("short", 8000, make([]float64, 8000))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Check(rec, tacho.Options{}); err == nil || !strings.Contains(err.Error(), "at least 2 s") {
		t.Errorf("one second: %v, want to be told that two are needed", err)
	}
	if _, err := Check(rec, tacho.Options{Pulses: -1}); err == nil {
		t.Error("minus one pulse is no error")
	}
}
