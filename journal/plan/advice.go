package plan

import "fmt"

// Advice is an error with the next step.
type Advice struct {
	Err  error
	Next string
}

func (a *Advice) Error() string { return a.Err.Error() }

// Unwrap is the error without the next step.
func (a *Advice) Unwrap() error { return a.Err }

func advise(next, format string, args ...any) error {
	return &Advice{fmt.Errorf(format, args...), next}
}
