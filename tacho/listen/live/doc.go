// Package live follows the speed of a rotor while it is being recorded.
//
// A [Follower] takes the samples as they come and answers with readings, twenty
// a second: the speed at the newest sample with its interval, or that no rotor
// is heard, the level, and one column of the spectrum. A [Screen] draws the last
// seconds of that. [Check] listens to some seconds of a room and says what to
// change before the trial begins.
//
// What is followed live is a guide for the eye, made from the past alone. The
// whole recording says more, and more surely: measure it with [tacho.Measure]
// once it is there.
//
// # How a speed is found
//
// With the parts of the engine that measures recordings, forward in time:
//
//	samples -> working rate (intake) -> without the hum of the supply (hum)
//	  -> candidates of frames, the most credible course through the last second
//	     that goes on until now (tracker)
//	  -> the phase of all lines along that course or along the motion known so
//	     far, carried on to the newest sample (guess, phase.Follow)
//	  -> is it a rotor, at which multiple, for sure? (decide, multiple, tune)
//	  -> the highest so far, from what is known from both sides (summit)
//
// A rotor is claimed when its lines have been there for a third of a second; from
// then on the numbers are those of the newest sample, not of the middle of a
// frame. Every interval allows for what the next moment may bring. In echo the
// sound of a moment ago is heard along, and right after a sudden push the
// intervals can be too narrow. A single long note cannot be told from a rotor; a
// tune can, after some notes.
//
// scripts/live examines all of it on recordings with known truth.
package live
