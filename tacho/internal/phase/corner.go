package phase

import (
	"math"
	"sync"
)

// A recorder's high-pass, or a small microphone that hears nothing low, delays the lines
// near its corner. While the rate changes they lag behind it, all that lie there in
// common. But a line of order k, at k times the rate, is turned by the phase of the filter
// at that frequency, little where it is high: from line to line and from rate to rate the
// phases follow the one curve of a filter, of which few kinds and one corner are all there
// is to know (cornerfit.go). Of a filter that turns no phase they show nothing, whatever it
// leaves of the lines.

// highPass is the phase response of a high-pass over the frequency in units of its corner:
// of sections of the first order, by their own corners in these units, and of such of the
// second, by their damping.
type highPass struct {
	single, pairs []float64
	table         struct {
		once  sync.Once
		curve curve
	}
}

// butterworth returns the high-pass that is flat above its corner, by the angles of its
// poles (textbook material).
func butterworth(order int) *highPass {
	h := &highPass{}
	if order%2 == 1 {
		h.single = []float64{1}
	}
	for k := range order / 2 {
		h.pairs = append(h.pairs, 2*math.Sin(math.Pi*float64(2*k+1)/float64(2*order)))
	}
	return h
}

// highPasses are the kinds that are told apart: Butterworth's, capacitors in a row, alike or
// not, and what rings a little above its corner, as a capsule does (common practice). The
// first few stand for all others where it is looked whether there is one.
var highPasses = [...]*highPass{butterworth(1), butterworth(2), butterworth(4), butterworth(3), butterworth(6), butterworth(8),
	{single: []float64{1, 1}}, {single: []float64{1, 1, 1}}, {single: []float64{1, 1, 1, 1}}, {single: []float64{1, 0.3}},
	{pairs: []float64{1}}, {pairs: []float64{0.75}}, {pairs: []float64{0.5}}}

const standFor = 3

// phase returns the phase at x times the corner, in radians.
func (h *highPass) phase(x float64) float64 {
	sum := 0.0
	for _, a := range h.single {
		sum += math.Atan2(a, x)
	}
	for _, d := range h.pairs {
		sum += math.Atan2(d*x, x*x-1)
	}
	return sum
}

// none reports whether it turns nothing.
func (h *highPass) none() bool { return h.single == nil && h.pairs == nil }

// delay returns the group delay at x times the corner, in units of the time of a radian
// of the corner.
func (h *highPass) delay(x float64) float64 {
	sum := 0.0
	for _, a := range h.single {
		sum += a / (a*a + x*x)
	}
	for _, d := range h.pairs {
		sum += d * (1 + x*x) / ((x*x-1)*(x*x-1) + d*d*x*x)
	}
	return sum
}

// curve is a phase at every curveStep of an octave from curveLow octaves on, as it is asked
// for many times.
type curve []float64

const curveLow, curveHigh, curveStep = -10, 12, 1.0 / 64

// curve returns the phase as a curve.
func (h *highPass) curve() curve {
	h.table.once.Do(func() {
		h.table.curve = make(curve, int((curveHigh-curveLow)/curveStep)+2)
		for i := range h.table.curve {
			h.table.curve[i] = h.phase(math.Exp2(curveLow + curveStep*float64(i)))
		}
	})
	return h.table.curve
}

// at returns the phase at so many octaves above the corner.
func (c curve) at(octave float64) float64 {
	x := math.Max(0, math.Min((octave-curveLow)/curveStep, float64(len(c)-2)))
	i := int(x)
	return c[i] + (x-float64(i))*(c[i+1]-c[i])
}

// corner is the high-pass that was found: the one taken first, which may be none, and
// others that may as well be.
type corner struct{ kinds []cornered }

// cornered is a kind of high-pass with its corner in hertz, the standard uncertainty of
// the corner's logarithm, and how likely it is.
type cornered struct {
	*highPass
	hz, sd, chance float64
}

// cornered looks for a high-pass, and takes out of the lines, which are looked at over
// memory seconds, what one that was found has done to them.
func (f *follower) cornered(memory float64) (err error) {
	if f.corner, err = f.seekCorner(); err != nil || f.corner == nil || f.corner.kinds[0].none() {
		return err
	}
	f.corner.undo(f.l, func(i int) float64 { return f.r.Motion[i].Omega / (2 * math.Pi) })
	return f.measure(memory, true)
}

// found returns the corner of what was taken out, in hertz, and its standard uncertainty; 0
// where nothing was.
func (c *corner) found() (hz, u float64) {
	if c == nil || c.kinds[0].none() {
		return 0, 0
	}
	k := c.kinds[0]
	return k.hz, k.hz * k.sd
}

// undo turns the lines back by what the filter has turned them, where the rate is known.
func (c *corner) undo(l *locked, rate func(i int) float64) {
	if c == nil || c.kinds[0].none() {
		return
	}
	k := c.kinds[0]
	for i := range l.blocks {
		x := rate(i) / k.hz
		for m := range l.lines[0] {
			s, co := math.Sincos(k.phase(x * float64(m+1)))
			for ch := range l.lines {
				l.lines[ch][m][i] *= complex(co, -s)
			}
		}
	}
}

// widen adds to what is known of the motion what is not known of the filter: by how much
// later or earlier the lines may be. The motion is still without its waves.
func (c *corner) widen(r *Result, l *locked, waves *flutter) {
	if c == nil {
		return
	}
	late, near := make([]float64, len(c.kinds)), make([]float64, len(c.kinds))
	const step = 0.01 // of the corner's logarithm
	for i := range r.Motion {
		m := &r.Motion[i]
		clear(late)
		clear(near)
		all := 0.0
		for k := range l.used[i] {
			// as much as a line says of the rate
			weight := 0.0
			for ch := range l.lines {
				v := l.lines[ch][k][i]
				weight += math.Max(0, (real(v)*real(v)+imag(v)*imag(v))/l.noise[ch][k][i]-1)
			}
			weight *= float64(k+1) * float64(k+1)
			all += weight
			omega := m.Omega * float64(k+1)
			for j, q := range c.kinds {
				a := 2 * math.Pi * q.hz
				b := a * (1 + step)
				late[j] += weight * q.delay(omega/a) / a
				near[j] += weight * q.delay(omega/b) / b
			}
		}
		if all == 0 {
			continue
		}
		variance := 0.0
		for j, q := range c.kinds {
			other, slope := (late[j]-late[0])/all, (near[j]-late[j])/all/step*q.sd
			variance += q.chance * (other*other + slope*slope)
		}
		alpha := m.Alpha + waves.motion(r.Points[i].T).Alpha
		m.widen(1 + variance*alpha*alpha/m.OmegaVar)
	}
}
