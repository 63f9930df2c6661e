// Package evidence says what sign-offs, signatures and history prove, and what
// they cannot.
package evidence
