package interp_test

import (
	"runtime"
	"strings"
	"testing"
	"time"

	"rotorhum/kernel/bindings"
	"rotorhum/kernel/interp"
	"rotorhum/kernel/show/player"
)

// An interrupt ends every long call of tacho inside it, though the cells name no
// context: the error that the call returned is kept and says so. Each call has
// work for several seconds and is interrupted as soon as it has begun.
func TestInterruptEndsCallsOfTacho(t *testing.T) {
	needsInterrupt(t)
	in, err := interp.New(interp.Options{Readers: bindings.Readers, Render: player.Render})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(in.Close)
	b := &bench{in, t}
	b.must(`import ("rotorhum/tacho"; "rotorhum/tacho/synth"; "rotorhum/tacho/figure"; "context")
var e error
kept := 42
scene := synth.Scene{Rate: 16000, Seconds: 60, Rotors: []synth.Rotor{{Pulses: 5, Profile: synth.CoastDown(30, synth.Friction{Viscous: 0.02})}}, Noise: []synth.Noise{{SNR: 20}}}
take := must(scene.Make())
rec := must(tacho.NewRecording("minute", 16000, take.Samples...))
track := must(tacho.Follow(must(rec.Slice(0, 6)), tacho.Options{Pulses: 5}))
rotor := tacho.Rotor{Pulses: 5}
scene.Seconds = 7200
fine := tacho.SpectrogramOptions{Hop: 4, Band: tacho.Range{Lo: 100, Hi: 600}}
x := tacho.Measured(1, 0.1, "m", "ruler")
same := func(v []float64) float64 { return v[0] }`)
	before := runtime.NumGoroutine()
	for _, call := range []string{
		"tacho.Measure(rec, rotor, tacho.Options{})",
		"tacho.Follow(rec, tacho.Options{Pulses: 5})",
		"rec.Spectrum(tacho.SpectrumOptions{Len: 16384, Overlap: 0.999})",
		"rec.Spectrogram(fine)",
		"tacho.FindBeat(track, rotor, tacho.BeatSteady, 0.5, 20000)",
		"scene.Make()",
	} {
		_, o := b.runInterrupted("_, e = " + call)
		if o.Fault == nil || o.Fault.Name != "Interrupted" {
			t.Errorf("%s\nfault = %v, want Interrupted", call, o.Fault)
		}
		if got := b.must("e.Error()"); !strings.Contains(got, "context canceled") {
			t.Errorf("%s\nreturned %s, want the error of its context", call, got)
		}
	}
	// these return no error, or call back into the cell and end there
	for _, call := range []string{
		"tacho.MonteCarlo(\"m\", same, 100_000_000, 1, x)",
		"_ = synth.Sawtooth(20, 44100, 10_000_000)",
		"for { figure.Waveform(rec) }",
		"for { tacho.FitCoastDown(track, rotor, 0, 0) }",
		"for { display(rec) }",
	} {
		if _, o := b.runInterrupted(call); o.Fault == nil || o.Fault.Name != "Interrupted" {
			t.Errorf("%s\nfault = %v, want Interrupted", call, o.Fault)
		}
	}
	// what takes no context is not called again, however short the loop; one call takes
	// far longer than the interrupt needs to come
	b.must("calls := 0\nslow := synth.Scene{Rate: 8000, Seconds: 400, Rotors: scene.Rotors}\nopt := synth.Watch{Context: context.Background()}")
	if _, o := b.runInterrupted("for {\n\tslow.MakeWith(opt)\n\tcalls++\n}"); o.Fault == nil || o.Fault.Name != "Interrupted" {
		t.Errorf("fault = %v, want Interrupted", o.Fault)
	}
	if got := b.must("calls"); got != "0" && got != "1" {
		t.Errorf("%s calls after the first interrupt", got)
	}
	if got := b.must("kept"); got != "42" {
		t.Errorf("kept is %s", got)
	}
	for range 1000 { // those that have done their work may still be ending
		if runtime.NumGoroutine() <= before {
			return
		}
		time.Sleep(time.Millisecond)
	}
	t.Errorf("%d goroutines before, %d after", before, runtime.NumGoroutine())
}
