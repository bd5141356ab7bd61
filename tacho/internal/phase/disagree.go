package phase

import (
	"math"
	"slices"
)

// spans are the times, in seconds, over which the rates of the lines are compared.
var spans = [...]float64{0.25, 0.5, 1, 2}

// widen multiplies the variances of the points by what the lines say of
// themselves: in echo or under a voice every line has a phase that drifts in its
// own way, and the lines then disagree about the rate by more than their noise.
// It returns the mean factor, and keeps for drift what the disagreement over each span
// means for the common rate.
func (l *locked) widen(p []Point) float64 {
	n := len(p)
	looks := make([][]comparison, len(spans))
	for k, span := range spans {
		for i := 0; i < n; {
			j := i
			for j < n && p[j].T-p[i].T < span {
				j++
			}
			if j-i < 4 {
				j = min(n, i+4)
			}
			if j-i < 4 {
				break
			}
			looks[k] = append(looks[k], comparison{from: i, to: j})
			i += (j - i + 1) / 2
		}
	}
	l.compare(looks)
	l.looks = looks
	l.factors, l.widened, l.apart = make([][len(spans)]float64, n), make([]float64, n), make([]float64, n)
	sums := make([]dissent, n+1) // of the blocks before each
	for k, span := range spans {
		clear(sums)
		for _, look := range looks[k] {
			d := look.disagreement()
			for i := look.from; i < look.to; i++ {
				sums[i+1].add(d, 1/float64(look.to-look.from))
			}
		}
		for i := range n {
			sums[i+1].add(sums[i], 1)
		}
		lo, hi := 0, 0
		reach := math.Max(1, span)
		for i := range p {
			for p[lo].T < p[i].T-reach {
				lo++
			}
			for hi < n && p[hi].T <= p[i].T+reach {
				hi++
			}
			d := sums[hi]
			d.add(sums[lo], -1)
			// four lines that agree stand for the belief that all is well
			more := math.Max(0, d.excess)
			l.factors[i][k] = 1 + more/(4+d.others)
			if k == 0 {
				l.widened[i] = 1 + more/(4+d.dof)
			}
			// the looks overlap by half: chance doubles
			if surely := more - 3*2*math.Sqrt(d.dof); surely > 0 {
				l.apart[i] = math.Max(l.apart[i], surely/d.info)
			}
		}
	}
	mean := 0.0
	for i := range p {
		p[i].Var *= l.widened[i]
		mean += l.widened[i] / float64(n)
	}
	return mean
}

// A room delays the lines while the rate changes, each in its own way, which moves their
// rates apart, but all of them on the mean, as no echo comes before its sound: what they
// have in common no line contradicts. Where the sound itself is louder than its echo, the
// phase of a line sways about that of the sound and comes back to it. The square of the
// common delay is the share alike of the variance between the lines then, found with the
// rooms of homes, and the delay is shortDelay seconds at most.
//
// In a hall the echo is the louder, and the phase winds on behind that of the sound (Rice
// 1948, Bell System Technical Journal 27: 109, from memory): the common delay grows faster
// than the spread of the delays, and reaches it where they spread by asMuch seconds. It is
// longestDelay at most. All lines have it, and go on to fit the motion found.
const (
	alike, shortDelay    = 0.03, 0.01
	asMuch, longestDelay = 0.01, 0.1
)

// delay finds how late a hall may make the motion, by how much the rates of the lines
// differ for the slopes, alpha, within the reach over which that was found.
func (l *locked) delay(motion []Smooth, alpha []float64) {
	n := len(motion)
	squares := make([]float64, n+1)
	for i, a := range alpha {
		squares[i+1] = squares[i] + a*a
	}
	lo, hi := 0, 0
	for i := range motion {
		for l.since[lo] < l.since[i]-1 {
			lo++
		}
		for hi < n && l.since[hi] <= l.since[i]+1 {
			hi++
		}
		if slope := (squares[hi] - squares[lo]) / float64(hi-lo); slope > 0 {
			motion[i].Late = math.Min(l.apart[i]/slope/asMuch, longestDelay)
		}
	}
}

// drift widens what is known of the motion by what the lines say of it in the end. They
// disagree the more the longer one looks, as an echo changes slowly: the longer the
// stretch over which the motion is in effect averaged, the more of that is in it. And
// it matters more where few of the lines have most of the weight, which makes the
// phases no noisier from block to block, so that widen leaves it out. The motion is still
// without its waves, whose slopes count as well.
func (l *locked) drift(r *Result, waves *flutter) {
	alpha := make([]float64, len(r.Motion))
	for i, m := range r.Motion {
		alpha[i] = m.Alpha + waves.motion(r.Points[i].T).Alpha
	}
	l.delay(r.Motion, alpha)
	// a straight line through phases of this variance over so many seconds, in octaves
	// above the first span, would know the rate as well
	octaves := make([]float64, len(r.Motion))
	for i, m := range r.Motion {
		octaves[i] = math.Log2(math.Cbrt(12*r.Points[i].Var*l.blocks[i].Length/2/m.OmegaVar) / spans[0])
	}
	swayed := l.swayed(r.Motion, alpha, octaves)
	for i := range r.Motion {
		m := &r.Motion[i]
		f := l.factors[i]
		x := math.Max(0, math.Min(octaves[i], float64(len(spans)-1)))
		k := min(int(x), len(spans)-2)
		worse := f[k] * math.Pow(f[k+1]/f[k], x-float64(k)) / l.widened[i]
		worse = math.Max(1, worse) // also where nothing was measured
		late := shortDelay * alpha[i]
		worse += math.Min(alike*l.apart[i], late*late) / m.OmegaVar
		m.Sway = swayed[i] / m.OmegaVar / worse
		if worse == 1 {
			continue
		}
		m.Wide = worse
		m.PhiVar *= worse
		m.OmegaVar *= worse
		m.AlphaVar *= worse
	}
}

