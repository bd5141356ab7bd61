package tacho

import (
	"cmp"
	"math"
	"slices"

	"rotorhum/tacho/internal/comb"
	"rotorhum/tacho/internal/linefit"
)

// familyFit refines the rate of a family by least squares over all its lines.
type familyFit struct {
	fs    float64
	scan  *comb.Scanner
	sound [][]float64    // that is fitted
	spec  *comb.Spectrum // of that

	rate, variance float64
	fits           []*linefit.Fit // one to a channel in which the family is heard
	channel        []int          // of each
}

// settle refines a rate in a sound with the given spectrum. It returns ErrNoReading
// when the fit fails.
//
// What the lines leave is searched for a second stack. Where one sounds, each of
// the two is fitted to what the other leaves, in turns: lines a few resolution
// cells apart pull at each other.
func settle(x [][]float64, fs float64, spec *comb.Spectrum, scan *comb.Scanner, rate float64, opt Options) (*familyFit, error) {
	f := &familyFit{fs: fs, scan: scan, sound: x, spec: spec, rate: rate}
	if !f.refine(1) {
		return nil, ErrNoReading
	}
	other := f.beside()
	for round := 0; other != nil && round < 6; round++ {
		if err := opt.stopped(); err != nil {
			return nil, err
		}
		next := f.on(minus(x, other.model()))
		if !next.refine(1) {
			break
		}
		if round == 1 || round == 3 {
			next = next.aside()
		}
		last, lastOther := f, other
		f = next
		if other = other.on(minus(x, f.model())); !other.refine(1) {
			break
		}
		if round > 0 && f.still(last) && other.still(lastOther) {
			break
		}
	}
	return f, nil
}

// still reports whether the rate is that of an earlier fit, to within a small part
// of its uncertainty.
func (f *familyFit) still(before *familyFit) bool {
	const part = 0.05
	return math.Abs(f.rate-before.rate) < part*math.Sqrt(f.variance)
}

// aside returns the fit, or a better one from beside it: while a neighbour pulled,
// the line that says most about the rate may have been taken one resolution cell
// off.
func (f *familyFit) aside() *familyFit {
	most, m := 0.0, 1.0
	for _, l := range f.lines() {
		if w := l.M * l.M * math.Pow(10, l.SNR/10); w > most {
			most, m = w, l.M
		}
	}
	best := f
	for _, sign := range [...]float64{-1, 1} {
		g := f.on(f.sound)
		g.rate += sign / (f.spec.Seconds * m)
		if g.refine(1) && g.left() < best.left() {
			best = g
		}
	}
	return best
}

// left returns the energy that the fit leaves.
func (f *familyFit) left() float64 {
	sum := 0.0
	for i, x := range f.sound {
		if k := slices.Index(f.channel, i); k >= 0 {
			x = f.fits[k].Residual
		}
		for _, v := range x {
			sum += v * v
		}
	}
	return sum
}

// on returns a fit that begins at the same rate, to another sound.
func (f *familyFit) on(x [][]float64) *familyFit {
	return &familyFit{fs: f.fs, scan: f.scan, sound: x, spec: comb.NewSpectrum(x, f.fs, nil), rate: f.rate}
}

// beside returns the family that sounds with this one, nil if there is none: if no
// line stands out of what this one leaves, or if those that do could be its own,
// as those of unequal blades are.
func (f *familyFit) beside() *familyFit {
	const standsOut, surely = 40, 12 // power over the floor, nats
	other := f.on(minus(f.sound, f.model()))
	if other.spec.Loudest() < standsOut {
		return nil
	}
	// it may lie outside the range that was asked for
	lo := math.Max(float64(DefaultRange.Lo), 2/other.spec.Seconds)
	best, trials := f.scan.Scan(other.spec, lo, math.Min(float64(DefaultRange.Hi), 0.49*f.fs), 1)
	if len(best) == 0 || best[0].Evidence-math.Log(trials) < surely {
		return nil
	}
	other.rate = best[0].Rate
	for _, r := range [...]float64{other.rate / f.rate, f.rate / other.rate} {
		if r > 0.98 && math.Abs(r/math.Round(r)-1) < 0.01 {
			return nil
		}
	}
	if !other.refine(1) {
		return nil
	}
	return other
}

