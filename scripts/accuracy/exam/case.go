package exam

import (
	"hash/fnv"
	"math/rand/v2"

	"rotorhum/tacho"
	"rotorhum/tacho/synth"
)

// Case is one recording and the question put to the engine.
type Case struct {
	// Group names the row of the table that the case counts in.
	Group string
	Scene synth.Scene
	// Options are what a user would say who knows the rotor but not the answer.
	Options tacho.Options
	// Silent says that no rotor is in the recording: a reading is false.
	Silent bool
	// Either says that the second rotor is as loud as the first: the reading of
	// either is right, but the other must be named among the alternatives.
	Either bool
	// Bound says that nothing but Gaussian noise disturbs the rotor, so that the
	// harmonic or the local chirp bound can be stated.
	Bound bool
}

// Class is a kind of recording.
type Class struct {
	Name string
	// About says in one line what is drawn.
	About string
	// Draws is the number of cases in a whole exam, Short in a short one.
	Draws, Short int
	// Draw makes case number i, 0 for the first, from r alone.
	Draw func(r *rand.Rand, i int) Case
}

// Classes lists every class in the order of the report.
func Classes() []Class {
	return []Class{
		steadyClass("steady", tacho.Range{Lo: 30, Hi: 800}),
		steadyClass("steady-wide", tacho.Range{Lo: 20, Hi: 6000}),
		rampClass, waverClass, mainsClass, unevenClass, whistleClass,
		trialClass,
		multipleClass,
		hostileClass,
		silentClass,
		coverageClass,
	}
}

// Case returns case number i of the class for an exam's seed: loud or soft, and
// in 16 bits as recorders write them, unless the class says how.
func (c Class) Case(seed uint64, i int) Case {
	h := fnv.New64a()
	h.Write([]byte(c.Name))
	r := rand.New(rand.NewPCG(seed, h.Sum64()^uint64(i)*0x9e3779b97f4a7c15))
	k := c.Draw(r, i)
	k.Scene.Seed = r.Uint64() >> 12 // short enough to be kept exactly in JSON
	if k.Scene.Bits == 0 {
		k.Scene.Peak, k.Scene.Bits = spread(r, 0.05, 0.98), 16
	}
	return k
}
