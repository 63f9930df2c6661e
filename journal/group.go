package journal

// Groups puts what has one key together, in the order of their first.
func Groups[T any, K comparable](list []T, key func(T) K) [][]T {
	place := map[K]int{}
	var out [][]T
	for _, x := range list {
		k := key(x)
		at, ok := place[k]
		if !ok {
			at = len(out)
			place[k] = at
			out = append(out, nil)
		}
		out[at] = append(out[at], x)
	}
	return out
}
