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

// Least returns the evidence below which a candidate is of no use to a course: to
// skip it costs less, or, where many follow each other, to end and start anew.
func (r Rules) Least() float64 {
	return r.Idle - r.Skip - (r.Start+r.End)/float64(2*r.MaxSkip)
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

// most is the largest change of the logarithm of a rate from one step to the next.
const most = 0.5

// back leads to the predecessor of a candidate.
type back struct {
	gap   uint8 // moments back; 0: the stretch starts here
	state uint8
}

// end is where a stretch ends: a moment and its candidate, -1 for none.
type end struct{ moment, state int32 }

// Find returns the courses of the best explanation of f, in order of time. It
// gives up with the error of stopped, which it asks now and then. A moment has
// 256 candidates at most.
func Find(f *comb.Frames, r Rules, stopped func() error) ([]Course, error) {
	n := len(f.Moments)
	states := 0
	for _, m := range f.Moments {
		states += len(m.States)
	}
	// two bytes per candidate are all that is kept of moments far back
	from := make([]back, 0, states)
	first := make([]int, n) // of the candidates of each moment
	// of the last moments, in turns: what their candidates have gathered, and the
	// logarithms of their rates
	score, logs := make([][]float64, r.MaxSkip+2), make([][]float64, r.MaxSkip+2)
	off := make([]float64, n+1) // best explanation up to before moment i that is idle there
	last := make([]end, n+1)    // where the last stretch before i ended
	last[0] = end{-1, -1}
	for i := 0; i < n; i++ {
		if i%64 == 0 {
			if err := stopped(); err != nil {
				return nil, err
			}
		}
		st := f.Moments[i].States
		first[i] = len(from)
		now, rates := score[i%len(score)][:0], logs[i%len(score)][:0]
		for _, s := range st {
			rate := math.Log(s.Rate)
			best, where := off[i]-r.Start, back{}
			for g := 1; g <= r.MaxSkip+1 && g <= i; g++ {
				k := i - g
				dt := float64(g) * f.Hop
				sd := r.Jitter + r.Drift*dt
				skip := r.Skip * float64(g-1)
				before, ratesThen := score[k%len(score)], logs[k%len(score)]
				for a, p := range f.Moments[k].States {
					base := before[a] - skip
					if base <= best {
						continue
					}
					d := rate - ratesThen[a]
					if d > most || d < -most {
						continue
					}
					d = (d - 0.5*(s.Slope+p.Slope)*dt) / sd
					if d > 4 || d < -4 {
						continue
					}
					v := base - 0.5*d*d - r.Bend*math.Abs(s.Slope-p.Slope)
					if v > best {
						best, where = v, back{uint8(g), uint8(a)}
					}
				}
			}
			now, rates = append(now, best+s.Evidence-r.Idle), append(rates, rate)
			from = append(from, where)
		}
		score[i%len(score)], logs[i%len(score)] = now, rates
		off[i+1], last[i+1] = off[i], last[i]
		for j := range st {
			if v := now[j] - r.End; v > off[i+1] {
				off[i+1], last[i+1] = v, end{int32(i), int32(j)}
			}
		}
	}
	var out []Course
	for at := last[n]; at.state >= 0; {
		var c Course
		i, j := int(at.moment), int(at.state)
		c.Evidence = off[i+1] + r.End
		for {
			c.Steps = append(c.Steps, Step{i, f.Moments[i].States[j]})
			p := from[first[i]+j]
			if p.gap == 0 {
				break
			}
			i, j = i-int(p.gap), int(p.state)
		}
		c.Evidence -= off[i]
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
