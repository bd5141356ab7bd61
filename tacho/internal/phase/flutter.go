package phase

import (
	"math"
	"slices"
)

// A speed that swings to and fro at a steady rate (wow below some 6 Hz and flutter above,
// common practice) asks for changes of acceleration all the time, and inertia is
// soon seen to be none: the motion is then followed by its noise, or, where blocks are
// long, not at all, and the swing is taken for noise. Told that there are such waves,
// the smoother finds the rest as calm as it is. They are part of the motion: unlike the
// pattern of a turn they are taken from the phases before these are smoothed, and given
// back to the motion in the end.

const (
	// waveDepth is how deep waves are beforehand, as a share of the speed (rms).
	waveDepth = 0.02
	// onTheWay is the uncertainty, in radians of the pulse rate, of what delays all lines
	// alike on their way: near a corner of what they pass, a body, a microphone or the
	// high-pass of a recorder, they come a part of their period late, and no line contradicts
	// the others. Of a change that comes and goes it leaves as much as this.
	onTheWay = 0.35
	// overtone is how large an overtone of a wave is taken to be, as a share of it, where the
	// blocks are too long to show one: a speed rarely swings as a pure sine.
	overtone = 0.2
	// perPeriod is at how many moments of a period the motion is told at least.
	perPeriod = 24
)

// flutter is the waves of a speed: a pattern of three terms each, its cosine, its sine,
// and what a little more of its frequency makes of both.
type flutter struct {
	pattern
	waves  []wave
	middle float64 // time from which their phases count
	reach  float64 // half the length of the course, seconds
}

// wave is one oscillation of the phase.
type wave struct {
	omega    float64 // its angular frequency, rad/s
	size     float64 // of its terms, radians
	cos, sin float64 // as found before, in units of size
	along    bool    // blocks were cut along it
}

// Swing is one wave of a flutter: its frequency in hertz, and its depth: how far the speed
// swings to either side, as a share of it. U are their standard uncertainties.
type Swing struct{ Hz, HzU, Depth, DepthU float64 }

// swings returns the waves, of a motion with the mean rate omega.
func (f *flutter) swings(omega float64) (out []Swing) {
	for k, w := range f.waves {
		i := 3 * k
		c, s, more := f.coef[i], f.coef[i+1], f.coef[i+2]/f.reach
		size, rate := math.Hypot(c, s), w.omega+more
		depth := w.size * size * rate / omega
		// by how much of itself the depth grows with each term
		grows := [3]float64{c / (size * size), s / (size * size), 1 / (f.reach * rate)}
		square := 0.0
		for j, a := range grows {
			for l, b := range grows {
				square += a * b * f.cov.At(i+j, i+l)
			}
		}
		out = append(out, Swing{
			Hz: rate / (2 * math.Pi), HzU: math.Sqrt(f.cov.At(i+2, i+2)) / f.reach / (2 * math.Pi),
			Depth: depth, DepthU: depth * math.Sqrt(square),
		})
	}
	return out
}

// terms returns the phase of the three terms of a wave at time t, its rate and its slope.
func (f *flutter) terms(w wave, t float64) (terms [3]Smooth) {
	u, o := t-f.middle, w.omega
	s, c := math.Sincos(o * u)
	terms[0] = Smooth{Phi: w.size * c, Omega: -w.size * o * s, Alpha: -w.size * o * o * c}
	terms[1] = Smooth{Phi: w.size * s, Omega: w.size * o * c, Alpha: -w.size * o * o * s}
	// the derivative by frequency, of which one over the reach is as likely as a size of one
	k := w.size / f.reach
	p, q := -w.cos*s+w.sin*c, -w.cos*c-w.sin*s // and its derivative by phase
	terms[2] = Smooth{Phi: k * u * p, Omega: k * (p + u*o*q), Alpha: k * (2*o*q - u*o*o*p)}
	return terms
}

// lay lays out the terms as the blocks let them through.
func (f *flutter) lay(blocks []Block) {
	f.columns, f.coef, f.cov = nil, nil, nil
	for _, w := range f.waves {
		columns := [3][]float64{make([]float64, len(blocks)), make([]float64, len(blocks)), make([]float64, len(blocks))}
		for i, b := range blocks {
			h := 1.0
			if !w.along {
				h = passed(w.omega * b.Length / (2 * math.Pi))
			}
			for j, v := range f.terms(w, b.T) {
				columns[j][i] = h * v.Phi
			}
		}
		f.columns = append(f.columns, columns[:]...)
	}
}

// fresh reports whether there is a wave along which no blocks were cut yet.
func (f *flutter) fresh() bool {
	return f != nil && slices.ContainsFunc(f.waves, func(w wave) bool { return !w.along })
}

// has reports whether there is a wave that the course is too short to tell from one of the
// angular frequency omega.
func (f *flutter) has(omega float64) bool {
	return f != nil && slices.ContainsFunc(f.waves, func(w wave) bool { return math.Abs(w.omega-omega) < 2*math.Pi/f.reach })
}

// motion returns the waves at time t in full.
func (f *flutter) motion(t float64) (m Smooth) {
	if f == nil || f.coef == nil {
		return m
	}
	for k, w := range f.waves {
		for j, v := range f.terms(w, t) {
			c := f.coef[3*k+j]
			m.Phi += c * v.Phi
			m.Omega += c * v.Omega
			m.Alpha += c * v.Alpha
		}
	}
	return m
}

