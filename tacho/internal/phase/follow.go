package phase

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"

	"rotorhum/tacho/internal/sound"
)

// Options bounds what is followed.
type Options struct {
	// Harmonics is the number of harmonics used at most.
	Harmonics int
	// Memory is the time over which the lines are taken to keep their
	// amplitudes and phases, in seconds.
	Memory float64
}

// Result is a followed course.
type Result struct {
	Blocks []Block
	// Motion is the smoothed motion of the first harmonic at each block.
	Motion []Smooth
	// Points are the phases that were smoothed.
	Points []Point
	// Q is the intensity of changes of acceleration that the sound shows.
	Q float64
	// Inflation is the factor by which the scatter of the phases exceeds what
	// their noise explains, at least 1; the variances of Motion include it.
	Inflation float64
	// Coherence is the share of the lines' power that keeps its phase along the
	// course: near 1 for a rotor close by, less in echo, little for a voice.
	Coherence float64
	// SNR is the power of the lines over the noise between them, per block.
	SNR []float64
	// Lines is the strength of each harmonic over the course: the mean
	// normalised power above noise.
	Lines []float64
	// Like and LikeSteady are the log likelihoods with intensity Q and with
	// a steady rate.
	Like, LikeSteady float64

	start Smooth
	sd    [3]float64
	noise [][][]float64
}

// Noise returns the noise variance per sample around harmonic m (0 is the
// first) of channel c at block i.
func (r *Result) Noise(i, c, m int) float64 { return r.noise[i][c][m] }

// locked is the state of the lines along the blocks.
type locked struct {
	blocks []Block
	theta  []float64     // correction to the phase of the course per block
	noise  [][][]float64 // block, channel, harmonic
	used   int           // harmonics used
	// kept and all are the lines' power that agrees with the local mean, and
	// the whole of it
	kept, all float64
}

// Follow improves a course. rough is the relative error to expect of it.
func Follow(src *sound.Source, c Course, rough float64, opt Options) (*Result, error) {
	const cycles, shortest = 4, 0.008
	var r *Result
	for pass := 0; pass < 3; pass++ {
		top := 0.0
		for _, f := range c.Rate {
			top = math.Max(top, f)
		}
		harmonics := max(1, min(opt.Harmonics, int(0.45*src.Rate/top)))
		blocks, err := Demodulate(src, c, harmonics, cycles, shortest)
		if err != nil {
			return nil, err
		}
		if len(blocks) < 5 {
			return nil, nil
		}
		l := &locked{blocks: blocks, theta: make([]float64, len(blocks))}
		l.measureNoise(harmonics)
		start := Smooth{Phi: blocks[0].Phi, Omega: 2 * math.Pi * c.At(blocks[0].T)}
		sd := [3]float64{30, 0.3 * start.Omega, 4 * start.Omega}
		r = &Result{Blocks: blocks, start: start, sd: sd}
		scale := start.Omega * start.Omega
		turns := []float64{0.06, 0.12, 0.25}
		if pass > 0 {
			turns = []float64{0.25, opt.Memory}
		}
		for _, memory := range turns {
			mean := 0.0
			for _, b := range blocks {
				mean += c.At(b.T) / float64(len(blocks))
			}
			memory = math.Max(memory, 6/mean)
			l.used = max(1, min(harmonics, int(0.2/(mean*rough*memory))))
			r.Points = l.measure(memory)
			r.Motion, r.Q, r.Like = Fit(r.Points, 1e-6*scale, 1e3*scale, start, sd)
			worst := 0.0
			for i, s := range r.Motion {
				l.theta[i] = s.Phi - blocks[i].Phi
				worst += math.Sqrt(s.OmegaVar) / s.Omega / float64(len(r.Motion))
			}
			rough = math.Min(rough, 2*worst+2e-5)
		}
		// the improved course for the next pass
		next := Course{}
		next.T = append(next.T, c.T[0])
		next.Rate = append(next.Rate, rateAt(r.Motion[0], c.T[0]-blocks[0].T))
		for i, s := range r.Motion {
			next.T = append(next.T, blocks[i].T)
			next.Rate = append(next.Rate, rateAt(s, 0))
		}
		end := c.T[len(c.T)-1]
		if last := blocks[len(blocks)-1].T; end > last+1e-6 {
			next.T = append(next.T, end)
			next.Rate = append(next.Rate, rateAt(r.Motion[len(blocks)-1], end-last))
		}
		c = next
		r.finish(l, start, sd)
	}
	return r, nil
}

