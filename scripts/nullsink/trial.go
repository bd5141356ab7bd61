package main

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"syscall"
	"time"

	"rotorhum/tacho"
	"rotorhum/tacho/listen"
)

var rotor = tacho.Rotor{Name: "five-vane whirligig", Pulses: 5}

// figures are what one trial came to.
type figures struct {
	number     int
	seconds    float64
	live, full tacho.Value // highest speeds, rev/s
	agree      bool        // within their intervals
	holds      bool        // the live interval holds the true peak
	fullHolds  bool        // that of the full measurement does
	lag        float64     // s
	load       float64     // share of one core
	lost       float64     // s, kept or followed not
	readings   int
	how        string
}

func (f figures) String() string {
	word := "no"
	if !f.agree {
		word = "YES"
	}
	return fmt.Sprintf("%-5d %-26s %6.2f s %16s %18s  %-6s %5.0f ms %5.0f %% %5.0f s %6d", f.number+1, f.how, f.seconds,
		f.live.Rounded(), f.full.Rounded(), word, 1000*f.lag, 100*f.load, f.lost, f.readings)
}

// moment is a reading and when it was known.
type moment struct {
	at, speed float64
	heard     bool
	known     time.Time
}

// listenTo listens to the sink's monitor for so many seconds while play plays into
// it; during, if not nil, runs at the same time.
func listenTo(play func() error, path string, seconds float64, during func()) (*listen.Result, []moment, float64, error) {
	var moments []moment
	played := make(chan error, 1)
	var began time.Time
	var before float64
	heard, err := listen.Listen(path, listen.Settings{
		Live: true, Source: listen.Microphone(sink), Seconds: seconds, Rotor: rotor,
		Watch: func(st *listen.State) {
			if moments == nil { // the device delivers
				began, before = time.Now(), busy()
				go func() { played <- play() }()
				if during != nil {
					go during()
				}
			}
			moments = append(moments, moment{st.Reading.At, st.Reading.Speed.X, st.Reading.Heard, time.Now()})
		},
		Show: func(picture any) { // as the kernel shows it
			if v, ok := picture.(interface{ PNG() ([]byte, error) }); ok {
				v.PNG()
			}
		},
	})
	load := (busy() - before) / time.Since(began).Seconds()
	if err != nil {
		return nil, nil, 0, err
	}
	return heard, moments, load, <-played
}

// busy returns the processor time that this process has used, in seconds.
func busy() float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano()).Seconds()
}

// oneTrial plays trial number and listens to it.
func oneTrial(number int, path string) (f figures, err error) {
	s, err := makeSound(number)
	if err != nil {
		return f, err
	}
	var p player
	heard, moments, load, err := listenTo(func() error { return p.play(s) }, path, s.seconds()+2.5, nil)
	if err != nil {
		return f, err
	}
	if heard.Trouble != "" || heard.Ended != listen.EndedPlanned {
		return f, fmt.Errorf("ended %q, trouble %q", heard.Ended, heard.Trouble)
	}
	offset, err := unchanged(s, heard.Recording)
	if err != nil {
		return f, err
	}
	m, err := tacho.Measure(heard.Recording, rotor, tacho.Options{})
	if err != nil {
		return f, err
	}
	a, err := heard.Against(m)
	if err != nil {
		return f, err
	}
	f = figures{number: number, seconds: heard.Seconds, live: a.Live, full: a.Full, agree: a.Agree, load: load,
		lost: heard.Lost + heard.Skipped, readings: heard.Readings, how: fmt.Sprint(heard.Format)}
	f.lag = lag(s, moments, offset)
	f.holds, f.fullHolds = holds(a.Live, s.truth.PeakSpeed), holds(a.Full, s.truth.PeakSpeed)
	switch {
	case f.lost > 0:
		return f, fmt.Errorf("%.3f s were lost, %.3f s not followed", heard.Lost, heard.Skipped)
	case !f.agree:
		return f, errors.New(a.String())
	case f.readings < int(10*f.seconds):
		return f, fmt.Errorf("%d readings in %.1f s: fewer than ten a second", f.readings, f.seconds)
	}
	return f, nil
}

