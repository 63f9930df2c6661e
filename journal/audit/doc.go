// Package audit answers what an auditor asks of a journal: what rests on what,
// who set a value and what it was before, whether a sign-off still holds, in
// which state a change is, and what two states of a journal differ in.
//
// It is pure. Records come from package journal; what only history can know
// (versions of a file, who committed it, whether a signature holds) is handed
// in as plain facts, so that every judgement here can be tested without a
// repository and holds for files that are in none.
package audit
