package synth

import "math/rand/v2"

// Streams number the generators of a scene, so that each part draws from its
// own: adding or removing one part leaves the others as they were. Parts that
// come in numbers (the second voice, the third noise) add their index.
const (
	streamUnsteady uint64 = (iota + 1) << 32
	streamPhases
	streamBlades
	streamJet
	streamNoise
	streamVoice
	streamMusic
	streamClicks
	streamRoom
	streamDropouts
	streamHum
	streamWaver
	streamJitter
)

// Source returns a generator of random numbers whose whole future is fixed by
// seed: a PCG with 128 bits of state. It is what [WhiteNoise] and the other
// makers of chance take.
func Source(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0)) }

// stream returns the generator of one part of the scene with this seed.
func stream(seed, part uint64, index int) *rand.Rand {
	return rand.New(rand.NewPCG(seed, part+uint64(index)))
}
