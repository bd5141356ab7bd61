// Command live examines the live follower on recordings with known truth, fed to
// it as a microphone would, and prints a line for every kind of them:
//
//	go run ./scripts/live -class trial,no-rotor -draws 20
//
// "heard" is the share of the time with sound above a thirtieth of its loudest in
// which a speed is shown, "false" the share of the rest; "onset" the median time
// from the beginning of that sound to the first number; "wrong" the share of
// shown speeds more than 3 % off; "holds" the share of the others whose 95 %
// interval holds the speed of that very moment; "error" their median; "lag" the
// median time by which the numbers trail. "peaks" counts the trials in which the
// highest speed agrees with that of the whole recording, within the intervals of
// both, and "truth" those in which its interval holds the true one. "load" is the processor time per second of sound.
package main

import (
	"flag"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"syscall"

	"rotorhum/scripts/accuracy/exam"
	"rotorhum/tacho"
	"rotorhum/tacho/listen/live"
	"rotorhum/tacho/synth"
)

func main() {
	classes := flag.String("class", "trial,ramp,coverage,no-rotor", "classes of scripts/accuracy, with commas")
	draws := flag.Int("draws", 20, "recordings of each class")
	seed := flag.Uint64("seed", 1, "seed of all draws")
	longest := flag.Float64("longest", 20, "leave out recordings longer than this many seconds")
	offline := flag.Bool("offline", false, "measure the whole recordings as well, to compare the peaks")
	each := flag.Bool("each", false, "print every recording")
	trace := flag.Bool("trace", false, "print every reading beside the truth")
	only := flag.Int("draw", -1, "this draw only")
	flag.Parse()
	fmt.Printf("%-22s %4s %6s %6s %6s %6s %6s %8s %6s %7s %7s %6s\n", "", "n", "heard", "false", "onset", "wrong", "holds", "error", "lag", "peaks", "truth", "load")
	for _, c := range exam.Classes() {
		if !slices.Contains(strings.Split(*classes, ","), c.Name) {
			continue
		}
		groups := map[string]*tally{}
		var names []string
		list := exam.Brief(c, *seed, *draws, *longest)
		if *only >= 0 {
			list = []int{*only}
		}
		for _, i := range list {
			k := c.Case(*seed, i)
			one := &tally{}
			if err := examine(k, one, *offline, *each, *trace); err != nil {
				fmt.Fprintln(os.Stderr, "live:", c.Name, i, err)
				os.Exit(1)
			}
			if *each {
				one.print(fmt.Sprintf("  %s %d %s", c.Name, i, k.Group))
			}
			for _, g := range []string{c.Name, "  " + k.Group} {
				if groups[g] == nil {
					groups[g] = &tally{}
					names = append(names, g)
				}
				groups[g].join(one)
			}
		}
		slices.Sort(names[1:])
		for _, g := range names {
			groups[g].print(g)
		}
	}
}

// tally is what was seen of one or more recordings.
type tally struct {
	n                              int
	sounding, heard, quiet, ghosts int // readings
	shown, wrong, holds            int
	errors, lags, onsets           []float64
	peaks, agree, tops, hold       int
	load, seconds                  float64
}

func (t *tally) join(o *tally) {
	t.n += o.n
	t.sounding += o.sounding
	t.heard += o.heard
	t.quiet += o.quiet
	t.ghosts += o.ghosts
	t.shown += o.shown
	t.wrong += o.wrong
	t.holds += o.holds
	t.errors = append(t.errors, o.errors...)
	t.lags = append(t.lags, o.lags...)
	t.onsets = append(t.onsets, o.onsets...)
	t.peaks += o.peaks
	t.agree += o.agree
	t.tops += o.tops
	t.hold += o.hold
	t.load += o.load
	t.seconds += o.seconds
}

func (t *tally) print(name string) {
	share := func(a, b int) float64 { return 100 * float64(a) / float64(b) }
	fmt.Printf("%-22s %4d %6.1f %6.1f %6.2f %6.2f %6.1f %8.5f %6.3f %3d/%-3d %3d/%-3d %6.3f\n", name, t.n, share(t.heard, t.sounding), share(t.ghosts, t.quiet),
		median(t.onsets), share(t.wrong, t.shown), share(t.holds, t.shown-t.wrong), median(t.errors), median(t.lags), t.agree, t.peaks, t.hold, t.tops, t.load/t.seconds)
}

