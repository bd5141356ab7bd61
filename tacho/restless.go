package tacho

import (
	"math"
	"slices"
)

// agility returns how restless a stretch is, in s^-2.5.
func (s *stretch) agility() float64 {
	m := s.fit.Motion
	return math.Sqrt(s.fit.Q) / m[len(m)/2].Omega
}

// restlessness weighs the agility a of a stretch. That of rotors lies anywhere
// over three decades below 0.4: a steady fan shows next to none, pushes of 300 %
// per second 0.3 to 1; a few in a hundred, in flutter, echo or company, show ten
// times as much. Three quarters of voices and notes are voices, which show 1 to 12.
func restlessness(a float64) float64 {
	const most, rare = 0.94 / 2.7, 0.04
	y := math.Max(0, (math.Log10(math.Max(a, 1e-9))+0.4)/0.4)
	notes, voices := notRotors(a)
	return math.Log((rare + most*math.Exp(-y*y/2)) / (notes + voices))
}

// notRotors returns how often what is no rotor is a note, or a voice, of agility a: shares
// per decade of it.
func notRotors(a float64) (notes, voices float64) {
	x := math.Min(0, (math.Log10(math.Max(a, 1e-9))-0.58)/0.35)
	return 0.25 / 5, 0.75 * 1.14 * math.Exp(-x*x/2)
}

// voiceShare returns how many of the stretches of agility a that are no rotor's are a
// voice's.
func voiceShare(a float64) float64 {
	notes, voices := notRotors(a)
	return voices / (notes + voices)
}

// takesTime weighs, in nats, for how long, in seconds, the rate of a stretch of agility a
// goes on in one direction: the time in which changes of that agility make up the range
// that it moves in. A rotor that is pushed hard is restless, but pushed for half a second
// or so to a multiple of its rate. A voice has been everywhere within a syllable or two,
// the shorter the more agile it is; one in fifty stretches of voices is as slow as a rotor.
// That a rate is restless and takes no time says nothing more.
func (s *stretch) takesTime(a float64) float64 {
	const rotors, rotorsSD, pushed = 0.65, 0.5, 0.65
	const voices, voicesSD, faster, slow = 0.27, 0.45, 0.3, 0.02
	const shortest, longest = 0.02, 5 // beyond them none is unlike any other
	a = math.Max(a, 1e-9)
	time := math.Log(math.Max(shortest, math.Min(longest, math.Pow(s.span()*math.Sqrt(3)/a, 2.0/3))))
	normal := func(mean, sd float64) float64 {
		x := (time - mean) / sd
		return math.Exp(-x*x/2) / sd
	}
	rotor, voice := normal(math.Log(rotors), rotorsSD), normal(math.Log(voices)-faster*math.Log(a), voicesSD)
	return math.Max(0, math.Log((pushed*rotor+(1-pushed)*voice)/((1-slow)*voice+slow*rotor)))
}

// span returns the logarithm of the ratio between the rates that a stretch exceeds for a
// twentieth of its time, or falls short of.
func (s *stretch) span() float64 {
	m := s.fit.Motion
	rates := make([]float64, len(m))
	for i, v := range m {
		rates[i] = v.Omega
	}
	slices.Sort(rates)
	k := len(rates) / 20
	return math.Log(rates[len(rates)-1-k] / rates[k])
}

// restless is the agility from which on something is more often a voice.
const restless = 1.0
