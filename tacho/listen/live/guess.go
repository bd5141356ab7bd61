package live

import (
	"math"

	"rotorhum/tacho/internal/path"
	"rotorhum/tacho/internal/phase"
)

// refineSeconds and refineCycles say how far back the sound is looked at for the
// rate of now: the longer of both, but not beyond mostSeconds.
const (
	refineSeconds, refineCycles = 0.5, 16.0
	mostSeconds                 = 1.2
)

// edgeSeconds is how near to the beginning of the sound a course is taken to it.
const edgeSeconds = 0.3

// line is a straight line through the logarithm of the rates of the steps around
// one: the rate there and its slope in shares per second.
func line(steps []path.Step, i, half int) (rate, slope float64) {
	var sw, st, sy, stt, sty float64
	for j := max(0, i-half); j <= min(len(steps)-1, i+half); j++ {
		t := float64(steps[j].Moment-steps[i].Moment) * frameHop
		if math.Abs(t) > (float64(half)+0.5)*frameHop {
			continue
		}
		y := math.Log(steps[j].State.Rate)
		w := 1 - math.Abs(t)/(float64(half+1)*frameHop)
		sw += w
		st += w * t
		sy += w * y
		stt += w * t * t
		sty += w * t * y
	}
	if d := sw*stt - st*st; d > 1e-12 {
		return math.Exp((sy*stt - st*sty) / d), (sw*sty - st*sy) / d
	}
	return math.Exp(sy / sw), steps[i].State.Slope
}

// astray is the difference, in the logarithm of the rate, from which on frames
// speak of something else.
const astray = 0.03

// fits reports whether a course is that of the lock, or another multiple of it:
// the frames may read one for a while.
func (l *lock) fits(c path.Course, z int) bool {
	end := len(c.Steps) - 1
	last, _ := line(c.Steps, end, 4)
	at := l.rateAt(float64(c.Steps[end].Moment) * frameHop)
	if math.Abs(math.Log(last*l.ratio/at)) <= astray {
		return true
	}
	if k := whole(at/last, z); k != 0 {
		l.ratio = k
		return true
	}
	return false
}

// plausible reports whether a course could be that of the lock, pushed or braked
// of late: it goes on from what is known of some time ago.
func (l *lock) plausible(c path.Course) bool {
	for i := len(c.Steps) - 1; i >= 0; i-- {
		t := float64(c.Steps[i].Moment) * frameHop
		if len(l.past) == 0 || t < l.past[0].t {
			return false
		}
		if math.Abs(math.Log(c.Steps[i].State.Rate*l.ratio/l.rateAt(t))) < astray {
			return true
		}
	}
	return false
}

// fresh returns the course of the frames times ratio, carried on to now.
func fresh(c path.Course, ratio, now float64) phase.Course {
	end := len(c.Steps) - 1
	last, slope := line(c.Steps, end, 4)
	since, lastT := float64(c.Steps[0].Moment)*frameHop, float64(c.Steps[end].Moment)*frameHop
	gentle := func(slope float64) float64 { return math.Max(-3, math.Min(3, slope)) }
	var out phase.Course
	if first, slope := line(c.Steps, 0, 4); since > 0 && since < edgeSeconds {
		// frames that reach over the beginning of the sound are half empty
		out.T = append(out.T, 0)
		out.Rate = append(out.Rate, ratio*first*math.Exp(-gentle(slope)*since))
	}
	for i, s := range c.Steps {
		rate, _ := line(c.Steps, i, 4)
		out.T = append(out.T, float64(s.Moment)*frameHop)
		out.Rate = append(out.Rate, ratio*rate)
	}
	out.T = append(out.T, now)
	out.Rate = append(out.Rate, ratio*last*math.Exp(gentle(slope)*(now-lastT)))
	return out
}

