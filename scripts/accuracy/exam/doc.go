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
// A class says what the outside world may send; it knows nothing of how the
// engine works, and a case that the engine cannot do stays in.
package exam
