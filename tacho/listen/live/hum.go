package live

import (
	"math"
	"math/cmplx"
)

const (
	// humSeconds is the length of sound in which a hum of the supply is looked
	// for, humEvery how often.
	humSeconds, humEvery = 6.0, 2.0
	// humFirst is the least length of sound for a first look.
	humFirst = 2.0
	// humLines is the number of lines that are taken out.
	humLines = 30
	// humMemory is the time, in seconds, in which the canceller learns: it takes
	// out what keeps its phase for longer, some 0.3 Hz around every line.
	humMemory = 1.0
)

// hum takes the lines of the electric supply out of a sound as it comes: each is
// estimated by least mean squares against a sine and a cosine of its own, a notch
// as narrow as the time it learns in is long (Widrow and others 1975, "Adaptive
// noise cancelling: principles and applications").
type hum struct {
	fs    float64
	heard memory // the sound as it came
	base  float64
	theta float64 // phase of the base at the next sample
	amp   []complex128
	look  int  // the sample at which the next look is due
	gone  int  // looks in a row that found nothing
	fresh bool // a hum was found just now
}

func newHum(fs float64) *hum {
	return &hum{fs: fs, heard: memory{keep: int(humSeconds * fs)}, look: int(humFirst * fs)}
}

// take takes in the next samples and returns them without the hum. When a hum is
// noticed for the first time, it is taken out of what clean holds as well.
func (h *hum) take(x []float64, clean *memory) []float64 {
	h.heard.add(x)
	out := append([]float64(nil), x...)
	h.fresh = false
	if h.heard.end() >= h.look {
		h.look += int(humEvery * h.fs)
		h.find(len(x), clean)
	}
	h.cancel(out)
	return out
}

// find looks for a hum in the last seconds, of which the newest n samples are
// still to be cleaned.
func (h *hum) find(n int, clean *memory) {
	x, _ := h.heard.from(h.heard.end() - int(humSeconds*h.fs))
	src, err := sourceOf(x, h.fs, h.fs)
	if err != nil {
		return
	}
	found, err := src.FindHum()
	if err != nil || found == nil {
		if h.gone++; h.gone >= 3 {
			h.base, h.amp = 0, nil
		}
		return
	}
	h.gone = 0
	if h.base != 0 {
		h.base = found.Base
		return
	}
	h.base, h.fresh = found.Base, true
	for m := 1; m <= humLines && float64(m)*h.base < 0.45*h.fs; m++ {
		h.amp = append(h.amp, lineOf(x, float64(m)*h.base/h.fs))
	}
	// the phases above count from the first sample of x
	h.theta = 2 * math.Pi * h.base / h.fs * float64(len(x)-n)
	past, _ := clean.from(clean.start)
	for i := range past {
		back := 2 * math.Pi * h.base / h.fs * float64(len(past)-i)
		for k, a := range h.amp {
			s, c := math.Sincos(float64(k+1) * (h.theta - back))
			past[i] -= real(a)*c - imag(a)*s
		}
	}
}

// lineOf returns the complex amplitude of the line at f cycles per sample in x.
func lineOf(x []float64, f float64) complex128 {
	var sum complex128
	weight := 0.0
	turn := cmplx.Rect(1, -2*math.Pi*f)
	at := complex(1, 0)
	bell, bellTurn := complex(1, 0), cmplx.Rect(1, 2*math.Pi/float64(len(x)))
	for _, v := range x {
		w := 1 - real(bell)
		sum += complex(w*v, 0) * at
		weight += w
		at *= turn
		bell *= bellTurn
	}
	return sum * complex(2/weight, 0)
}

// cancel takes the hum out of x, the next samples, and learns from what is left.
func (h *hum) cancel(x []float64) {
	if h.base == 0 {
		return
	}
	w := 2 * math.Pi * h.base / h.fs
	at, turn := make([]complex128, len(h.amp)), make([]complex128, len(h.amp))
	for k := range h.amp {
		m := float64(k + 1)
		at[k], turn[k] = cmplx.Rect(1, math.Mod(m*h.theta, 2*math.Pi)), cmplx.Rect(1, m*w)
	}
	learn := 2 / (humMemory * h.fs)
	for i, v := range x {
		for k, a := range h.amp {
			v -= real(a)*real(at[k]) - imag(a)*imag(at[k])
		}
		x[i] = v
		e := complex(learn*v, 0)
		for k, p := range at {
			h.amp[k] += e * cmplx.Conj(p)
			at[k] = p * turn[k]
		}
	}
	h.theta = math.Mod(h.theta+w*float64(len(x)), 2*math.Pi)
}

// near reports whether f, with standard uncertainty u, may be a line of a supply or
// half one: one that was found, or, where none was, the usual ones, and as long as
// nothing can be found yet all of the usual ones' multiples.
func (h *hum) near(f, u float64) bool {
	on := func(base, last, share float64) bool {
		m := math.Round(f / base)
		return m >= 1 && m <= last && math.Abs(f-m*base) < share*f+2*u
	}
	switch {
	case h.base != 0:
		return on(h.base/2, math.Inf(1), 1e-3)
	case float64(h.heard.end()) < (humFirst+0.5)*h.fs:
		return on(50, 12, 0.0025) || on(60, 12, 0.0025)
	}
	return on(50, 2, 0.0025) || on(60, 2, 0.0025)
}
