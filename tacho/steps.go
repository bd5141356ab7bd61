package tacho

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// stepWay is the longest way, in seconds, from one note to the next, and stepLevel
// the time for which the rate is looked at before and after.
const stepWay, stepLevel = 0.1, 0.2

// steps counts how often the rate of a stretch goes from one steady value to
// another, half a semitone or more away, within stepWay. A hand that pushes or
// brakes does it once in a while.
func (s *stretch) steps() int {
	// least is of the logarithm of the rate. The values before and after are means
	// over stepLevel seconds, in which a singer's vibrato swings about once; most of
	// the change must lie between the means over near seconds on either side, or
	// it is the slope of a slow swing.
	const least, near, flat, most = 0.029, 0.03, 0.3, 0.87
	const way, level = stepWay, stepLevel
	b, m := s.fit.Blocks, s.fit.Motion
	mean := func(from, to float64) (value, trend float64, ok bool) {
		i, j := blockAfter(b, from), blockAfter(b, to)
		if j-i < 2 || b[j-1].T-b[i].T < 0.4*(to-from) {
			return 0, 0, false
		}
		var st, sy, stt, sty, n float64
		for ; i < j; i++ {
			t, y := b[i].T-from, math.Log(m[i].Omega)
			st, sy, stt, sty, n = st+t, sy+y, stt+t*t, sty+t*y, n+1
		}
		return sy / n, (n*sty - st*sy) / (n*stt - st*st) * (to - from), true
	}
	from, to := s.times()
	count, last := 0, math.Inf(-1)
	for t := from + way/2 + level; t < to-way/2-level; t += breakStep {
		if t < last+way+near {
			continue
		}
		x, dx, ok := mean(t-way/2-level, t-way/2)
		y, dy, too := mean(t+way/2, t+way/2+level)
		step := y - x
		if !ok || !too || math.Abs(step) < least || math.Max(math.Abs(dx), math.Abs(dy)) > flat*math.Abs(step) {
			continue
		}
		near := math.Max(near, 1.5*b[blockAfter(b, t)].Length)
		x, _, ok = mean(t-way/2-near, t-way/2)
		y, _, too = mean(t+way/2, t+way/2+near)
		if ok && too && (y-x)/step > most && s.levels(s.halfway(t-way/2, t+way/2)) {
			count++
			last = t
		}
	}
	return count
}

// halfway returns the moment between two at which the rate is halfway from what it
// is at the one to what it is at the other.
func (s *stretch) halfway(from, to float64) float64 {
	b, m := s.fit.Blocks, s.fit.Motion
	i, end := blockAfter(b, from), min(blockAfter(b, to), len(b)-1)
	half := (m[i].Omega + m[end].Omega) / 2
	for m[i].Omega > half == (m[i+1].Omega > half) && i+1 < end {
		i++
	}
	return (b[i].T + b[i+1].T) / 2
}

// levels reports whether the rate around a moment goes from one level to another
// rather than swings: which of the two comes nearer to it. The crests of a swing at 1
// to 3 Hz are as level as notes for a while. On either a vibrato may ride, or a
// flutter; singers have the one at 5 to 6 Hz (from memory).
func (s *stretch) levels(at float64) bool {
	const reach = stepWay/2 + stepLevel
	b := s.fit.Blocks
	first, end := blockAfter(b, at-reach), blockAfter(b, at+reach)
	curve := func(value func(t float64) float64) []float64 {
		c := make([]float64, end-first)
		for i := range c {
			c[i] = value(b[first+i].T - at)
		}
		return c
	}
	wave := func(hz float64) [][]float64 {
		w := 2 * math.Pi * hz
		return [][]float64{curve(func(t float64) float64 { return math.Sin(w * t) }), curve(func(t float64) float64 { return math.Cos(w * t) })}
	}
	rate := make([]float64, end-first)
	for i := range rate {
		rate[i] = math.Log(s.fit.Motion[first+i].Omega)
	}
	one := curve(func(float64) float64 { return 1 })
	level, swing := math.Inf(1), math.Inf(1)
	for _, vibrato := range [...]float64{4.2, 5.5, 7} {
		ride := append(wave(vibrato), one)
		for _, share := range [...]float64{0.2, 0.6, 1} {
			way := curve(func(t float64) float64 { return math.Max(0, math.Min(1, t/(share*stepWay)+0.5)) })
			level = math.Min(level, unexplained(rate, append(ride, way)))
		}
		for _, hz := range [...]float64{1, 1.4, 1.8, 2.2, 2.7} {
			swing = math.Min(swing, unexplained(rate, append(ride, wave(hz)...)))
		}
	}
	return level < swing
}

// unexplained returns the sum of squares that is left of y when what it has in
// common with the given curves is taken out.
func unexplained(y []float64, curves [][]float64) float64 {
	var rest [][]float64
	for _, c := range append(slices.Clone(curves), y) {
		rest = append(rest, slices.Clone(c))
	}
	for k, c := range rest[:len(curves)] {
		for _, d := range rest[k+1:] {
			floats.AddScaled(d, -floats.Dot(c, d)/floats.Dot(c, c), c)
		}
	}
	return floats.Dot(rest[len(curves)], rest[len(curves)])
}