func rateAt(s Smooth, dt float64) float64 {
	f := (s.Omega + s.Alpha*dt) / (2 * math.Pi)
	return math.Max(f, 0.2*s.Omega/(2*math.Pi))
}

// measureNoise estimates the noise around each harmonic from the half orders
// beside it over about a second.
func (l *locked) measureNoise(harmonics int) {
	n := len(l.blocks)
	channels := len(l.blocks[0].Y)
	l.noise = make([][][]float64, n)
	// per channel and harmonic, the median over time of the power between lines
	const half = 8
	var buf []float64
	for i := range l.noise {
		l.noise[i] = make([][]float64, channels)
	}
	for c := 0; c < channels; c++ {
		for i := range l.noise {
			l.noise[i][c] = make([]float64, harmonics)
		}
		for m := 1; m <= harmonics; m++ {
			for i := 0; i < n; i += half / 2 {
				buf = buf[:0]
				for j := max(0, i-half); j <= min(n-1, i+half); j++ {
					y := l.blocks[j].Y[c]
					for h := 2*m - 1; h <= 2*m+1; h += 2 {
						v := y[h-1]
						buf = append(buf, real(v)*real(v)+imag(v)*imag(v))
					}
				}
				slices.Sort(buf)
				// mean of exponential power from its median
				v := buf[len(buf)/2] / math.Ln2
				for j := i; j < min(n, i+half/2); j++ {
					l.noise[j][c][m-1] = v + 1e-30
				}
			}
		}
	}
}

// measure returns the phase of the comb at each block, given lines that keep
// their amplitudes and phases for about memory seconds.
func (l *locked) measure(memory float64) []Point {
	n := len(l.blocks)
	channels := len(l.blocks[0].Y)
	points := make([]Point, n)
	grad := make([]float64, n)
	l.kept, l.all = 0, 0
	info := make([]float64, n)
	turn, weight := make([]float64, n), make([]float64, n)
	y := make([]complex128, n)
	a := make([]complex128, n)
	for c := 0; c < channels; c++ {
		for m := 1; m <= l.used; m++ {
			fm := float64(m)
			for i, b := range l.blocks {
				s, co := math.Sincos(fm * l.theta[i])
				y[i] = b.Y[c][2*m-1] * complex(co, -s)
			}
			l.amplitudes(a, y, c, m, memory)
			for i, b := range l.blocks {
				s := l.noise[i][c][m-1]
				// a is the expected y
				g := 2 * (real(a[i])*imag(y[i]) - imag(a[i])*real(y[i])) * fm / s
				p := real(a[i])*real(a[i]) + imag(a[i])*imag(a[i])
				if e := real(y[i])*real(y[i]) + imag(y[i])*imag(y[i]) - s; p > 0 {
					l.kept += (real(a[i])*real(y[i]) + imag(a[i])*imag(y[i])) / s
					l.all += e / s
				}
				grad[i] += g
				info[i] += 2 * fm * fm * p / s
				if i > 0 {
					q := 2 * fm * fm * p / s
					z := a[i] * cmplx.Conj(a[i-1])
					turn[i] += q * cmplx.Phase(z) / fm
					weight[i] += q
				}
				_ = b
			}
		}
	}
	psi := 0.0
	for i, b := range l.blocks {
		if weight[i] > 0 {
			psi += turn[i] / weight[i]
		}
		points[i] = Point{T: b.T, Var: math.Inf(1), Phi: b.Phi + l.theta[i] + psi}
		if info[i] > 1e-9 {
			e := grad[i] / info[i]
			// beyond a radian of the mean line the tangent is no guide
			points[i].Phi += 0.6 * math.Tanh(e/0.6)
			// neighbouring Hann blocks share noise: 4/3 in the long run
			points[i].Var = 4.0 / 3 / info[i]
		}
	}
	return points
}

