package live

import (
	"math"

	"rotorhum/tacho"
)

// summit finds the highest speed while the sound is still coming.
type summit struct {
	opt tacho.Options
	// sure are the moments that could be the top, of runs that are over; now
	// those of the run that goes on.
	sure, now crest
	run       int
	factor    float64
	heard     int // steps in which the run was claimed
	tail      []point
}

// leastRun is the number of steps after which a run counts.
const leastRun = 8

// see takes in a state.
func (s *summit) see(a state) {
	if a.run != s.run {
		if s.heard >= leastRun {
			s.sure.join(s.now)
		}
		s.now, s.heard, s.tail = crest{}, 0, nil
		s.run, s.factor = a.run, a.factor
	}
	if a.run == 0 {
		return
	}
	if k := a.factor / s.factor; k != 1 {
		s.now.scale(k)
		s.factor = a.factor
	}
	if a.heard {
		s.heard++
	}
	for _, p := range a.settled {
		s.now.add(p)
	}
	s.tail = a.tail
}

// highest returns the top of all.
func (s *summit) highest() (Highest, bool) {
	c := s.sure.clone()
	if s.heard >= leastRun {
		c.join(s.now)
		for _, p := range s.tail {
			c.add(p)
		}
	}
	p, ok := c.top()
	if !ok {
		return Highest{}, false
	}
	v := toneOf(p.hz, p.u, s.opt)
	return Highest{T: p.t, Tone: v, Speed: v.Scale(1/float64(s.opt.Pulses), "rev/s")}, true
}

// crest holds the moments that could be the top. Of many that each are uncertain
// the highest is too high, the more so the more there are: all that lie within
//
//	u (1 + sqrt(2 ln m))
//
// of it could be the top, u being its standard uncertainty and m the number of
// half seconds with a moment near it; the second term is how far the highest of m
// draws from a normal distribution lies above their mean. The mean of those
// moments, plus a sixth of u as for a recording (see tacho's PeakSpeed), is the
// top: on a plateau that of its whole length, on a sharp peak that of its tip.
type crest struct {
	points []weighed
	high   point
}

// weighed is a point that stands for several.
type weighed struct {
	point
	n float64
}

const (
	// crestPoints bounds the memory of a plateau: beyond it neighbours become one.
	crestPoints = 512
	// crestReach is the reach of what is kept, nearReach that of what is
	// counted, in standard uncertainties below the highest.
	crestReach, nearReach = 6.0, 3.0
	// crestSeconds is the time in which moments are hardly independent.
	crestSeconds = 0.5
	// vague is the relative uncertainty from which on a rate is no candidate.
	vague = 0.02
)

func (c *crest) add(p point) {
	if p.u < vague*p.hz {
		c.put(weighed{p, 1})
	}
}

// scale multiplies all rates.
func (c *crest) scale(k float64) {
	for i := range c.points {
		c.points[i].hz, c.points[i].u = k*c.points[i].hz, k*c.points[i].u
	}
	c.high.hz, c.high.u = k*c.high.hz, k*c.high.u
}

func (c *crest) put(p weighed) {
	if p.hz > c.high.hz {
		c.high = p.point
		kept := c.points[:0]
		for _, q := range c.points {
			if q.hz >= c.below(crestReach) {
				kept = append(kept, q)
			}
		}
		c.points = kept
	}
	if p.hz < c.below(crestReach) {
		return
	}
	c.points = append(c.points, p)
	if len(c.points) > crestPoints {
		for i := range crestPoints / 2 {
			a, b := c.points[2*i], c.points[2*i+1]
			n := a.n + b.n
			mean := func(x, y float64) float64 { return (a.n*x + b.n*y) / n }
			c.points[i] = weighed{point{mean(a.t, b.t), mean(a.hz, b.hz), mean(a.u, b.u)}, n}
		}
		c.points = append(c.points[:crestPoints/2], c.points[crestPoints:]...)
	}
}

// below returns the rate that lies the given number of uncertainties below the
// highest.
func (c *crest) below(reach float64) float64 { return c.high.hz - reach*c.high.u }

func (c *crest) join(d crest) {
	for _, p := range d.points {
		c.put(p)
	}
}

func (c *crest) clone() crest { return crest{append([]weighed(nil), c.points...), c.high} }

// top returns the highest rate, its uncertainty and its moment.
func (c *crest) top() (point, bool) {
	m, last := 0.0, math.Inf(-1)
	for _, p := range c.points {
		if p.hz >= c.below(nearReach) {
			if k := math.Floor(p.t / crestSeconds); k != last {
				m, last = m+1, k
			}
		}
	}
	floor := c.below(1 + math.Sqrt(2*math.Log(math.Max(1, m))))
	var t, hz, n float64
	for _, p := range c.points {
		if p.hz >= floor {
			t += p.n * p.t
			hz += p.n * p.hz
			n += p.n
		}
	}
	if n == 0 {
		return point{}, false
	}
	return point{t / n, hz/n + c.high.u/6, math.Max(c.high.u, 1e-12)}, true
}