// comparison compares the rates of all lines over blocks from to to-1.
type comparison struct {
	from, to int
	// over the lines: their number, the sum of their weights, of the squares of these,
	// and of the weights times the rates and the squares of those, relative to the
	// smoothed rate
	lines, w, ww, wx, wxx float64
	// of the line with the most weight: that, its order, and by how much its amplitude
	// grows, relative and per second
	heavy, order, grows float64
}

// dissent is what lines say of their disagreement: by how much the sum of the squared
// deviations of their rates from the common one, in units of their variance, exceeds its
// degrees of freedom, and these; how many lines there are in effect besides one; and by
// how much the excess grows with the variance that is added to the rate of each.
type dissent struct{ excess, dof, others, info float64 }

// add adds so many times e.
func (d *dissent) add(e dissent, times float64) {
	d.excess += times * e.excess
	d.dof += times * e.dof
	d.others += times * e.others
	d.info += times * e.info
}

// disagreement returns how the lines disagree.
//
// An echo moves the rates of all lines by about as much, whatever their noise. The
// variance that it adds to each follows from the excess (the method of moments of
// DerSimonian and Laird 1986, Controlled Clinical Trials 7: 177, from memory), and the
// mean has of it what the clearest line weighs: where that has nearly all the weight,
// it hardly differs from the mean, and the others tell how far both may be off.
func (c comparison) disagreement() dissent {
	if c.lines < 2 {
		return dissent{}
	}
	dof := c.lines - 1
	return dissent{c.wxx - c.wx*c.wx/c.w - dof, dof, c.w*c.w/c.ww - 1, c.w - c.ww/c.w}
}

// compare fills in comparisons, from sums over all blocks before each.
func (l *locked) compare(looks [][]comparison) {
	n := len(l.blocks)
	type sums struct{ s, ts, tts float64 } // squares of the windows' sums, by powers of time
	windows := make([]sums, n+1)
	turned, back := make([]complex128, n), make([]complex128, n)
	for i := range turned {
		t, s := l.since[i], l.sum[i]*l.sum[i]
		w := windows[i]
		windows[i+1] = sums{w.s + s, w.ts + t*s, w.tts + t*t*s}
		sn, cs := math.Sincos(l.theta[i])
		back[i] = complex(cs, -sn)
	}
	for _, span := range looks {
		for k := range span {
			span[k] = comparison{from: span[k].from, to: span[k].to}
		}
	}
	noise, y, ty := make([]float64, n+1), make([]complex128, n+1), make([]complex128, n+1)
	top := slices.Max(l.used)
	for c := range l.lines {
		for i := range turned {
			turned[i] = 1
		}
		for m := 1; m <= top; m++ {
			// what disturbs a line goes on from block to block: here it counts in full
			line, floor := l.lines[c][m-1][:n], l.between[c][m-1][:n]
			for i := range turned {
				turned[i] *= back[i]
				v, t := line[i]*turned[i], l.since[i]
				re, im := real(v)*l.sum[i], imag(v)*l.sum[i]
				noise[i+1] = noise[i] + floor[i]
				y[i+1], ty[i+1] = y[i]+complex(re, im), ty[i]+complex(re*t, im*t)
			}
			fm := float64(m)
			for _, span := range looks {
				for k := range span {
					q := &span[k]
					if m > slices.Min(l.used[q.from:q.to]) {
						continue
					}
					a, b := &windows[q.from], &windows[q.to]
					energy := b.s - a.s
					s := (noise[q.to] - noise[q.from]) / float64(q.to-q.from)
					sum := y[q.to] - y[q.from]
					mean := sum / complex(energy, 0)
					p := real(mean)*real(mean) + imag(mean)*imag(mean)
					if !(s > 0) || p*energy < 12*s {
						continue // a line that hardly stands out has no opinion, nor has digital silence
					}
					mid := (b.ts - a.ts) / energy
					away := ty[q.to] - ty[q.from] - sum*complex(mid, 0)
					num := real(mean)*imag(away) - imag(mean)*real(away)
					den := p * (b.tts - a.tts - mid*(b.ts-a.ts))
					rate := num / den / fm
					weight := 2 * fm * fm * den / s * 0.75 // Hann blocks share noise
					if weight > q.heavy {
						q.heavy, q.order = weight, fm
						q.grows = (real(mean)*real(away) + imag(mean)*imag(away)) / den
					}
					q.w += weight
					q.ww += weight * weight
					q.wx += weight * rate
					q.wxx += weight * rate * rate
					q.lines++
				}
			}
		}
	}
}