// model returns what the fitted lines are in every channel.
func (f *familyFit) model() [][]float64 {
	out := make([][]float64, len(f.sound))
	for c, x := range f.sound {
		out[c] = make([]float64, len(x))
		if i := slices.Index(f.channel, c); i >= 0 {
			for k, v := range x {
				out[c][k] = v - f.fits[i].Residual[k]
			}
		}
	}
	return out
}

func minus(x, y [][]float64) [][]float64 {
	out := make([][]float64, len(x))
	for c := range x {
		out[c] = make([]float64, len(x[c]))
		for k, v := range x[c] {
			out[c][k] = v - y[c][k]
		}
	}
	return out
}

// refine improves the rate by the harmonics that stand out of the noise, those of
// the rate as far as its stack reaches and, with d above 1, every d-th as far as
// the stack of d times the rate does. It reports false, and changes nothing, when
// the fit fails or runs away to another line.
func (f *familyFit) refine(d int) bool {
	rate, n := f.rate, len(f.sound[0])
	var fits []*linefit.Fit
	var channel []int
	variance := 0.0
	for round := range 3 {
		orders, reach := f.orders(rate, d)
		fits, channel = fits[:0], channel[:0]
		info, step := 0.0, 0.0
		for c, x := range f.sound {
			fit := &linefit.Fit{Rate: f.fs, Coef: []float64{rate}}
			for i, m := range orders {
				k := int(m*rate/f.spec.DF + 0.5)
				if reach[i]*f.scan.Line.Posterior(f.spec.Z[c][k]) > 0.7 {
					fit.Orders = append(fit.Orders, m)
					fit.Noise = append(fit.Noise, f.spec.Noise[c][k])
				}
			}
			if len(fit.Orders) == 0 {
				continue
			}
			if round > 1 && len(fits) < len(f.sound) {
				fit.Noise = localNoise(fit, x, f.fs, rate)
			}
			steps := 6
			if len(f.sound) > 1 {
				steps = 1
			}
			if fit.Run(x, steps) != nil {
				continue
			}
			w := 1 / fit.Cov.At(0, 0)
			info += w
			step += w * fit.Coef[0]
			fits, channel = append(fits, fit), append(channel, c)
		}
		if info == 0 || math.IsNaN(step) {
			return false
		}
		rate, variance = step/info, 1/info
		if !(rate > 0 && math.Abs(rate-f.rate)*float64(n)/f.fs < 3) {
			return false // three resolution cells away: it has run away
		}
		if round == 0 && len(fits) == len(f.sound) {
			// strong lines lift the floor around them: look at what is left
			for c, fit := range fits {
				f.spec.Refloor(c, fit.Residual, f.fs)
			}
		}
	}
	if math.Abs(rate-f.rate)*float64(n)/f.fs > 1 {
		return false
	}
	f.rate, f.variance, f.fits, f.channel = rate, variance, fits, channel
	return true
}

// orders returns the harmonics of rate that may hold lines, and for each the
// probability that the stack reaches it.
func (f *familyFit) orders(rate float64, d int) (orders, reach []float64) {
	for m := range f.scan.Places(f.spec, rate) {
		orders = append(orders, float64(m+1))
	}
	reach = f.scan.Order.Weights(f.scan.Places(f.spec, rate))
	if d < 2 {
		return orders, reach
	}
	for i, w := range f.scan.Order.Weights(f.scan.Places(f.spec, float64(d)*rate)) {
		if m := d * (i + 1); m <= len(reach) {
			reach[m-1] = math.Max(reach[m-1], w)
		} else {
			orders, reach = append(orders, float64(m)), append(reach, w)
		}
	}
	return orders, reach
}

// lines returns the lines of the channel in which each is strongest, in order.
func (f *familyFit) lines() []Harmonic {
	var lines []Harmonic
	byOrder := map[float64]int{}
	for _, fit := range f.fits {
		for i, m := range fit.Orders {
			a := fit.Amp[i]
			p := real(a)*real(a) + imag(a)*imag(a)
			h := Harmonic{M: m, Freq: Hertz(m * f.rate), Amp: math.Sqrt(p), Phase: math.Atan2(imag(a), real(a)),
				SNR: 10 * math.Log10(p*float64(len(f.sound[0]))/4/fit.Noise[i])}
			if j, ok := byOrder[m]; !ok {
				byOrder[m] = len(lines)
				lines = append(lines, h)
			} else if h.SNR > lines[j].SNR {
				lines[j] = h
			}
		}
	}
	slices.SortFunc(lines, func(a, b Harmonic) int { return cmp.Compare(a.M, b.M) })
	return lines
}

