package journal

import (
	"path"
	"strings"
)

// MatchPath reports whether a file is the one that a pattern names, or in its folder.
// A * is any part of a name, ** any number of folders.
func MatchPath(pattern, file string) bool {
	pattern = strings.Trim(strings.ReplaceAll(pattern, "\\", "/"), "/")
	return matchParts(strings.Split(pattern, "/"), strings.Split(file, "/"))
}

func matchParts(pattern, file []string) bool {
	for i, p := range pattern {
		if p == "**" {
			for k := i; k <= len(file); k++ {
				if matchParts(pattern[i+1:], file[min(k, len(file)):]) {
					return true
				}
			}
			return false
		}
		if i >= len(file) {
			return false
		}
		if ok, err := path.Match(p, file[i]); err != nil || !ok {
			return false
		}
	}
	return true
}
