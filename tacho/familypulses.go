package tacho

import (
	"math"

	"rotorhum/tacho/internal/comb"
)

// unequalBlades is what it costs, in nats, to believe in blades so unlike that
// all lines of the shaft are heard, likeSets what it costs more that they come in
// like sets: of two kinds in turn, for instance.
const unequalBlades, likeSets = 3, 5

// pulsesIn returns which of the lines, every d-th, are the pulses of a rotor with
// z unequal blades, and how much more credible that is than one stack, in nats; d
// is 1 where it is less.
func pulsesIn(lines []Harmonic, z int) (d int, nats float64) {
	if z < 2 || len(lines) == 0 {
		return 1, 0
	}
	top := 0.0
	for _, l := range lines {
		top = math.Max(top, l.M)
	}
	power := make([]float64, int(top))
	for i := range power {
		power[i] = math.Ln2 // a line that does not stand out
	}
	for _, l := range lines {
		power[int(l.M)-1] = math.Max(math.Ln2, l.SNR*math.Ln10/10)
	}
	return pulsesBy(power, z)
}

// pulsesBy is pulsesIn for the logarithms of the power of all lines over the noise,
// from the first.
func pulsesBy(power []float64, z int) (d int, nats float64) {
	if d, nats = likeliestPulses(power, z); nats <= 0 {
		return 1, 0
	}
	return d, nats
}

// likeliestPulses returns which of the lines, every d-th with d above 1, are most
// likely the pulses, and how much more or less credible that is than one stack.
func likeliestPulses(power []float64, z int) (d int, nats float64) {
	d, nats = 1, math.Inf(-1)
	for k := 2; k <= z; k++ {
		if z%k != 0 {
			continue
		}
		e := comb.PatternOf(power, k) - unequalBlades
		if k < z {
			e -= likeSets
		}
		if e > nats {
			d, nats = k, e
		}
	}
	return d, nats
}

// moreLines is by how many nats the lines of a slower shaft must say more than
// those of a multiple of its rate.
const moreLines = 2.5

// beyondPattern is by how many nats more they must do so where the strengths of the
// lines do not show the pulses, and the shaft itself turns below the range.
const beyondPattern = 12

// slowerShaft returns a fit to the lines of a shaft that turns at a half or a third
// of the fitted rate, of which every so many lines are taken for the pulses'; which of
// the shaft's are, and how credible that is. It returns nil if they say nothing for it.
//
// A stack is found by its first lines. Those of a slow shaft end where there may be
// few pulses yet, and every second or third of them reaches further: all are weighed
// as far as that.
func (f *familyFit) slowerShaft(look *comb.Spectrum, slow float64, every int, opt Options) (g *familyFit, d int, nats float64) {
	if opt.Pulses < 2 {
		return nil, 1, 0
	}
	rate, top := 0.0, f.rate*float64(f.scan.Harmonics)
	most := f.scan.Whole(look, f.rate, top) + moreLines
	for k := 2.0; k <= 3 && f.rate/k >= slow; k++ {
		r := f.rate / k
		all := f.scan.Whole(look, r, top)
		e, n := likeliestPulses(look.Logs(r, top), opt.Pulses)
		if n <= 0 && (every > 1 || r >= float64(opt.Range.Lo) || all < most+beyondPattern) {
			continue // the pulses of a shaft below the range need not stand out
		}
		if tone := float64(e) * r; all+math.Min(0, n) < most || tone < float64(opt.Range.Lo) || tone > float64(opt.Range.Hi) {
			continue
		}
		n = math.Max(0, n)
		rate, d, nats, most = r, e, n, all
	}
	if rate == 0 {
		return nil, 1, 0
	}
	g = &familyFit{fs: f.fs, scan: f.scan, sound: f.sound, spec: f.spec, rate: rate}
	if !g.refine(d) {
		return nil, 1, 0
	}
	return g, d, nats
}
