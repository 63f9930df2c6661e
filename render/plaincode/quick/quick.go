// Package quick writes code as it is.
package quick

import "io"

// Highlight writes the source unchanged.
func Highlight(w io.Writer, source, _, _, _ string) error {
	_, err := io.WriteString(w, source)
	return err
}
