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
//	steady      1000    958     93     93    93     -   -22 dB: 159 of 200
//	ramp          30     30     96      -    93    57   all right
//	wow           30     28     98      -   100    92   wow, flutter: 7 of 8
//	mains         30     30     96      -    80     -   all right
//	trial         40     40     94      -    90    95   all right
//	multiple     100     94     91     92    88   100   blades hardly alike: 6 of 10
//	hostile       63     54     88     83    83   100   a second rotor at -3 dB: 3 of 7
//	no-rotor     500    498      -      -     -     -   music, voice and tune: 49 of 50
//	coverage     160    148     93     91    93    91   company on the move: 3 of 7
//
// The errors of the steady class are 1.05, 0.99, 0.97 and 1.14 times the
// Cramér-Rao bound (root mean squares of 200) at +20, +5, -5 and -15 dB; one of
// 200 is wrong at -5 dB. On ramps they are within twice the local chirp bound,
// windows of 0.25 s at most, in eight recordings of ten; where a steep one starts or
// ends, one or two points are worse. Trials: peak speed 0.030 % and peak time 2.5 ms
// off in the median, 0.25 % of the time grossly wrong. The intervals are too narrow
// where another rotor or a voice adds to the lines, and the top of what is held
// between two ramps is read a little high.
//
// A class says what the outside world may send; it knows nothing of how the
// engine works, and a case that the engine cannot do stays in.
package exam
