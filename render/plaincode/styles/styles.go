// Package styles holds no colour schemes.
package styles

import "github.com/alecthomas/chroma/v2"

// Registry is empty at the start.
var Registry = map[string]*chroma.Style{}

// Register keeps a style by its name.
func Register(s *chroma.Style) *chroma.Style {
	Registry[s.Name] = s
	return s
}
