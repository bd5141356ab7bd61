// Package exam examines the measuring engine of tacho: it makes recordings with
// known truth, class by class, has them measured, and says how the readings
// compare with the truth and with the bounds that noise sets to any estimator.
//
//	class -> draw: a scene and the options a user would give (Case)
//	      -> tacho.Follow, timed
//	      -> what was right and how wrong the rest was (Outcome)
//	      -> one row per group of cases (Row)
//
// Every draw has a generator of its own, seeded by the exam's seed, the name of
// the class and the number of the draw: the same three give the same recording,
// whatever else is examined beside it.
//
// # What it found
//
// From
//
//	go run ./scripts/accuracy -class CLASS -draws N
//
// with seed 1. "right" is the right speed, or no reading where there is no rotor;
// "track", "speed", "peak" and "when" are the per cent of 95 % intervals, of the
// right readings, that hold the truth.
//
//	class      draws  right  track  speed  peak  when   worst groups
//	steady      1000    963     93     93    93     -   -22 dB: 164 of 200
//	ramp          30     28     96      -    86    33   100 % per second: 3 of 4
//	wow           30     28     99      -    97   100   flutter: 7 of 8
//	trial         40     38     86      -    84    87   coast-down: 7 of 8
//	multiple     100     91     93     90    91   100   blades hardly alike: 2 of 10
//	hostile       63     41     91     86    88    67   a talker at +4 dB: 1 of 7
//	no-rotor     150    147      -      -     -     -   music: 13 of 15
//	coverage     160    141     93     90    91    87   company on the move: 4 of 7
//
// The errors of the steady class are 1.05, 0.99, 0.97 and 1.14 times the
// Cramér-Rao bound (root mean squares of 200) at +20, +5, -5 and -15 dB. On
// ramps they are within twice the local chirp bound in two recordings of five. The
// intervals are too narrow where echo or another sound adds to the lines, and the
// moment of a peak at an edge of what is heard is held to be known too well.
//
// A class says what the outside world may send; it knows nothing of how the
// engine works, and a case that the engine cannot do stays in.
package exam
