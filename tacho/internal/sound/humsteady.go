package sound

import (
	"math"
	"math/cmplx"
	"slices"

	"rotorhum/tacho/internal/rank"
)

// The lines of a supply keep their amplitudes and phases for as long as nobody switches
// or moves anything. What crosses one of them, or stands near it, as a line of a rotor
// does, is in some of its pieces and not in others, or turns from piece to piece: the
// amplitude is what most pieces agree on, over the whole recording if that tells each of
// them about as well as its neighbours do, else over some seconds around.

// asWell is how much worse, in power, the whole recording may tell the amplitude of a
// piece than its neighbours do.
const asWell = 2.0

// measure fills the amplitudes of the lines at every knot, and corrects the supply's
// frequency.
func (s *Source) measure(h *Hum) error {
	d, err := s.pieces(h)
	if err != nil {
		return err
	}
	h.retune(d)
	for range 4 {
		h.straighten(d)
	}
	knots, steady := s.Frames/h.step+2, h.steady(d)
	h.amp = make([][][]complex128, s.Channels)
	for c := range h.amp {
		h.amp[c] = make([][]complex128, len(h.Lines))
		for l, own := range d[c] {
			a := make([]complex128, knots)
			for k := range a {
				switch {
				case steady && k > 0:
					a[k] = a[0]
				case steady:
					a[k] = agreed(own, nil)
				default:
					a[k] = agreed(h.around(own, k))
				}
			}
			h.amp[c][l] = a
		}
	}
	return nil
}

// around returns the pieces up to half of humSeconds away from a knot, with weights that
// fall to nothing there.
func (h *Hum) around(own []complex128, knot int) ([]complex128, []float64) {
	const reach = int(humSeconds) // in pieces
	middle := 2*knot - 1          // piece j lies around half a knot and j of them
	lo := min(max(0, middle-reach+1), len(own)-1)
	hi := min(len(own), max(middle+reach, lo+1))
	weights := make([]float64, hi-lo)
	for i := range weights {
		weights[i] = 1e-6 + 1 + math.Cos(math.Pi*float64(lo+i-middle)/float64(reach))
	}
	return own[lo:hi], weights
}

// agreed returns the amplitude that most pieces agree on: a mean, weighted if weights are
// given, in which those that differ by more than is usual count less (the likeliest value
// for errors of Cauchy's kind).
func agreed(d []complex128, weights []float64) (a complex128) {
	usual := math.Inf(1) // a mean to begin with
	for range 12 {
		var sum complex128
		all := 0.0
		for i, v := range d {
			w := 1 / (1 + power(v-a)/(2*usual))
			if weights != nil {
				w *= weights[i]
			}
			sum += complex(w, 0) * v
			all += w
		}
		a = sum / complex(all, 0)
		if usual = spread(d, a); usual == 0 {
			break
		}
	}
	return a
}

// spread returns the median of the squared distances of d from a.
func spread(d []complex128, a complex128) float64 {
	p := make([]float64, len(d))
	for i, v := range d {
		p[i] = power(v - a)
	}
	return rank.Select(p, len(p)/2)
}

func power(v complex128) float64 { return real(v)*real(v) + imag(v)*imag(v) }

// found calls see with the pieces of every line that stood out, of any channel.
func (h *Hum) found(d [][][]complex128, see func(m float64, own []complex128)) {
	for c := range d {
		for l, own := range d[c] {
			if slices.Contains(h.Found, h.Lines[l]) {
				see(float64(h.Lines[l]), own)
			}
		}
	}
}

// steady reports whether the whole recording tells the amplitudes of the pieces about as
// well as their neighbours do, for lines with half of the power or more: near others a
// rotor's may stand.
func (h *Hum) steady(d [][][]complex128) bool {
	var still, all float64
	h.found(d, func(_ float64, own []complex128) {
		loud, whole, near := spread(own, 0), spread(own, agreed(own, nil)), math.Inf(1)
		if len(own) >= 5 {
			// the next but one are the nearest that share nothing; the mean of two has half
			// the noise
			p := make([]float64, 0, len(own))
			for j := 2; j+2 < len(own); j++ {
				p = append(p, power(own[j]-(own[j-2]+own[j+2])/2)/1.5)
			}
			near = rank.Select(p, len(p)/2)
		}
		if whole <= asWell*near {
			still += loud
		}
		all += loud
	})
	return 2*still >= all
}

// alikeTurns is the mean of the turns of a line over some time, as vectors of length one,
// from which on they are all the same but for what else is there.
const alikeTurns = 0.7

// retune corrects the supply's frequency by how the lines that stood out turn from piece
// to piece, over longer and longer times as long as they turn alike.
func (h *Hum) retune(d [][][]complex128) {
	for lag := 1; lag < len(d[0][0]); lag *= 2 {
		var num, den, alike, all float64
		h.found(d, func(m float64, own []complex128) {
			// each pair has one vote, as those with something else in them are loud
			var z complex128
			for j := lag; j < len(own); j++ {
				if v := own[j] * cmplx.Conj(own[j-lag]); v != 0 {
					z += v / complex(cmplx.Abs(v)*float64(len(own)-lag), 0)
				}
			}
			loud := spread(own, 0)
			w := cmplx.Abs(z) * loud
			num += w * m * cmplx.Phase(z)
			den += w * m * m
			alike += w
			all += loud
		})
		if !(alike > alikeTurns*all) {
			return
		}
		h.turn(d, num/den/float64(lag))
	}
}

// straighten corrects the supply's frequency by how the lines that stood out turn about
// the amplitude that most of their pieces agree on.
func (h *Hum) straighten(d [][][]complex128) {
	var num, den float64
	h.found(d, func(m float64, own []complex128) {
		a := agreed(own, nil)
		usual := spread(own, a)
		if usual == 0 {
			return
		}
		middle := float64(len(own)-1) / 2
		for j, v := range own {
			w := m * (float64(j) - middle) / (usual + power(v-a)/2)
			num += w * imag(cmplx.Conj(a)*v)
			den += w * m * (float64(j) - middle) * power(a)
		}
	})
	if den > 0 {
		h.turn(d, num/den)
	}
}

// turn corrects the supply's phase by so much from piece to piece, and the pieces with
// it.
func (h *Hum) turn(d [][][]complex128, by float64) {
	h.Base += by / math.Pi * h.rate / float64(h.step)
	for c := range d {
		for l, own := range d[c] {
			for j := range own {
				own[j] *= cmplx.Rect(1, -float64(h.Lines[l])*by*float64(j+1))
			}
		}
	}
}