func median(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	x = slices.Sorted(slices.Values(x))
	return x[len(x)/2]
}

func examine(k exam.Case, t *tally, offline, each, trace bool) error {
	take, err := k.Scene.Make()
	if err != nil {
		return err
	}
	x := make([]float32, len(take.Samples[0]))
	for i, v := range take.Samples[0] {
		x[i] = float32(v)
	}
	f, err := live.New(float64(take.Rate), k.Options)
	if err != nil {
		return err
	}
	t.n = 1
	begun := processor()
	var all []live.Reading
	const block = 1031
	for len(x) > 0 {
		n := min(block, len(x))
		all = append(all, f.Push(x[:n])...)
		x = x[n:]
	}
	t.load, t.seconds = processor()-begun, take.Seconds()
	truth := func(at float64) float64 {
		if k.Silent {
			return 0
		}
		return take.Truth.PulseRate(math.Max(0, at))
	}
	since := -1.0
	var shown []live.Reading
	for _, r := range all {
		sounds := !k.Silent && take.Truth.Sounds(r.At) && truth(r.At) > 1.05*float64(max(20, k.Options.Range.Lo))
		if trace {
			fmt.Printf("%7.3f truth %9.3f  %v\n", r.At, truth(r.At), text(r))
		}
		if !sounds {
			since = -1
			if k.Silent || !soundedLately(take, r.At) {
				t.quiet++
				if r.Heard {
					t.ghosts++
				}
			}
			continue
		}
		if since == -1 {
			since = r.At
		}
		t.sounding++
		if !r.Heard {
			continue
		}
		t.heard++
		if since >= 0 {
			t.onsets = append(t.onsets, r.At-since)
			since = -2
		}
		t.shown++
		e := r.Tone.X/truth(r.At) - 1
		if math.Abs(e) > 0.03 {
			t.wrong++
			continue
		}
		shown = append(shown, r)
		t.errors = append(t.errors, math.Abs(e))
		if lo, hi := r.Tone.CI95(); lo <= truth(r.At) && truth(r.At) <= hi {
			t.holds++
		}
	}
	if len(shown) > 20 && !take.Truth.Steady {
		best, lag := math.Inf(1), 0.0
		for d := -0.1; d <= 0.3; d += 0.005 {
			sum := 0.0
			for _, r := range shown {
				sum += math.Abs(r.Tone.X - truth(r.At-d))
			}
			if sum < best {
				best, lag = sum, d
			}
		}
		t.lags = append(t.lags, lag)
	}
	if k.Silent {
		return nil
	}
	top, ok := f.Highest()
	if peak := truth(take.Truth.PeakTime); ok && math.Abs(top.Tone.X/peak-1) < 0.03 {
		t.tops++
		if lo, hi := top.Tone.CI95(); lo <= peak && peak <= hi {
			t.hold++
		} else if each {
			fmt.Printf("highest %v at %.3f s, truth %.4f at %.3f\n", top.Tone, top.T, peak, take.Truth.PeakTime)
		}
	}
	if !offline {
		return nil
	}
	rec, err := tacho.NewRecording("trial", float64(take.Rate), take.Samples[0])
	if err != nil {
		return err
	}
	track, err := tacho.Follow(rec, k.Options)
	if err != nil {
		return err
	}
	if p, err := track.Peak(); err == nil && ok {
		t.peaks++
		lo, hi := top.Tone.CI95()
		plo, phi := p.Tone.CI95()
		agree := lo <= phi && plo <= hi
		if agree {
			t.agree++
		}
		if trace || each && !agree {
			fmt.Printf("highest %v at %.3f; whole recording %v at %.3f; truth %.4f at %.3f\n", top.Tone, top.T, p.Tone, p.T, truth(take.Truth.PeakTime), take.Truth.PeakTime)
		}
	}
	return nil
}

// processor returns the processor time that this program has taken, in seconds.
func processor() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return math.NaN()
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e9
}

// soundedLately reports whether the rotor was heard within the last half second.
func soundedLately(take *synth.Take, at float64) bool {
	for d := 0.0; d < 0.5; d += 0.05 {
		if at > d && take.Truth.Level(at-d) > 0.003 {
			return true
		}
	}
	return false
}

func text(r live.Reading) string {
	if !r.Heard {
		return r.Why
	}
	return fmt.Sprintf("%9.3f ± %.3f  %5.1f dB", r.Tone.X, r.Tone.U(), r.SNR)
}
