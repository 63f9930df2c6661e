// Package judge decides, once for every command and rule, what follows from the
// records of a journal: which samples are a site's water, what is due, which
// limits are in force and how a value stands to them, what a check standard
// proves, what is left of a lot, what values can be at all.
//
// The linter, the query tool, the reports and the language server ask it and
// decide none of this themselves:
//
//	inForce := judge.NewLimits(j)
//	for _, a := range inForce.Session(session, &analysis) {
//		fmt.Println(a.Value.ID, a.Conformity, a.Limit) // sulfate over the site's own limit, at most 300 mg/L
//	}
//	for _, due := range judge.Due(j, now) {
//		fmt.Println(due.Site.ID, due.On, due.Overdue(now))
//	}
//
// Nothing here reads a clock, a network or Git. docs/decisions says why the
// answers are what they are.
package judge
