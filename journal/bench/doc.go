// Package bench is a guided session at the bench as a state machine: which test
// comes next, which step of its method, what was typed so far, what can be taken
// back. It knows no terminal, no clock and no file: inputs and the time come in,
// the state and what to show go out. A State written as JSON after each input is
// enough to go on later exactly where one was.
package bench
