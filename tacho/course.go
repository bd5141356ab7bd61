package tacho

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"rotorhum/tacho/internal/comb"
	"rotorhum/tacho/internal/path"
	"rotorhum/tacho/internal/sound"
)

const (
	// frameHop is the time between frames in seconds.
	frameHop = 0.02
	// courseHarmonics bounds the harmonics used while searching and
	// lineHarmonics those used while refining.
	courseHarmonics = 12
	lineHarmonics   = 20
	// lineMemory is the time, in seconds, for which lines are taken to keep
	// their phases while a course is refined.
	lineMemory = 0.35
	// A course counts as a rotor when it lasts this long and gathers this
	// much evidence (nats).
	leastSeconds  = 0.35
	leastEvidence = 14.0
	// framesShare and refineShare are what the search and the first refinement
	// take of the work.
	framesShare, refineShare = 0.5, 0.35
)

// followCourses finds and refines every stretch in which a rotor is heard.
//
// all is what was followed, a rotor's or not.
func followCourses(src *sound.Source, opt Options) (out []*stretch, all heard, err error) {
	out, all, frames, f, err := searchCourses(src, opt)
	if err == nil {
		out, err = f.company(frames, out, opt)
	}
	if err != nil {
		return nil, all, err
	}
	return out, all, nil
}

// searchCourses is followCourses without what else may sound with what is found, and
// returns the frames and the finder too.
func searchCourses(src *sound.Source, opt Options) (out []*stretch, most heard, frames *comb.Frames, f *finder, err error) {
	frames, err = comb.Analyse(src, comb.FrameOptions{
		Lo: opt.slowest(), Hi: math.Min(float64(opt.Range.Hi), 0.49*src.Rate),
		Hop: frameHop, Harmonics: courseHarmonics, Keep: 24, Least: path.Usual(frameHop).Least(),
		Progress: opt.part(0, framesShare).Progress,
	})
	if err != nil {
		return nil, nil, nil, nil, err
	}
	lessBelow(frames, float64(opt.Range.Lo))
	opt.see.told(frames)
	f = &finder{src: src, known: map[courseKey]*stretch{}, whole: map[[2]*stretch]*stretch{}}
	seconds := src.Seconds()
	rejected := false
	var unmasked *comb.Frames // nil while frames are
	for round := 0; round < 4; round++ {
		if round > 0 {
			opt.Progress = nil // what is left is brief
		}
		out = out[:0]
		var all []*stretch
		masked := false
		courses, err := path.Find(frames, path.Usual(frameHop), src.Stopped)
		if err != nil {
			return nil, most, nil, nil, err
		}
		// the most credible first: the others may be the same sound
		order := make([]int, len(courses))
		for i := range order {
			order[i] = i
		}
		sort.SliceStable(order, func(i, j int) bool { return courses[order[i]].Evidence > courses[order[j]].Evidence })
		followed := 0.0
		var now heard
		var parts []*stretch
		for _, i := range order {
			c := courses[i]
			share := float64(c.Steps[len(c.Steps)-1].Moment-c.Steps[0].Moment+1) / float64(len(frames.Moments))
			s, err := f.follow(c, opt.part(framesShare+followed*refineShare, framesShare+(followed+share)*refineShare))
			followed += share
			if err != nil {
				return nil, most, nil, nil, err
			}
			if s == nil {
				opt.see.told(courseJudged{round, c, nil})
				continue
			}
			now = now.add(s, c.Evidence)
			all = append(all, s)
			parts = append(parts, s)
		}
		if now.evidence() > most.evidence() {
			most = now
		}
		if parts, err = f.united(parts, opt); err != nil {
			return nil, most, nil, nil, err
		}
		for _, s := range parts {
			same := sameSound(out, s.courses)
			if same != nil {
				same.evidence += s.evidence
			} else if err := f.judge(s, parts, opt); err != nil {
				return nil, most, nil, nil, err
			}
			for _, c := range s.courses {
				opt.see.told(courseJudged{round, c, s})
			}
			switch {
			case same != nil:
			case s.rotor < 0 || s.hums(src.Hum()) || f.refusedBefore(s, opt.Pulses):
				// a voice may hide a rotor: look again without it
				if unmasked == nil {
					unmasked = frames.Clone()
				}
				for _, c := range s.courses {
					mask(frames, c)
				}
				masked = true
				// one that may as well be a rotor's is no sign of voices, nor is a hum
				rejected = rejected || !s.hums(src.Hum()) && (s.rotor >= 0 || s.rotor < -beyondDoubt)
			default:
				out = append(out, s)
			}
		}
		if round == 0 && tune(all, out, opt.Pulses) { // later rounds hear what is left between the masks
			return nil, most, frames, f, nil
		}
		if !masked {
			break
		}
	}
	out, whole := f.inPieces(out)
	rejected = rejected && !whole
	inTime(out)
	if rejected && share(out, seconds) < leastShare {
		out = slices.DeleteFunc(out, func(s *stretch) bool { return s.rotor < beyondDoubt })
	}
	out = slices.DeleteFunc(out, func(s *stretch) bool { return !f.surelyAmong(s, opt.Pulses) })
	if rejected && share(out, seconds) < mostShare {
		if out, err = f.withLasting(out, unmasked, opt); err != nil {
			return nil, most, nil, nil, err
		}
	}
	for _, s := range out {
		s.amid, s.amidNotes = rejected, s.strangers(f.notes, opt.Pulses)
	}
	return out, most, frames, f, nil
}

// belowShare is the share of its evidence that counts of a rate below the range: the
// lines of a rotor that has slowed down out of it say far more for its rate than for a
// multiple, those of a shaft with blades nearly alike hardly more than for the pulses.
const belowShare = 0.75

// lessBelow takes the rest from the candidates below lo. The best stay first.
func lessBelow(f *comb.Frames, lo float64) {
	for _, m := range f.Moments {
		for k := range m.States {
			if s := &m.States[k]; s.Rate < lo {
				s.Evidence *= belowShare
			}
		}
		slices.SortStableFunc(m.States, func(a, b comb.State) int { return cmp.Compare(b.Evidence, a.Evidence) })
	}
}
