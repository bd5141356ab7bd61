// Package path finds the most credible course of a rate through time: a chain
// of candidates, one per moment at most, that obeys inertia, with stretches in
// between in which nothing is claimed.
package path

import (
	"math"

	"rotorhum/tacho/internal/comb"
)

// Rules are the costs, in nats, of what a course may do.
type Rules struct {
	// Idle is subtracted from the evidence of every candidate: a candidate
	// must do better than the best that noise offers.
	Idle float64
	// Start and End are the costs of a stretch.
	Start, End float64
	// Skip is the cost of a moment without a candidate inside a stretch, of
	// which at most MaxSkip may follow each other.
	Skip    float64
	MaxSkip int
	// Jitter and Drift bound how far a rate may lie from where the slopes
	// lead: a standard deviation of Jitter + Drift*dt, as a share.
	Jitter, Drift float64
	// Bend is the cost of changing the slope by one share per second.
	Bend float64
}

// Usual returns the rules for moments hop seconds apart.
func Usual(hop float64) Rules {
	return Rules{
		Idle: 7 * hop / 0.128, Start: 5, End: 1, Skip: 0.25, MaxSkip: int(0.2 / hop),
		Jitter: 0.006, Drift: 0.15, Bend: 0.5,
	}
}

// Step is one moment of a course.
type Step struct {
	Moment int
	State  comb.State
}

// Course is one uninterrupted stretch and the evidence it gathered.
type Course struct {
	Steps    []Step
	Evidence float64
}

type link struct {
	moment, state int // the predecessor; state -1: the stretch starts here
}

// Find returns the courses of the best explanation of f, in order of time. It
// gives up with the error of stopped, which it asks now and then.
func Find(f *comb.Frames, r Rules, stopped func() error) ([]Course, error) {
	n := len(f.Moments)
	score := make([][]float64, n)
	from := make([][]link, n)
	off := make([]float64, n+1) // best explanation up to before moment i that is idle there
	last := make([]link, n+1)   // where the last stretch before i ended
	last[0] = link{-1, -1}
	for i := 0; i < n; i++ {
		if i%64 == 0 {
			if err := stopped(); err != nil {
				return nil, err
			}
		}
		st := f.Moments[i].States
		score[i] = make([]float64, len(st))
		from[i] = make([]link, len(st))
		for j, s := range st {
			best, where := off[i]-r.Start, link{i, -1}
			for g := 1; g <= r.MaxSkip+1 && g <= i; g++ {
				k := i - g
				dt := float64(g) * f.Hop
				sd := r.Jitter + r.Drift*dt
				skip := r.Skip * float64(g-1)
				for a, p := range f.Moments[k].States {
					base := score[k][a] - skip
					if base <= best {
						continue
					}
					d := s.Rate/p.Rate - 1
					if d > 0.6 || d < -0.45 {
						continue
					}
					d = (math.Log1p(d) - 0.5*(s.Slope+p.Slope)*dt) / sd
					if d > 4 || d < -4 {
						continue
					}
					v := base - 0.5*d*d - r.Bend*math.Abs(s.Slope-p.Slope)
					if v > best {
						best, where = v, link{k, a}
					}
				}
			}
			score[i][j] = best + s.Evidence - r.Idle
			from[i][j] = where
		}
		off[i+1], last[i+1] = off[i], last[i]
		for j := range st {
			if v := score[i][j] - r.End; v > off[i+1] {
				off[i+1], last[i+1] = v, link{i, j}
			}
		}
	}
	var out []Course
	for at := last[n]; at.state >= 0; {
		var c Course
		end := score[at.moment][at.state]
		i, j := at.moment, at.state
		for {
			c.Steps = append(c.Steps, Step{i, f.Moments[i].States[j]})
			p := from[i][j]
			if p.state < 0 {
				break
			}
			i, j = p.moment, p.state
		}
		c.Evidence = end - off[i]
		for a, b := 0, len(c.Steps)-1; a < b; a, b = a+1, b-1 {
			c.Steps[a], c.Steps[b] = c.Steps[b], c.Steps[a]
		}
		out = append(out, c)
		at = last[i]
	}
	for a, b := 0, len(out)-1; a < b; a, b = a+1, b-1 {
		out[a], out[b] = out[b], out[a]
	}
	return out, nil
}
