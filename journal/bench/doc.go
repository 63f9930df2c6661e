// Package bench is a sitting at the bench as a state machine: which tap and which test come
// next, what was typed so far, what is doubtful about it, what can be taken back. One tap is a
// session, several are a round. The package knows no terminal, no clock and no file: keys and
// the time come in, the state and what to show go out. A State written as JSON after each key
// is enough to go on later exactly where one was.
//
//	m := &bench.Machine{Plan: plan, State: bench.Begin(plan, now), Judge: judge}
//	for m.State.Phase != bench.Record {
//		draw(m.View(now))
//		m.Handle(<-keys, now)
//	}
package bench