// amplitudes writes the expected value of y at every block: the local mean of
// the line, shrunk to nothing where the line does not stand out of the noise.
func (l *locked) amplitudes(a, y []complex128, c, m int, memory float64) {
	n := len(y)
	lo, hi := 0, 0
	for i := range y {
		t := l.blocks[i].T
		for l.blocks[lo].T < t-memory {
			lo++
		}
		for hi < n && l.blocks[hi].T <= t+memory {
			hi++
		}
		var sum complex128
		var e, v float64
		for j := lo; j < hi; j++ {
			u := (l.blocks[j].T - t) / memory
			k := 1 - u*u
			g := k * l.blocks[j].Sum
			sum += complex(g, 0) * y[j]
			e += g * l.blocks[j].Sum
			v += g * g
		}
		s := l.noise[i][c][m-1]
		mean := sum / complex(e, 0)
		p := real(mean)*real(mean) + imag(mean)*imag(mean)
		// noise of the mean, with neighbours sharing noise
		nv := 4.0 / 3 * s * v / (e * e)
		gain := 0.0
		if p > 3*nv {
			gain = 1 - nv/p
		}
		a[i] = mean * complex(gain*l.blocks[i].Sum, 0)
	}
}

// Steady returns the motion at the end of the course if its rate is taken
// to be the same all the time.
func (r *Result) Steady() Smooth {
	s, _ := Run(r.Points, 0, r.start, [3]float64{r.sd[0], r.sd[1], 1e-9})
	m := s[len(s)-1] // the last has seen all points
	m.OmegaVar *= r.Inflation
	return m
}

// Sample returns count equally likely courses between blocks from and to.
func (r *Result) Sample(from, to, count int, src *rand.Rand) [][]Smooth {
	p := append([]Point(nil), r.Points[from:to]...)
	for i := range p {
		p[i].Var *= r.Inflation
	}
	start := r.Motion[from]
	sd := [3]float64{r.sd[0], r.sd[1], r.sd[2]}
	return Draws(p, r.Q*r.Inflation, start, sd, count, src)
}

// finish judges the result: strength of the lines, scatter, steadiness.
func (r *Result) finish(l *locked, start Smooth, sd [3]float64) {
	n := len(r.Blocks)
	r.Lines = make([]float64, len(l.noise[0][0]))
	r.SNR = make([]float64, n)
	r.noise = l.noise
	for i, b := range r.Blocks {
		var line, noise float64
		for c := range b.Y {
			for m := range r.Lines {
				v := b.Y[c][2*m+1]
				p := real(v)*real(v) + imag(v)*imag(v)
				r.Lines[m] += (p/l.noise[i][c][m] - 1) / float64(n)
				line += p - l.noise[i][c][m]
				noise += l.noise[i][c][m]
			}
		}
		r.SNR[i] = line / noise
	}
	_, r.LikeSteady = Run(r.Points, 0, start, [3]float64{sd[0], sd[1], 1e-9})
	// scatter of the phases about the smooth motion, against their noise
	chi, dof := 0.0, 0.0
	for i, p := range r.Points {
		if math.IsInf(p.Var, 1) {
			continue
		}
		d := p.Phi - r.Motion[i].Phi
		v := p.Var - r.Motion[i].PhiVar
		if v > 0.05*p.Var {
			chi += math.Min(d*d/v, 25)
			dof++
		}
	}
	if l.all > 0 {
		r.Coherence = l.kept / l.all
	}
	r.Inflation = 1
	if dof > 0 {
		r.Inflation = math.Max(1, chi/dof)
	}
	for i := range r.Motion {
		r.Motion[i].OmegaVar *= r.Inflation
		r.Motion[i].PhiVar *= r.Inflation
		r.Motion[i].AlphaVar *= r.Inflation
	}
}
