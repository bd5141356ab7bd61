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
package live
