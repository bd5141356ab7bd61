package tacho

import (
	"math"
	"sort"

	"rotorhum/tacho/internal/comb"
	"rotorhum/tacho/internal/evidence"
	"rotorhum/tacho/internal/sound"
)

// reading is one way to read a stack of lines: a pulse rate of num/den times
// the one that was followed.
type reading struct {
	num, den int
	score    float64
}

// rightMultiple weighs the readings of the same sound at small ratios to the
// one that was followed, on all stretches together, and follows anew at the
// best one. Lines at multiples of the shaft speed that are not multiples of
// the pulse rate belong to the rotor as well: unequal blades and unbalance.
func rightMultiple(src *sound.Source, in []*stretch, opt Options) ([]*stretch, error) {
	z := opt.Pulses
	list, err := weighReadings(src, in, z, opt)
	if err != nil || len(list) == 0 {
		return in, err
	}
	best := list[0]
	ratio := float64(best.num) / float64(best.den)
	out := in
	if ratio != 1 {
		out = nil
		for _, s := range in {
			n, err := refineCourse(src, s.course(ratio), 0.002, opt)
			if err != nil {
				return nil, err
			}
			if n != nil {
				n.evidence = s.evidence
				out = append(out, n)
			}
		}
		if len(out) == 0 {
			return in, nil
		}
	}
	var alt []Alternative
	for _, r := range list[1:] {
		if len(alt) == 5 {
			break
		}
		f := float64(r.num) / float64(r.den) / ratio
		alt = append(alt, Alternative{Factor: ratioText(f), Odds: math.Exp(math.Min(40, best.score-r.score)), Tone: Hertz(f)})
	}
	for _, s := range out {
		s.alternatives = alt
		s.balanced = len(alt) > 0 && alt[0].Odds < 3
	}
	return out, nil
}

// weighReadings returns the readings, best first.
func weighReadings(src *sound.Source, in []*stretch, z int, opt Options) ([]reading, error) {
	sure, maybe := evidence.New(0.75, 2e-3), evidence.New(0.12, 2e-3)
	per := 48
	if z > 6 {
		per = min(144, 8*z)
	}
	var spectra []*comb.Orders
	lo, hi := math.Inf(1), 0.0
	for _, s := range in {
		from, to := s.times()
		for p := per; p >= 24; p /= 2 {
			o, err := comb.NewOrders(src, s.turn, from, to, p, lineHarmonics)
			if err != nil {
				return nil, err
			}
			if o != nil {
				spectra = append(spectra, o)
				break
			}
		}
		for _, m := range s.fit.Motion {
			lo = math.Min(lo, m.Omega/(2*math.Pi))
			hi = math.Max(hi, m.Omega/(2*math.Pi))
		}
	}
	if len(spectra) == 0 {
		return nil, nil
	}
	seen := map[int]bool{}
	var list []reading
	try := func(num, den int) {
		g := common(num, den)
		num, den = num/g, den/g
		if key := num<<16 | den; seen[key] {
			return
		} else {
			seen[key] = true
		}
		r := float64(num) / float64(den)
		// the loudest part must lie in the range
		if hi*r > float64(opt.Range.Hi)*1.02 || hi*r < float64(opt.Range.Lo) {
			return
		}
		score := 0.0
		for _, o := range spectra {
			score += o.Evidence(r/float64(z), z, sure, maybe)
		}
		// odd ratios are rarer than simple ones
		score -= 1.2 * math.Log(float64(num*den))
		list = append(list, reading{num, den, score})
	}
	for num := 1; num <= 8; num++ {
		for den := 1; den <= 6; den++ {
			try(num, den)
		}
	}
	if z > 1 {
		for k := 1; k <= 3; k++ {
			try(z, k)
			try(k, z)
		}
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].score > list[j].score })
	return list, nil
}

// common returns the greatest common divisor.
func common(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}
