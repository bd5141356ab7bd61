// Package check holds the assertions of lesson cells: a number that a cell has
// found is set beside the number that a standard, a handbook or a calculation by
// hand gives, with a tolerance and the source.
//
// A check prints one line. A check that fails panics with a [*Failure], so the
// cell stops, the notebook stops, and so does every program that runs the
// notebook as a test; whether the check was the last line of the cell makes no
// difference.
//
// A [Ledger] keeps all checks of a lesson and is shown at its end:
//
//	ledger := check.NewLedger("How fast is that")
//	...
//	ledger.Near("tip speed", rotor.TipSpeed(speed), 15.7, 0.05, "common practice")
//	...
//	ledger.Close()
//
// The functions of the same names check without keeping a record.
//
// # Numbers
//
// Where a check takes a number it takes any of Go's, a quantity with its unit
// such as a tacho.RPM, or a tacho.Value, of which it takes the number. A unit on
// one side is taken for the other; different units on both sides fail.
//
// # Answers
//
// [Answer] tells a pupil whether a result is right without the lesson giving the
// right one away; [Seal] is for the author of the lesson.
package check