// holds reports whether the interval of a speed holds x.
func holds(v tacho.Value, x float64) bool {
	lo, hi := v.CI95()
	return lo <= x && x <= hi
}

// unchanged finds the sound in the recording, which must hold every sample of it
// as it was played. It returns at which sample it begins.
func unchanged(s *sound, rec *tacho.Recording) (offset int, err error) {
	got := integers(rec)
	if offset = begins(s, got); offset < 0 {
		return 0, errors.New("the beginning of the sound is not in the kept file as it was played")
	}
	if offset+len(s.samples) > len(got) {
		return 0, fmt.Errorf("only %d samples of %d were kept", len(got)-offset, len(s.samples))
	}
	for i, v := range s.samples {
		if got[offset+i] != v {
			return 0, fmt.Errorf("sample %d of %d, at %.3f s, was kept as %d and played as %d: something was lost", i, len(s.samples), float64(i)/sinkRate, got[offset+i], v)
		}
	}
	return offset, nil
}

// integers returns the samples of a recording as they were stored.
func integers(rec *tacho.Recording) []int16 {
	x := rec.Channel(1)
	got := make([]int16, len(x))
	for i, v := range x {
		got[i] = int16(math.Round(32768 * v))
	}
	return got
}

// begins returns where the sound begins, or -1.
func begins(s *sound, got []int16) int {
	const key = 480 // samples that are looked for
	for at := 0; at+key <= len(got); at++ {
		if slices.Equal(got[at:at+key], s.samples[:key]) {
			return at
		}
	}
	return -1
}

// delay measures how long it takes from a sample to its number, in seconds: a trial
// is played piece by piece, and the moment at which each was handed to the sound
// server is compared with the moment at which the reading that ends with it was
// known, in the middle and in 95 of 100 readings. What the sound server itself holds
// back is counted, so the truth is a little better.
func delay(path string) (median, most float64, err error) {
	s, err := makeSound(2)
	if err != nil {
		return 0, 0, err
	}
	var p player
	heard, moments, _, err := listenTo(func() error { return p.playPaced(s) }, path, s.seconds()+1, nil)
	if err != nil {
		return 0, 0, err
	}
	got := integers(heard.Recording)
	offset := begins(s, got)
	if offset < 0 {
		return 0, 0, errors.New("the beginning of the sound is not in the kept file as it was played")
	}
	var all []float64
	for _, m := range moments {
		// Where the player was late, the server has put silence between: look which
		// sample this one is.
		const key = 240
		at := int(math.Round(m.at * sinkRate))
		i := at - offset
		for i >= key && i > at-offset-sinkRate && (i > len(s.samples) || !slices.Equal(got[at-key:at], s.samples[i-key:i])) {
			i--
		}
		if w, ok := p.when(i - 1); ok && i >= key && i > at-offset-sinkRate {
			all = append(all, m.known.Sub(w).Seconds())
		}
	}
	if len(all) < 20 {
		return 0, 0, fmt.Errorf("only %d readings could be placed", len(all))
	}
	sort.Float64s(all)
	return all[len(all)/2], all[len(all)*95/100], nil
}

// lag returns by how much the speeds that were followed come late, on the way up:
// the shift in time with which they fit the true speeds best.
func lag(s *sound, moments []moment, offset int) float64 {
	best, least := math.NaN(), math.Inf(1)
	for shift := -0.1; shift < 0.5; shift += 0.002 {
		sum, n := 0.0, 0
		for _, m := range moments {
			t := m.at - float64(offset)/sinkRate - shift
			if !m.heard || t < 0.02 || t > s.seconds()-0.02 {
				continue
			}
			now := s.truth.Speed(t)
			if rise := s.truth.Speed(t+0.01) - s.truth.Speed(t-0.01); rise < 0.02*1.5 || math.Abs(m.speed/now-1) > 0.3 {
				continue // not on the way up, or another reading altogether
			}
			sum += (m.speed/now - 1) * (m.speed/now - 1)
			n++
		}
		if n > 10 && sum/float64(n) < least {
			best, least = shift, sum/float64(n)
		}
	}
	return best
}
