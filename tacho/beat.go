package tacho

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// BeatLaw says how the rate of a slow rise and fall of a rotor's sound goes with
// its speed.
type BeatLaw string

// The laws.
const (
	BeatSteady  BeatLaw = "steady"              // the same rate all the time, in Hz
	BeatInverse BeatLaw = "inverse to the spin" // rate times shaft speed is constant, in rev²/s²: a precessing top
)

// ErrNoBeat says that the loudness has no regular rise and fall. Look in another
// range, or in a longer recording.
var ErrNoBeat = errors.New("no beat")

// Beat is a slow, regular rise and fall of the loudness of a rotor.
type Beat struct {
	Law BeatLaw
	// Rate is the rate in Hz of a steady beat, or the product of beat rate and
	// shaft speed in rev²/s².
	Rate Value
	// Swing is how far the loudness swings up and down, in dB from the middle.
	Swing float64
	// Explained is the share of the variance of the loudness that it explains, 0
	// to 1, once a slow trend is taken away.
	Explained float64
	// T are moments in seconds, Level the loudness there in dB and Fitted what
	// trend and beat make of it.
	T, Level, Fitted []float64
}

// FindBeat looks for a beat in the loudness of a rotor that was followed: in the
// SNR of the track's points, between the rates lo and hi, in Hz (BeatSteady) or
// in rev²/s² (BeatInverse).
//
// The loudness in dB is fitted by a trend of second order and one sine of every
// rate in turn, whose phase is the rate times the time or times the integral of
// 1/fr; the best rate is refined and its uncertainty is that of least squares,
// for as many independent readings as the residuals are worth (see
// [FitCoastDown]).
//
// It returns ErrNoBeat if no such beat explains half of what the trend leaves,
// ErrNoReading for a track without points, ErrPulses, ErrTooShort for fewer than two beats and
// ErrOption for a range out of order.
func FindBeat(track *Track, rotor Rotor, law BeatLaw, lo, hi float64) (*Beat, error) {
	return FindBeatWith(track, rotor, law, lo, hi, Watch{})
}

// FindBeatWith is [FindBeat] for a long track: it can show its progress and be
// stopped.
func FindBeatWith(track *Track, rotor Rotor, law BeatLaw, lo, hi float64, w Watch) (*Beat, error) {
	if track == nil || len(track.Points) == 0 {
		return nil, ErrNoReading
	}
	if err := rotor.checkPulses(); err != nil {
		return nil, err
	}
	if !(lo > 0 && hi > lo) || math.IsInf(hi, 1) {
		return nil, optionError("beats from %g to %g: the range must rise from above 0", lo, hi)
	}
	unit := "Hz"
	if law == BeatInverse {
		unit = "rev²/s²"
	} else if law != BeatSteady {
		return nil, optionError("beat law %q: it must be %q or %q", law, BeatSteady, BeatInverse)
	}
	b := &Beat{Law: law}
	turn := make([]float64, len(track.Points)) // beats for a rate of 1
	for i, p := range track.Points {
		if i > 0 {
			q := track.Points[i-1]
			turn[i] = turn[i-1] + p.T - q.T
			if law == BeatInverse {
				turn[i] = turn[i-1] + (p.T-q.T)*float64(rotor.Pulses)/2*(1/float64(p.Tone)+1/float64(q.Tone))
			}
		}
		b.T = append(b.T, p.T)
		b.Level = append(b.Level, p.SNR)
	}
	span := turn[len(turn)-1]
	if hi*span < 2 {
		return nil, fmt.Errorf("%w: the rotor is heard for %.3g s, fewer than two beats", ErrTooShort, b.T[len(b.T)-1]-b.T[0])
	}
	lo = math.Max(lo, 1.5/span) // slower ones look like the trend
	s := beatSums{b: b, turn: turn, n: len(turn)}
	best, least := lo, math.Inf(1)
	steps := int(math.Ceil(8 * (hi - lo) * span))
	for i := range steps + 1 {
		if err := w.stopped(); err != nil {
			return nil, err
		}
		w.told(float64(i) / float64(steps+1))
		rate := lo + (hi-lo)*float64(i)/float64(max(steps, 1))
		if left, _, ok := s.fit(rate); ok && left < least {
			best, least = rate, left
		}
	}
	h := 1 / (16 * span)
	for ; h > 1e-7*best; h /= 2 {
		for _, rate := range []float64{best - h, best + h} {
			if left, _, ok := s.fit(rate); ok && left < least {
				best, least = rate, left
			}
		}
	}
	w.told(1)
	trend, _, _ := s.fit(0)
	_, c, ok := s.fit(best)
	if !ok {
		return nil, ErrNoBeat
	}
	b.Explained = 1 - least/trend
	b.Swing = math.Hypot(c[3], c[4])
	if b.Explained < 0.5 {
		return nil, fmt.Errorf("%w between %.3g and %.3g %s explains the loudness; the best, %.3g %s, explains %.0f %% of it",
			ErrNoBeat, lo, hi, unit, best, unit, 100*b.Explained)
	}
	residual := make([]float64, s.n)
	var info float64
	b.Fitted = make([]float64, s.n)
	for i := range residual {
		row := s.row(best, i)
		for k := range row {
			b.Fitted[i] += c[k] * row[k]
		}
		residual[i] = b.Level[i] - b.Fitted[i]
		d := 2 * math.Pi * (turn[i] - span/2) * (c[4]*row[3] - c[3]*row[4])
		info += d * d
	}
	n := independent(residual, 6)
	dof := math.Max(1, n-6)
	b.Rate = Measured(best, math.Sqrt(least/dof/info), unit, "beat")
	b.Rate.Parts[0].DOF = dof
	return b, nil
}

type beatSums struct {
	b    *Beat
	turn []float64
	n    int
}

// row is the trend and the beat at point i.
func (s beatSums) row(rate float64, i int) [5]float64 {
	x := 2*float64(i)/float64(s.n-1) - 1
	sin, cos := math.Sincos(2 * math.Pi * rate * s.turn[i])
	if rate == 0 {
		sin, cos = 0, 0
	}
	return [5]float64{1, x, x * x, cos, sin}
}

// fit returns the sum of squares left over and the constants; rate 0 is the
// trend alone.
func (s beatSums) fit(rate float64) (left float64, c [5]float64, ok bool) {
	k := 5
	if rate == 0 {
		k = 3
	}
	a := mat.NewSymDense(k, nil)
	y := mat.NewVecDense(k, nil)
	yy := 0.0
	for i := range s.n {
		row := s.row(rate, i)
		v := s.b.Level[i]
		yy += v * v
		for p := range k {
			y.SetVec(p, y.AtVec(p)+row[p]*v)
			for q := p; q < k; q++ {
				a.SetSym(p, q, a.At(p, q)+row[p]*row[q])
			}
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(a) {
		return 0, c, false
	}
	var x mat.VecDense
	if chol.SolveVecTo(&x, y) != nil {
		return 0, c, false
	}
	for p := range k {
		c[p] = x.AtVec(p)
	}
	return yy - mat.Dot(&x, y), c, true
}

// String says what the beat is.
func (b *Beat) String() string {
	return fmt.Sprintf("beat %s: %v, swinging by %.1f dB up and down; it explains %.0f %% of the loudness", b.Law, b.Rate, b.Swing, 100*b.Explained)
}
