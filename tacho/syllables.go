package tacho

import (
	"math"

	"rotorhum/tacho/internal/rank"
)

// A voice is made of syllables: its loudness falls and rises by much several times a
// second, with every consonant, while its pitch may go on as if nothing had happened.
// What has inertia sounds on. It is louder the faster it turns, and a hall makes each of
// its lines fade and swell on its own, but nothing does so to all of them together.
const (
	// swellTime is the time, in seconds, over which a change of loudness is looked at:
	// half a syllable, of which people speak four or five a second (from memory).
	// swellLook is how long it is looked at for, or a block if that is longer.
	swellTime, swellLook = 0.12, 0.05
	// swellLooks is the number of blocks in a look that are as good as independent.
	swellLooks = 1.4
)

// swell returns by how many decibels the loudness of all lines of a stretch together
// changes within swellTime for half of the time, beyond what noise and the speed explain;
// 0 where too little is heard. Where the recorder lost the sound nothing is looked at.
func (l *lineSums) swell(gap func(from, to float64) bool) float64 {
	const fewest = 8
	b := l.s.fit.Blocks
	from, to := l.s.times()
	at := 0
	var all []float64
	for t := from; t < to; t += breakStep {
		for at+1 < len(b) && b[at+1].T <= t {
			at++
		}
		look := math.Max(swellLook, 1.01*b[at].Length)
		later := t + math.Max(swellTime, look)
		if gap(t-b[at].Length/2, later+look+b[at].Length/2) {
			continue
		}
		x, y := l.mean(t, t+look), l.mean(later, later+look)
		if x == nil || y == nil {
			continue
		}
		if s, ok := x.swellTo(y); ok {
			all = append(all, s)
		}
	}
	if len(all) < fewest {
		return 0
	}
	return rank.Select(all, len(all)/2)
}

// swellTo returns by how many decibels, up or down, the lines together change from a to
// b, beyond what noise and the speed explain, if any stand out. Lines count by their
// amplitudes, so that one alone does not say all.
func (a *lineMeans) swellTo(b *lineMeans) (db float64, ok bool) {
	change, chance, weights := 0.0, 0.0, 0.0
	for k := range a.excess {
		x, y, noise := a.excess[k], b.excess[k], (a.noise[k]+b.noise[k])/2
		if math.Max(x, y) < clearLine*noise {
			continue
		}
		w := math.Sqrt(math.Max(x, y))
		change += w * math.Log((y+noise/2)/(x+noise/2))
		chance += w * w * 2 / swellLooks * (a.noise[k]/(x+noise/2) + b.noise[k]/(y+noise/2))
		weights += w
	}
	if weights == 0 {
		return 0, false
	}
	change /= weights
	if grown := loudest * math.Log(b.rate/a.rate); grown*change > 0 {
		change = math.Copysign(math.Max(0, math.Abs(change)-math.Abs(grown)), change)
	}
	return 10 / math.Ln10 * math.Sqrt(math.Max(0, change*change-chance/(weights*weights))), true
}

// syllables weighs that the loudness of a stretch of agility a swells by so many decibels.
// Of 200 restless stretches of rotors, in halls as well, half swelled by less than 1.2 and
// one in twenty by more than 2.5; of 600 of voices one in twenty by less than 2 and half
// by more than 4.3. Notes are as even as rotors. That nothing swells is no proof.
func syllables(swell, a float64) float64 {
	const even, amiss, most = 1.4, 0.04, 10.0
	const voices, spread = 4.3, 1.6
	half := swell / even
	rotor := (1-amiss)*math.Sqrt(2/math.Pi)/even*math.Exp(-half*half/2) + amiss/most
	x := math.Min(0, (swell-voices)/spread)
	voice := math.Exp(-x*x/2) / (math.Sqrt(2*math.Pi) * spread)
	share := voiceShare(a)
	return math.Min(0, -math.Log(1-share+share*voice/rotor))
}
