// Package evidence says what sign-offs, signatures and history prove, and what
// they cannot.
//
//	line, err := evidence.Open(ctx, repository, evidence.Options{Now: now}, j.Settings.Zone, false)
//	for _, signed := range j.Signoffs.List {
//		v := evidence.Judge(j, signed, evidence.Facts{Now: now, Line: line})
//		fmt.Println(signed.ID, v.Accepts(), v.Why)
//	}
package evidence