// hidden returns what of the waves block i, at time t, does not show.
func (f *flutter) hidden(i int, t float64) float64 {
	if f == nil {
		return 0
	}
	return f.motion(t).Phi - f.at(i)
}

// improve takes the frequencies as found, and reports whether they still move.
func (f *flutter) improve() (moves bool) {
	for k := range f.waves {
		w := &f.waves[k]
		more := f.coef[3*k+2] / f.reach
		w.omega += more
		w.cos, w.sin = f.coef[3*k], f.coef[3*k+1]
		moves = moves || math.Abs(more)*f.reach > 1e-3
	}
	return moves
}

// with returns waves with one more.
func (f *flutter) with(w wave, blocks []Block) *flutter {
	n := len(blocks)
	out := &flutter{middle: (blocks[0].T + blocks[n-1].T) / 2, reach: (blocks[n-1].T - blocks[0].T) / 2}
	if f != nil {
		out.waves = append(out.waves, f.waves...)
	}
	out.waves = append(out.waves, w)
	return out
}

// restore gives the waves back to the motion, and to the points that were smoothed, in
// full, and widens what is known of the motion by what is not known of them, and of when
// they are heard.
func (f *flutter) restore(r *Result, from, to float64) {
	if f == nil || f.coef == nil {
		return
	}
	r.flutter = f
	smooth := f.answers(r)
	fastest, n, unseen := 0.0, len(r.Motion), 0.0
	r.Swings = f.swings((r.Motion[n-1].Phi - r.Motion[0].Phi) / (r.Points[n-1].T - r.Points[0].T))
	for _, w := range r.Swings {
		// two points to a period show no more than that there is one
		if hop := (r.Points[n-1].T - r.Points[0].T) / float64(n-1); 2*w.Hz*hop > 0.45 {
			unseen = math.Hypot(unseen, overtone/math.Sqrt2*w.Depth*r.Motion[n/2].Omega)
		}
	}
	terms, wide := make([]Smooth, len(f.columns)), make([]float64, len(r.Motion))
	for i := range r.Motion {
		m, p := &r.Motion[i], &r.Points[i]
		for k, w := range f.waves {
			fastest = math.Max(fastest, w.omega)
			for j, v := range f.terms(w, p.T) {
				terms[3*k+j] = v
			}
		}
		late := onTheWay / m.Omega * f.motion(p.T).Alpha
		more := 1 + (f.variance(func(j int) float64 { return terms[j].Omega - smooth[j][i].Omega })+late*late+unseen*unseen)/m.OmegaVar
		m.widen(more)
		wide[i] = more
		p.Wave = f.motion(p.T).Phi
		p.Phi += p.Wave
	}
	r.widenBetween(func(i int) float64 { return wide[i] })
	// between the blocks, and to the ends of the course, the motion without waves is smooth
	all := r.Moments()
	if first := all[0]; from < first.T {
		all = append([]Moment{first.on(from, r.prior.q(0))}, all...)
	}
	if last := all[len(all)-1]; to > last.T {
		all = append(all, last.on(to, r.prior.q(len(r.Points)-1)))
	}
	var fine []Moment
	for i, m := range all {
		if i > 0 {
			a := all[i-1]
			h := m.T - a.T
			parts := int(math.Ceil(h * fastest * perPeriod / (2 * math.Pi)))
			for k := 1; k < parts; k++ {
				u := float64(k) / float64(parts)
				fine = append(fine, Moment{a.T + u*h, mixed(a.Smooth, m.Smooth, h, u)})
			}
		}
		fine = append(fine, m)
	}
	for i := range fine {
		fine[i].Smooth = fine[i].plus(f.motion(fine[i].T))
	}
	for i := range r.Motion {
		r.Motion[i] = r.Motion[i].plus(f.motion(r.Points[i].T))
	}
	if r.moments != nil || len(fine) > len(all) {
		r.moments = fine
	}
}

// on returns the motion at time t beyond an end, where changes have the intensity q.
func (m Moment) on(t, q float64) Moment {
	h := t - m.T
	d := math.Abs(h)
	m.T, m.Phi, m.Omega = t, m.Phi+h*(m.Omega+h*m.Alpha/2), m.Omega+h*m.Alpha
	phi := math.Sqrt(m.PhiVar) + d*(math.Sqrt(m.OmegaVar)+d/2*math.Sqrt(m.AlphaVar))
	omega := math.Sqrt(m.OmegaVar) + d*math.Sqrt(m.AlphaVar)
	m.PhiVar = phi*phi + q*math.Pow(d, 5)/20
	m.OmegaVar = omega*omega + q*d*d*d/3
	m.AlphaVar += q * d
	return m
}

// Even returns the points without the waves of a flutter, to be smoothed with what inertia
// they leave.
func (r *Result) Even() []Point { return unwaved(r.Points) }

// Fluttered returns a motion at time t that was found without the waves, with them.
func (r *Result) Fluttered(t float64, s Smooth) Smooth { return s.plus(r.flutter.motion(t)) }

// plus returns the motion with another on top.
func (s Smooth) plus(o Smooth) Smooth {
	s.Phi += o.Phi
	s.Omega += o.Omega
	s.Alpha += o.Alpha
	return s
}

// unwaved returns points without their waves.
func unwaved(p []Point) []Point {
	out := make([]Point, len(p))
	for i, q := range p {
		q.Phi -= q.Wave
		q.Wave = 0
		out[i] = q
	}
	return out
}
