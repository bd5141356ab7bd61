package phase

import (
	"math"
	"slices"
)

// Result is a followed course.
type Result struct {
	Blocks []Block
	// Motion is the smoothed motion of the first harmonic at each block.
	Motion []Smooth
	// Points are the phases that were smoothed.
	Points []Point
	// Q is the intensity of changes of acceleration that the sound shows: the
	// median over the course, or calmest times the one that explains all of it, and as
	// voices are judged, whose pulses come early or late, too: as if none did.
	Q float64
	// Jitter is by how much single pulses come early or late, each on its own: root mean
	// square, as a share of the time from one to the next; 0 where none shows.
	Jitter float64
	// Swings are the waves of a flutter; nil where none shows, and of a course that was
	// followed in pieces.
	Swings []Swing
	// Corner is the corner frequency, in hertz, of a high-pass whose delay was taken out of the
	// lines, and CornerU its standard uncertainty, by the kind of filter taken for it; 0 where
	// none was taken out, and of a course that was followed in pieces.
	Corner, CornerU float64
	// Inflation is the factor by which the lines scatter more than their noise
	// explains, at least 1, mean over the course; the variances include it.
	Inflation float64
	// Coherence is the share of the lines' power that keeps its phase along the
	// course: near 1 for a rotor close by, less in echo, little for a voice.
	Coherence float64
	// Clear is the same share where lines count the less the more something passes
	// them, if that was asked.
	Clear float64
	// SNR is the power of the lines over the noise between them, per block.
	SNR []float64
	// Lines is the strength of each harmonic over the course: the mean
	// normalised power above noise.
	Lines []float64
	// Like and LikeSteady are the log likelihoods with intensity Q and with
	// a steady rate.
	Like, LikeSteady float64

	// jittered is the factor by which a jitter multiplies the variance of a rate
	jittered float64
	// from and to are the times between which the lines agree with the motion
	from, to float64

	prior     Prior
	flutter   *flutter
	moments   []Moment // between the blocks, too; nil where those are near each other
	noise     [][][]float64
	summaries []summary // instead of the blocks' lines
}

// Noise returns the noise variance per sample around harmonic m (0 is the
// first) of channel c at block i.
func (r *Result) Noise(i, c, m int) float64 { return r.noise[c][m][i] }

// Slowest returns the lowest angular rate, in rad/s.
func (r *Result) Slowest() float64 {
	lo := math.Inf(1)
	for _, m := range r.Motion {
		lo = math.Min(lo, m.Omega)
	}
	return lo
}

// Fastest returns the highest angular rate, in rad/s.
func (r *Result) Fastest() float64 {
	hi := 0.0
	for _, m := range r.Motion {
		hi = math.Max(hi, m.Omega)
	}
	return hi
}

// QAt returns the intensity of changes of acceleration at block i.
func (r *Result) QAt(i int) float64 { return r.prior.q(i) }

// Spread returns the mean relative standard uncertainty of the rate.
func (r *Result) Spread() float64 {
	sum := 0.0
	for _, m := range r.Motion {
		sum += math.Sqrt(m.OmegaVar) / m.Omega
	}
	return sum / float64(len(r.Motion))
}

// around returns the relative error to expect of the motion near block i: twice
// the mean standard uncertainty within reach seconds.
func (r *Result) around(i int, reach float64) float64 {
	t := r.Blocks[i].T
	sum, n := 0.0, 0.0
	see := func(j int) { sum += math.Sqrt(r.Motion[j].OmegaVar) / r.Motion[j].Omega; n++ }
	for j := i; j >= 0 && r.Blocks[j].T >= t-reach; j-- {
		see(j)
	}
	for j := i + 1; j < len(r.Blocks) && r.Blocks[j].T <= t+reach; j++ {
		see(j)
	}
	return 2*sum/n + 2e-5
}

// expected carries the relative errors to expect over to new blocks.
func (r *Result) expected(blocks []Block, known []float64) []float64 {
	out := make([]float64, len(blocks))
	j := 0
	for i, b := range blocks {
		for j+1 < len(known) && math.Abs(r.Blocks[j+1].T-b.T) <= math.Abs(r.Blocks[j].T-b.T) {
			j++
		}
		out[i] = known[j]
	}
	return out
}

// course returns the motion found as a course that covers what the course c does.
func (r *Result) course(c Course) Course {
	m := r.Moments()
	last := m[len(m)-1]
	var next Course
	if first := c.T[0]; first < m[0].T-1e-6 {
		next = Course{T: []float64{first}, Rate: []float64{rateAt(m[0].Smooth, first-m[0].T)}}
	}
	for _, s := range m {
		next.T = append(next.T, s.T)
		next.Rate = append(next.Rate, rateAt(s.Smooth, 0))
	}
	if end := c.T[len(c.T)-1]; end > last.T+1e-6 {
		next.T = append(next.T, end)
		next.Rate = append(next.Rate, rateAt(last.Smooth, end-last.T))
	}
	return next
}

func rateAt(s Smooth, dt float64) float64 {
	f := (s.Omega + s.Alpha*dt) / (2 * math.Pi)
	return math.Max(f, 0.2*s.Omega/(2*math.Pi))
}

// calmest is the share of the intensity for a whole course that its calm parts
// are given when the course is judged: few pushes make a large one.
const calmest = 0.03

// finish judges the result: strength of the lines, scatter, steadiness. alone is how many
// times as intense its changes look if no pulse has a jitter.
func (r *Result) finish(l *locked, alone float64) {
	n := len(r.Blocks)
	r.Lines = make([]float64, len(l.between[0]))
	r.SNR = make([]float64, n)
	r.noise = l.between
	all := make([]float64, n) // noise
	for c := range l.lines {
		for m, line := range l.lines[c] {
			noise := l.between[c][m]
			for i, v := range line {
				p := real(v)*real(v) + imag(v)*imag(v)
				r.Lines[m] += (p/noise[i] - 1) / float64(n)
				r.SNR[i] += p - noise[i]
				all[i] += noise[i]
			}
		}
	}
	for i, v := range all {
		r.SNR[i] /= v
	}
	r.LikeSteady = likeOf(r.Points, r.prior.steady())
	q := r.prior.each(n)
	slices.Sort(q)
	r.Q = alone * math.Max(q[n/2], r.Q*calmest)
	r.Coherence, _ = l.coherence(0, n)
	if l.clear.all > 0 {
		r.Clear = l.clear.kept / l.clear.all
	}
	r.from, r.to = l.agreeing()
}
