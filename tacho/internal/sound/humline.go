package sound

import (
	"math"

	"rotorhum/tacho/internal/work"
)

// The amplitudes of the lines of a hum are first those of Hann pieces of two halves of
// a knot, one after every half. Every sample lies in two of them: so each line is turned
// to rest once, summed up over short segments, together with its first moment there,
// and the window, nearly straight over a segment, weighs the sums.
const humSegments = 64 // to a knot

// segment holds the sum of the turned samples and that of their distance from
// the middle of the segment times them, real and imaginary parts.
type segment struct{ re, im, dre, dim float64 }

// edge returns where segment q begins, counted from the start of the recording.
func (h *Hum) edge(q int) int { return q/humSegments*h.step + q%humSegments*h.step/humSegments }

// pieces returns the amplitudes of the lines in the pieces: channel, line, piece.
func (s *Source) pieces(h *Hum) (d [][][]complex128, err error) {
	const half = humSegments / 2
	d = make([][][]complex128, s.Channels)
	sums := make([][][2 * half]segment, s.Channels) // of the last two halves
	for c := range d {
		d[c], sums[c] = make([][]complex128, len(h.Lines)), make([][2 * half]segment, len(h.Lines))
	}
	var weight, slope [2 * half]float64
	for q := range weight {
		u := 2 * math.Pi / (2 * half)
		sn, cs := math.Sincos(u * (float64(q) + 0.5))
		weight[q], slope[q] = 1-cs, u*sn*humSegments/float64(h.step)
	}
	var x [][]float64
	for first := 0; h.edge(first+half) <= s.Frames; first += half {
		from := h.edge(first)
		if x, err = s.Block(x, from, h.edge(first+half)-from); err != nil {
			return nil, err
		}
		work.Each(s.Channels*len(h.Lines), func(i int) {
			c, l := i/len(h.Lines), i%len(h.Lines)
			w := 2 * math.Pi * float64(h.Lines[l]) * h.Base / s.Rate
			g := &sums[c][l]
			copy(g[:half], g[half:])
			for q := range half {
				a, b := h.edge(first+q), h.edge(first+q+1)
				g[half+q] = atRest(x[c][a-from:b-from], w, a)
			}
			if first == 0 {
				return
			}
			var re, im float64
			for q, v := range g {
				re += weight[q]*v.re + slope[q]*v.dre
				im += weight[q]*v.im + slope[q]*v.dim
			}
			n := float64(h.step)
			d[c][l] = append(d[c][l], complex(2*re/n, 2*im/n))
		})
	}
	return d, nil
}

// fourTurns returns cosine and sine of w start and of the three next multiples.
func fourTurns(w float64, start int) (c, s [4]float64) {
	s[0], c[0] = math.Sincos(w * float64(start))
	rs, rc := math.Sincos(w)
	for i := range 3 {
		c[i+1], s[i+1] = c[i]*rc-s[i]*rs, s[i]*rc+c[i]*rs
	}
	return c, s
}

// atRestGo returns the sums of the samples in x, of which the first is number
// start of the recording, times exp(-j w i).
func atRestGo(x []float64, w float64, start int) (g segment) {
	pc, ps := fourTurns(w, start)
	rs, rc := math.Sincos(4 * w) // four at a time, each a turn of four steps on
	p0, p1, p2, p3 := pc[0], pc[1], pc[2], pc[3]
	q0, q1, q2, q3 := ps[0], ps[1], ps[2], ps[3]
	d := -float64(len(x)-1) / 2
	i := 0
	for ; i+4 <= len(x); i += 4 {
		v := x[i : i+4 : i+4]
		a0, a1, a2, a3 := v[0]*p0, v[1]*p1, v[2]*p2, v[3]*p3
		b0, b1, b2, b3 := v[0]*q0, v[1]*q1, v[2]*q2, v[3]*q3
		a, b := a0+a1+(a2+a3), b0+b1+(b2+b3)
		g.re += a
		g.im -= b
		g.dre += d*a + (a1 + 2*a2 + 3*a3)
		g.dim -= d*b + (b1 + 2*b2 + 3*b3)
		p0, q0 = p0*rc-q0*rs, q0*rc+p0*rs
		p1, q1 = p1*rc-q1*rs, q1*rc+p1*rs
		p2, q2 = p2*rc-q2*rs, q2*rc+p2*rs
		p3, q3 = p3*rc-q3*rs, q3*rc+p3*rs
		d += 4
	}
	pc, ps = [4]float64{p0, p1, p2}, [4]float64{q0, q1, q2}
	for k := 0; i < len(x); i, k = i+1, k+1 {
		a, b := x[i]*pc[k], x[i]*ps[k]
		g.re += a
		g.im -= b
		g.dre += d * a
		g.dim -= d * b
		d++
	}
	return g
}

// subtract takes the hum out of x, which begins at frame start.
func (h *Hum) subtract(x [][]float64, start int) {
	for c := range x {
		for l, m := range h.Lines {
			w := 2 * math.Pi * float64(m) * h.Base / h.rate
			a := h.amp[c][l]
			for i := 0; i < len(x[c]); {
				// between two knots the amplitude is a straight line
				k := min((start+i)/h.step, len(a)-2)
				end := len(x[c])
				if k < len(a)-2 {
					end = min(end, (k+1)*h.step-start)
				}
				rise := (a[k+1] - a[k]) / complex(float64(h.step), 0)
				at := a[k] + rise*complex(float64(start+i-k*h.step), 0)
				takeLine(x[c][i:end], w, start+i, at, rise)
				i = end
			}
		}
	}
}

// takeLineGo takes the real part of (amp + i rise) exp(j w (start+i)) from x[i].
func takeLineGo(x []float64, w float64, start int, amp, rise complex128) {
	pc, ps := fourTurns(w, start)
	rs, rc := math.Sincos(4 * w) // four at a time, each a turn of four steps on
	p0, p1, p2, p3 := pc[0], pc[1], pc[2], pc[3]
	q0, q1, q2, q3 := ps[0], ps[1], ps[2], ps[3]
	re, im, dr, di := real(amp), imag(amp), real(rise), imag(rise)
	i := 0
	for ; i+4 <= len(x); i += 4 {
		v := x[i : i+4 : i+4]
		v[0] -= re*p0 - im*q0
		v[1] -= (re+dr)*p1 - (im+di)*q1
		v[2] -= (re+2*dr)*p2 - (im+2*di)*q2
		v[3] -= (re+3*dr)*p3 - (im+3*di)*q3
		re += 4 * dr
		im += 4 * di
		p0, q0 = p0*rc-q0*rs, q0*rc+p0*rs
		p1, q1 = p1*rc-q1*rs, q1*rc+p1*rs
		p2, q2 = p2*rc-q2*rs, q2*rc+p2*rs
		p3, q3 = p3*rc-q3*rs, q3*rc+p3*rs
	}
	pc, ps = [4]float64{p0, p1, p2}, [4]float64{q0, q1, q2}
	for k := 0; i < len(x); i, k = i+1, k+1 {
		x[i] -= re*pc[k] - im*ps[k]
		re, im = re+dr, im+di
	}
}
