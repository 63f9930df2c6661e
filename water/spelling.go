package water

import "strings"

// Nearest is the known name that s most likely stands for, or "" when none is
// near: at most a third of its letters differ (Damerau–Levenshtein distance,
// case folded). Ties go to the name listed first.
func Nearest(s string, known []string) string {
	folded := []rune(strings.ToLower(s))
	if len(folded) > 64 {
		return ""
	}
	best, bestDistance := "", 1+max(1, len(folded)/3)
	for _, name := range known {
		k := []rune(strings.ToLower(name))
		if d := len(k) - len(folded); d >= bestDistance || -d >= bestDistance {
			continue
		}
		if d := distance(folded, k); d < bestDistance {
			best, bestDistance = name, d
		}
	}
	return best
}

// distance is the optimal string alignment distance: insertions, deletions,
// substitutions and swaps of neighbours.
func distance(a, b []rune) int {
	prev2, prev, cur := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(a); i++ {
		cur[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				cur[j] = min(cur[j], prev2[j-2]+1)
			}
		}
		prev2, prev, cur = prev, cur, prev2
	}
	return prev[len(b)]
}