// evidence returns what the lines say for the stack, in nats, over the noise that
// the fit leaves right beside each of them. The noise floor is that of a wide
// surrounding: of noise that falls steeply, or has a hill, as that of a pipe,
// bins stand high above it that are no lines.
func (f *familyFit) evidence() float64 {
	places := len(f.scan.Places(f.spec, f.rate))
	z := make([][]float64, len(f.sound)) // by channel and place
	for c := range f.sound {
		i := slices.Index(f.channel, c)
		var left *comb.Spectrum
		if i >= 0 {
			left = comb.NewSpectrum([][]float64{f.fits[i].Residual}, f.fs, nil)
		}
		for m := range places {
			k := int(float64(m+1)*f.rate/f.spec.DF + 0.5)
			power, noise := f.spec.Z[c][k]*f.spec.Noise[c][k], f.spec.Noise[c][k]
			if left != nil {
				if v, unsure := beside(left, float64(m+1), f.rate); v > unsure*noise {
					noise = v
				}
				if j := slices.Index(f.fits[i].Orders, float64(m+1)); j >= 0 {
					a := f.fits[i].Amp[j]
					power = (real(a)*real(a) + imag(a)*imag(a)) * float64(len(f.sound[c])) / 4
				}
			}
			z[c] = append(z[c], power/noise)
		}
	}
	return f.scan.Of(places, len(z), func(ch, m int) float64 { return z[ch][m-1] })
}

// beside returns the noise variance per sample beside the m-th line of a rate in
// what a fit has left: the geometric mean of that below and that above the line,
// from one resolution cell away to ten, but no further than a third of the line's
// frequency if that is two cells and a half. It is known to within the factor unsure
// nineteen times in twenty.
func beside(left *comb.Spectrum, m, rate float64) (noise, unsure float64) {
	const from, reach, least = 1.0, 10.0, 2.5
	cell := 1 / left.Seconds
	far := math.Max(least, math.Min(reach, m*rate/3/cell))
	sum, sides, bins := 0.0, 0.0, 0.0
	for _, sign := range [...]float64{-1, 1} {
		logs, n := 0.0, 0.0
		for d := from * cell; d <= far*cell; d += left.DF {
			x := m*rate + sign*d
			if k := int(x/left.DF + 0.5); k > 0 && k < len(left.Z[0]) {
				// the fit has emptied the lines themselves
				if near := math.Abs(x - math.Round(x/rate)*rate); near > 0.7*cell {
					logs += math.Log(left.Z[0][k]*left.Noise[0][k] + 1e-300)
					n++
				}
			}
		}
		if n > 0 {
			sum += logs / n
			sides++
			bins += n
		}
	}
	if sides == 0 {
		return 0, 1
	}
	// of an exponentially distributed power, the mean over the geometric mean
	const gamma = 0.5772156649
	// the logarithm of one cell's power scatters by π/√6
	return math.Exp(sum/sides + gamma), math.Exp(1.96 * math.Pi / math.Sqrt(6*bins*left.DF/cell))
}

// localNoise returns the noise around each line as the residual of the fit
// shows it, where that is more than the floor: what clutters the line itself,
// such as a voice or a second rotor, widens the interval.
func localNoise(fit *linefit.Fit, x []float64, fs, rate float64) []float64 {
	probe := &linefit.Fit{Rate: fs, Coef: []float64{rate}, Orders: fit.Orders, Noise: fit.Noise}
	out := append([]float64(nil), fit.Noise...)
	if probe.Run(x, 1) != nil {
		return out
	}
	spec := comb.Powers(probe.Residual, fs)
	for i, m := range fit.Orders {
		// twelve resolution cells on either side
		if p := spec.Mean(m*rate-12*spec.Cell, m*rate+12*spec.Cell); p > 1.6*out[i] {
			out[i] = p
		}
	}
	return out
}
