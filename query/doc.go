// Package query asks questions of a journal's sessions: an expression that picks sessions, columns that show
// them, groups and reductions, and the history of one value at one site.
//
// # The language
//
// One session is one row. The grammar is that of expr-lang; the names, types, units and the meaning are this
// package's own, because three things must hold that a general evaluator does not give:
//
//	sulfate > 300 and site == "north-well"
//	alkalinity > dKH(7)          a number with a unit is converted for the analyte that it meets
//	surely(sulfate > 300)        over 300 even when the reading is two standard uncertainties too high
//	not (sulfate > 300)          says nothing of a session that has no sulfate
//
// Every analyte and derived name is its value in the analyte's standard unit, measured where it was measured and
// else derived. A bare number is in that unit; a helper (dKH, fH, gpg, mmol, mgN …), as("mg/L N", 10) or a quoted
// quantity ("7 dKH") has its own. A unit that does not fit the analyte is an error of the expression, and so is
// comparing values in different units.
//
// # Five answers
//
// A condition is answered yes, no, unsure, censored or absent, and only yes puts a session in the result.
//
//	absent     a reading that the answer needs is not there, or could not be read
//	censored   a reading is only a bound ("<5 mg/L") and the bound does not decide
//	unsure     inside surely and maybe: both answers are within the uncertainty
//
// A bound decides what it can: "<5" is yes to chloride < 10 and chloride < 5, no to chloride > 5 and
// chloride == 5, and censored to chloride > 3. It goes through +, -, * and / by a known number, and through the
// derivations that only scale one reading; every other derived value of a bound is censored.
//
// Answers combine as in Kleene's strong logic (Kleene 1952, Introduction to Metamathematics, §64): and is no
// as soon as one side is no, or is yes as soon as one side is yes, not swaps yes and no and leaves the others.
// So no negation turns a missing reading into a match. The result counts what was left out, and why; a session
// is counted only where the missing reading would have mattered.
//
// surely(c) is yes where c is yes at both ends of the 95 % interval, that is, two standard uncertainties of the
// difference of both sides (GUM 6.3.3); maybe(c) is yes where it is yes at either end. That uncertainty comes
// from moving each reading in turn, so a reading that is on both sides counts as the one error that it is.
// surely(not c) is not maybe(c): each is settled at the single comparisons. A bound that does not decide stays
// censored in both, and its limit counts as exact.
//
// # Safety
//
// A source is at most 4 KiB and 64 deep before it reaches the parser and 500 nodes after it; there are no loops,
// no variables, no closures and no calls but the listed ones, so that a row costs no more than the nodes.
package query
