package journal

import (
	"errors"
	"fmt"
)

// hinted is an error with the next step.
type hinted struct {
	error
	next string
}

func (h *hinted) Unwrap() error { return h.error }
func (h *hinted) Hint() string  { return h.next }

// Hint makes an error that carries the next step for whoever made the mistake.
func Hint(next, format string, args ...any) error {
	return &hinted{fmt.Errorf(format, args...), next}
}

// HintOf is the next step that goes with an error; "" where it has none.
func HintOf(err error) string {
	var h interface{ Hint() string }
	if errors.As(err, &h) {
		return h.Hint()
	}
	return ""
}
