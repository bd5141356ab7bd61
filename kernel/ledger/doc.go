// Package ledger knows which cells of a page show what a run from top to bottom
// would not show.
//
// For every cell it keeps its last run: which names the cell used and which
// version of each it met, and which versions it left behind. It then goes through
// the cells in the order of the page, as a fresh session would, and follows the
// versions. A cell that met another version than a fresh session would meet is
// out of date, and so is every cell that uses what it would leave.
//
// A version is whatever tells one value of a name from another; the interpreter
// takes a hash of the value where it can see all of it, and of what it was
// computed from where it cannot. Running a cell again that gives the same values
// therefore puts nothing out of date.
//
// # The order of the page
//
// Front ends say which cell they run, not where it stands. A new cell is taken to
// stand below all that ran before it. If a cell turns out to use what one below it
// has made, that one must have been put in above, unless it was seen to use what
// the other made. In doubt nothing is said: no notice is better than a false one.
//
// # What this cannot see
//
//   - a cell that was edited but not run, and one that was moved on the page;
//   - the deletion of a cell, in a front end that does not tell of it;
//   - that cells ran out of order, where each met what it would meet in another
//     order of the page which the session cannot tell from the real one;
//   - in a front end that does not name its cells: an edited cell is a new one, and
//     one that runs again with the same text is the same cell only if nobody else
//     has changed since what it makes;
//   - changes inside values that reflection does not reach: what a closure keeps
//     for itself (closures that assign to variables they have captured are taken to
//     change whenever they are used), what goes through a channel, the unexported
//     fields of some compiled types (recordings, files, locks, plots);
//   - a change of a few elements of more than a mebibyte of plain numbers, of which
//     samples are taken; and of one value with more than 100,000 parts;
//   - what a goroutine changes after its cell has ended: it is put down to the next
//     cell;
//   - which methods a compiled function calls on a value, such as String;
//   - files, the clock and other programs.
package ledger
