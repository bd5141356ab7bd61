package tacho

import (
	"math"

	"rotorhum/tacho/internal/phase"
)

// Where the rates of two rotors cross, what follows one may go on along the other. Both
// then seem to turn back at once, at the same rate, while a thing with inertia goes on as
// it went.

const (
	// Two rates meet within met (logarithm), and slopes, in shares per second, are those
	// from besideMeeting to beyondMeeting seconds before and after.
	met, besideMeeting, beyondMeeting = 0.02, 0.12, 0.5
	// Both turn back where their slopes change by turnsBack in sum and more than
	// goesOn times as much as if they crossed.
	turnsBack, goesOn = 0.1, 3.0
)

// uncross follows anew, each as the other went on, those of the stretches that turn back
// where they meet. It changes the list in place.
func (f *finder) uncross(in, more []*stretch, opt Options) error {
	for i, a := range in {
		for j := i + 1; j < len(in); j++ {
			t, ok := a.turnsBackAt(in[j])
			if !ok {
				continue
			}
			x, y, err := f.crossed(a, in[j], t, opt)
			if err != nil {
				return err
			}
			if x == nil {
				continue
			}
			for k, m := range more {
				switch m {
				case a:
					more[k] = x
				case in[j]:
					more[k] = y
				}
			}
			in[i], in[j] = x, y
			a = x
		}
	}
	return nil
}

// turnsBackAt returns where two stretches meet and both turn back.
func (s *stretch) turnsBackAt(o *stretch) (t float64, ok bool) {
	from, to := s.common(o)
	from, to = from+beyondMeeting, to-beyondMeeting
	const step = 0.02
	apart := func(t float64) float64 { return math.Abs(math.Log(s.ratioTo(o, t))) }
	least := met
	for u := from; u <= to; u += step {
		if d := apart(u); d < least {
			least, t, ok = d, u, true
		}
	}
	if !ok {
		return 0, false
	}
	slope := func(s *stretch, side float64) float64 {
		near, _, _ := s.at(t + side*besideMeeting)
		far, _, _ := s.at(t + side*beyondMeeting)
		return side * math.Log(far/near) / (beyondMeeting - besideMeeting)
	}
	a, b, c, d := slope(s, -1), slope(s, 1), slope(o, -1), slope(o, 1)
	back, on := math.Abs(b-a)+math.Abs(d-c), math.Abs(d-a)+math.Abs(b-c)
	return t, back > turnsBack && back > goesOn*on
}

// crossed follows two stretches anew, each as the other went on from t. It returns nil
// where that leaves less than two.
func (f *finder) crossed(a, b *stretch, t float64, opt Options) (x, y *stretch, err error) {
	opt.Progress = nil
	seconds := f.src.Seconds()
	first, second := goingOver(a.course(1, seconds), b.course(1, seconds), t), goingOver(b.course(1, seconds), a.course(1, seconds), t)
	lines, err := phase.NewStack(f.src, second, stackLines, 1, stackMemory, nil)
	if err != nil || lines == nil {
		return nil, nil, err
	}
	if x, err = f.followBeside(first, lines, opt); err != nil || x == nil {
		return nil, nil, err
	}
	if lines, err = x.stack(f.src, opt.Pulses); err != nil || lines == nil {
		return nil, nil, err
	}
	if y, err = f.followBeside(second, lines, opt); err != nil || y == nil {
		return nil, nil, err
	}
	return x.as(a), y.as(b), nil
}

// followBeside follows a course in what is left of the sound without lines.
func (f *finder) followBeside(c phase.Course, lines *phase.Stack, opt Options) (*stretch, error) {
	return refineBeside(without(f.src, lines), c, 0, 0.004, []*phase.Stack{lines}, opt)
}

// goingOver returns the course a until shortly before t and b from shortly after it on.
func goingOver(a, b phase.Course, t float64) phase.Course {
	c := phase.Course{}
	add := func(from phase.Course, k int) { c.Add(from.T[k], from.Rate[k], from.Bend[k]) }
	for k := range a.T {
		if a.T[k] < t-besideMeeting {
			add(a, k)
		}
	}
	for k := range b.T {
		if b.T[k] > t+besideMeeting {
			add(b, k)
		}
	}
	return c
}
