package live

import (
	"math"

	"rotorhum/tacho/internal/path"
	"rotorhum/tacho/internal/phase"
	"rotorhum/tacho/internal/sound"
)

// refineSeconds and refineCycles say how far back the sound is looked at for the
// rate of now: the longer of both, but not beyond mostSeconds.
const (
	refineSeconds, refineCycles = 0.5, 16.0
	mostSeconds                 = 1.2
)

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

// guess returns a course up to now for the sound to be demodulated along, and the
// relative error to expect of it: what was known of the rotor before, carried on,
// or where that does not fit, what the frames say.
func (t *tracker) guess(c path.Course, now float64) (phase.Course, float64) {
	end := len(c.Steps) - 1
	last, slope := line(c.Steps, end, 4)
	lastT := float64(c.Steps[end].Moment) * frameHop
	if l := t.lock; l != nil {
		// the frames may read another multiple for a while
		r := math.Abs(math.Log(last * l.ratio / l.rateAt(lastT)))
		if k := simplest(l.rateAt(lastT) / last); r > 0.03 && k != 0 {
			l.ratio, r = k, 0
		}
		if r <= 0.03 {
			return l.carried(now), 0.004
		}
	}
	t.runs++
	t.lock = &lock{since: float64(c.Steps[0].Moment) * frameHop, ratio: 1, run: t.runs}
	var out phase.Course
	for i, s := range c.Steps {
		rate, _ := line(c.Steps, i, 4)
		out.T = append(out.T, float64(s.Moment)*frameHop)
		out.Rate = append(out.Rate, rate)
	}
	slope = math.Max(-3, math.Min(3, slope))
	out.T = append(out.T, now)
	out.Rate = append(out.Rate, last*math.Exp(slope*(now-lastT)))
	return out, 0.01
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
	k := len(l.at) - 1
	for k > 0 && l.at[k-1] >= t {
		k--
	}
	m := l.knots[k]
	return math.Max(0.3*m.Omega, m.Omega+m.Alpha*(t-l.at[k])) / (2 * math.Pi)
}

// carried returns the course of the lock, carried on to now.
func (l *lock) carried(now float64) phase.Course {
	var c phase.Course
	for i, m := range l.knots {
		c.T = append(c.T, l.at[i])
		c.Rate = append(c.Rate, m.Omega/(2*math.Pi))
	}
	if now > l.at[len(l.at)-1] {
		c.T = append(c.T, now)
		c.Rate = append(c.Rate, l.rateAt(now))
	}
	return c
}

// followed is a course, refined.
type followed struct {
	fit *phase.Result
	// motion is that at every block and, last, at the newest sample; at are the
	// times since the start of listening.
	motion []phase.Smooth
	at     []float64
	origin float64 // where the sound that was looked at begins
}

// follow refines a course over the newest sound; nil where that is too short.
func (t *tracker) follow(s *memory, c phase.Course, rough, now float64) (*followed, error) {
	rate := c.Rate[len(c.Rate)-1]
	reach := math.Min(mostSeconds, math.Max(refineSeconds, refineCycles/rate))
	from := math.Max(now-reach, c.T[0]-2/rate)
	x, first := s.from(int(from * t.fs))
	origin := float64(first) / t.fs
	src, err := sourceOf(x, t.fs, t.fs)
	if err != nil {
		return nil, err
	}
	var local phase.Course
	for i, at := range c.T {
		at -= origin
		if i+1 < len(c.T) && c.T[i+1]-origin <= 0 {
			continue
		}
		if len(local.T) == 0 && at > 0 {
			local.T, local.Rate = append(local.T, 0), append(local.Rate, c.Rate[i])
		}
		if at < 0 {
			at = 0
		}
		if n := len(local.T); n > 0 && at-local.T[n-1] < 1e-4 {
			continue
		}
		local.T, local.Rate = append(local.T, at), append(local.Rate, c.Rate[i])
	}
	if len(local.T) < 2 {
		return nil, nil
	}
	return t.refine(src, local, rough, origin, now)
}

func (t *tracker) refine(src *sound.Source, c phase.Course, rough, origin, now float64) (*followed, error) {
	r, err := phase.Follow(src, c, rough, phase.Options{Harmonics: lineHarmonics, Memory: lineMemory})
	if err != nil || r == nil {
		return nil, err
	}
	f := &followed{fit: r, origin: origin}
	n := len(r.Points)
	end := r.Motion[n-1]
	points := append(append([]phase.Point(nil), r.Points...), phase.Point{T: now - origin, Var: math.Inf(1)})
	prior := phase.Prior{Start: r.Motion[0], SD: [3]float64{30, 0.3 * end.Omega, 4 * end.Omega}}
	least := leastAgility * leastAgility * end.Omega * end.Omega
	for i := range points {
		prior.Q = append(prior.Q, math.Max(least, r.QAt(min(i, n-1))))
	}
	f.motion, _ = phase.Run(points, prior)
	for _, p := range points {
		f.at = append(f.at, p.T+origin)
	}
	return f, nil
}

// leastAgility is how restless any rotor may become at any moment: the square root
// of the intensity of its changes of acceleration over its speed, in s^-2.5. The
// sound up to now cannot know what the next moment brings.
const leastAgility = 0.3