// simplest returns the ratio of small whole numbers that r is, within two per
// cent; 0 if it is none.
func simplest(r float64) float64 {
	for _, k := range [...]float64{1, 2, 0.5, 3, 1.0 / 3, 1.5, 2.0 / 3, 4, 0.25} {
		if math.Abs(r/k-1) < 0.02 {
			return k
		}
	}
	return 0
}

// rateAt returns the rate of the lock at time t.
func (l *lock) rateAt(t float64) float64 {
	list := l.knots
	if len(l.past) > 0 && t < list[0].t {
		list = l.past
	}
	k := len(list) - 1
	for k > 0 && list[k-1].t >= t {
		k--
	}
	m := list[k]
	return math.Max(0.3*m.Omega, m.Omega+m.Alpha*(t-m.t)) / (2 * math.Pi)
}

// carried returns the course of the lock, carried on to now.
func (l *lock) carried(now float64) phase.Course {
	var c phase.Course
	see := func(t, rate float64) {
		if n := len(c.T); n == 0 || t > c.T[n-1]+1e-4 {
			c.T, c.Rate = append(c.T, t), append(c.Rate, rate)
		}
	}
	for _, list := range [][]knot{l.past, l.knots} {
		for _, k := range list {
			see(k.t, k.Omega/(2*math.Pi))
		}
	}
	see(now, l.rateAt(now))
	return c
}

// followed is a course, refined.
type followed struct {
	fit *phase.Result
	// motion is that at every block, with the newest sample last, and the first
	// sample first where the sound begins there.
	motion []knot
	lead   int     // knots before the first block
	origin float64 // where the sound that was looked at begins
}

// follow refines a course over the newest reach seconds of sound; nil where that
// is too short.
func (t *tracker) follow(s *memory, c phase.Course, rough, reach, now float64) (*followed, error) {
	from := math.Max(0, math.Max(now-reach, c.T[0]))
	x, first := s.from(int(from * t.fs))
	origin := float64(first) / t.fs
	src, err := sourceOf(x, t.fs, t.fs)
	if err != nil {
		return nil, err
	}
	var local phase.Course
	for i, at := range c.T {
		at -= origin
		switch {
		case at > 0 && len(local.T) == 0 && i > 0:
			f := -(c.T[i-1] - origin) / (c.T[i] - c.T[i-1])
			local.T, local.Rate = append(local.T, 0), append(local.Rate, c.Rate[i-1]+f*(c.Rate[i]-c.Rate[i-1]))
		case at < 0:
			continue
		}
		local.T, local.Rate = append(local.T, at), append(local.Rate, c.Rate[i])
	}
	if len(local.T) < 2 {
		return nil, nil
	}
	r, err := phase.Follow(src, local, rough, phase.Options{Harmonics: lineHarmonics, Memory: lineMemory})
	if err != nil || r == nil {
		return nil, err
	}
	f := &followed{fit: r, origin: origin}
	n := len(r.Points)
	start, end := r.Motion[0], r.Motion[n-1]
	var points []phase.Point
	if first == 0 && local.T[0] == 0 {
		f.lead = 1
		points = append(points, phase.Point{Var: math.Inf(1)})
		start.Phi -= start.Omega * r.Points[0].T
	}
	points = append(append(points, r.Even()...), phase.Point{T: now - origin, Var: math.Inf(1)})
	prior := phase.Prior{Start: start, SD: [3]float64{30, 0.3 * end.Omega, 4 * end.Omega}}
	least := leastAgility * leastAgility * end.Omega * end.Omega
	for i := range points {
		prior.Q = append(prior.Q, math.Max(least, r.QAt(min(max(0, i-f.lead), n-1))))
	}
	motion, _ := phase.Run(points, prior)
	for i, m := range motion {
		f.motion = append(f.motion, knot{points[i].T + origin, r.Fluttered(points[i].T, m)})
	}
	return f, nil
}

// leastAgility is how restless any rotor may become at any moment: the square root
// of the intensity of its changes of acceleration over its speed, in s^-2.5. The
// sound up to now cannot know what the next moment brings.
const leastAgility = 0.2
