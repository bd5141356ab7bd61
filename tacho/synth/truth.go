package synth

import (
	"fmt"
	"math"
)

// Truth is what is known exactly about a rotor in a recording. Times are those
// of the file: seconds since the first sample at the stated rate.
type Truth struct {
	Name string `json:"name,omitempty"`
	// Pulses is z, the number of pulses per revolution.
	Pulses int `json:"pulses_per_rev"`
	// TipRadius in metres, 0 where the scene does not say.
	TipRadius float64 `json:"tip_radius_m,omitempty"`
	// PeakSpeed, in rev/s, is the highest speed in the recording and PeakTime, in
	// seconds, the first time it is reached; MinSpeed is the lowest.
	PeakSpeed float64 `json:"peak_rev_per_s"`
	PeakTime  float64 `json:"peak_t_s"`
	MinSpeed  float64 `json:"min_rev_per_s"`
	// Steady reports whether the speed is the same throughout.
	Steady bool `json:"steady"`
	// Turns is the number of revolutions in the whole recording.
	Turns float64 `json:"turns"`
	// Sounding are the intervals in which the rotor's lines are within 30 dB of
	// their loudest, whatever else sounds; Standstill those in which it is at
	// rest.
	Sounding   []Interval `json:"sounding,omitempty"`
	Standstill []Interval `json:"standstill,omitempty"`
	// Lines are amplitude and phase of every line at the loudest moment, in units
	// of full scale, before room and microphone.
	Lines []Line `json:"lines,omitempty"`

	speed func(t float64) float64
	level func(speed float64) float64
}

// Interval is a stretch of time, in seconds of the file.
type Interval struct {
	From float64 `json:"from_s"`
	To   float64 `json:"to_s"`
}

// Speed returns the true shaft speed in rev/s at t seconds; 0 without a rotor.
func (t Truth) Speed(at float64) float64 {
	if t.speed == nil {
		return 0
	}
	return t.speed(at)
}

// PulseRate returns the true pulse rate in hertz at t seconds: z times the speed.
func (t Truth) PulseRate(at float64) float64 { return float64(t.Pulses) * t.Speed(at) }

// Level returns the amplitude of the rotor's lines at t seconds over that at
// the highest speed, before any beat: 0 at rest.
func (t Truth) Level(at float64) float64 {
	if t.level == nil {
		return 0
	}
	return t.level(t.speed(at))
}

// Sounds reports whether the rotor's lines are within 30 dB of their loudest.
func (t Truth) Sounds(at float64) bool { return t.Level(at) >= soundingLevel }

// Track returns the speed every step seconds, from 0 to the end. step must be
// above zero.
func (t Truth) Track(step, seconds float64) []Point {
	n := int(math.Floor(seconds/step+1e-9)) + 1
	out := make([]Point, n)
	for i := range out {
		at := float64(i) * step
		out[i] = Point{T: at, Speed: t.Speed(at)}
	}
	return out
}

// soundingLevel is 30 dB below the loudest, as an amplitude.
const soundingLevel = 0.03162277660168379

// survey finds peak, turns and intervals by walking over a millisecond grid,
// and refines what it finds between the grid's points. loudness gives the level
// at a speed, relative to the highest.
func (t *Truth) survey(seconds float64, loudness func(fr, top float64) float64) error {
	n := int(math.Ceil(seconds*1000)) + 1
	h := seconds / float64(n-1)
	grid := make([]float64, n)
	best := 0
	t.Steady, t.MinSpeed = true, math.Inf(1)
	for i := range grid {
		v := t.speed(float64(i) * h)
		if !(v >= 0 && v <= maxSpeed) {
			return fmt.Errorf("the speed at %.3f s is %v; it must stay from 0 to %g rev/s", float64(i)*h, v, maxSpeed)
		}
		grid[i] = v
		if v > grid[best] {
			best = i
		}
		t.MinSpeed = math.Min(t.MinSpeed, v)
		t.Steady = t.Steady && v == grid[0]
		t.Turns += v * h
	}
	t.Turns -= (grid[0] + grid[n-1]) / 2 * h
	t.PeakSpeed, t.PeakTime = grid[best], float64(best)*h
	if !t.Steady {
		at, v := refinePeak(t.speed, math.Max(0, t.PeakTime-h), math.Min(seconds, t.PeakTime+h))
		if v > t.PeakSpeed {
			t.PeakTime, t.PeakSpeed = at, v
		}
	}
	top := t.PeakSpeed
	t.level = func(fr float64) float64 { return loudness(fr, top) }
	t.Sounding = intervals(grid, h, t.speed, func(v float64) bool { return t.level(v) >= soundingLevel })
	t.Standstill = intervals(grid, h, t.speed, func(v float64) bool { return v < restSpeed })
	return nil
}

// restSpeed, in rev/s, counts as standstill: less than a turn in three hours.
const restSpeed = 1e-4

// refinePeak narrows the place of the maximum of f in [a, b] by golden section.
func refinePeak(f func(float64) float64, a, b float64) (at, best float64) {
	const g = 0.6180339887498949
	x, y := b-g*(b-a), a+g*(b-a)
	fx, fy := f(x), f(y)
	for range 60 {
		if fx >= fy {
			b, y, fy = y, x, fx
			x = b - g*(b-a)
			fx = f(x)
		} else {
			a, x, fx = x, y, fy
			y = a + g*(b-a)
			fy = f(y)
		}
	}
	at = (a + b) / 2
	return at, f(at)
}

// intervals returns where holds is true of speed, known on a grid of spacing h;
// the ends are found by bisection.
func intervals(grid []float64, h float64, speed func(float64) float64, holds func(float64) bool) []Interval {
	edge := func(i int, before bool) float64 { // between grid points i-1 and i
		a, b := float64(i-1)*h, float64(i)*h
		for range 30 {
			if m := (a + b) / 2; holds(speed(m)) == before {
				a = m
			} else {
				b = m
			}
		}
		return (a + b) / 2
	}
	var out []Interval
	was := false
	for i, v := range grid {
		is := holds(v)
		switch {
		case is && i == 0:
			out = append(out, Interval{From: 0})
		case is && !was:
			out = append(out, Interval{From: edge(i, false)})
		case !is && was:
			out[len(out)-1].To = edge(i, true)
		}
		was = is
	}
	if was {
		out[len(out)-1].To = float64(len(grid)-1) * h
	}
	return out
}
