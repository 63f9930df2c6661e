// Package spelling finds what was meant by a word that is no name here: an
// analyte, a unit, a lint rule, a record's id, a key of a record, a command.
//
//	spelling.Nearest("sulphat", water.Keys())    // "sulfate"
//	spelling.Hint("chlorine", water.Keys())      // "did you mean free_chlorine or total_chlorine?"
//	spelling.Find("wicket-bitter", changes)      // the one id that has this part
//
// It knows the trade's other words for the analytes (package water teaches it
// those of its table) and for the rest (words.go), and measures letters only
// where no word fits. It imports nothing of ours.
package spelling

import (
	"cmp"
	"slices"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"
)

// most is how many candidates a person is shown.
const most = 4

// Nearest is the known name that the word most likely stands for, or "" where
// none is near.
func Nearest(word string, known []string) string {
	if list := Meant(word, known); len(list) > 0 {
		return list[0]
	}
	return ""
}

// Hint is the question that goes with an error: "did you mean sulfate?" or, for
// a word that stands for several, "did you mean free_chlorine or
// total_chlorine?"; "" where nothing is near.
func Hint(word string, known []string) string {
	list := Meant(word, known)
	if len(list) == 0 {
		return ""
	}
	return "did you mean " + Or(list) + "?"
}

// HintOr is Hint, or else what to say where nothing is near.
func HintOr(word string, known []string, otherwise string) string {
	return cmp.Or(Hint(word, known), otherwise)
}

// Or lists names as a sentence does: "a", "a or b", "a, b or c".
func Or(list []string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " or " + list[len(list)-1]
}

// Meant lists the known names that the word most likely stands for, the
// likeliest first and at most four; names of the list only. These are tried in
// turn, and the first that gives anything ends the search: the same letters
// (case, spelling of sulf and separators do not count), another word for it, a
// part of a name ("expired" of reagent/expired), a slip: at most a third of the
// letters differ.
func Meant(word string, known []string) []string {
	folded := fold(word)
	if folded == "" || len(folded) > 64 {
		return nil
	}
	matches := func(fits func(string) bool) []string {
		var out []string
		for _, name := range known {
			if fits(name) && !slices.Contains(out, name) {
				out = append(out, name)
			}
		}
		return out
	}
	if same := Same(word, known); len(same) > 0 {
		return cut(same)
	}
	if len(folded) >= 3 {
		if begin := matches(func(name string) bool { return strings.HasPrefix(fold(name), folded) }); len(begin) == 1 {
			return begin
		}
		if parts := matches(func(name string) bool { return hasPart(name, folded) }); len(parts) > 0 && len(parts) <= most {
			return parts
		}
	}
	if near := slip(folded, known); len(near) > 0 {
		return near
	}
	// "chemistry/balance" of chemistry/charge-balance, then the last word of
	// "lot/expired" of reagent/expired.
	all := parts(word)
	if len(all) < 2 {
		return nil
	}
	if every := matches(func(name string) bool {
		return !slices.ContainsFunc(all, func(part string) bool { return !hasPart(name, fold(part)) })
	}); len(every) > 0 {
		return cut(every)
	}
	last := fold(all[len(all)-1])
	if some := matches(func(name string) bool { return len(last) >= 4 && hasPart(name, last) }); len(some) <= most {
		return some
	}
	return nil
}

// Same lists the known names that the word is another spelling of, or else another
// word for; slips and parts do not count.
func Same(word string, known []string) []string {
	folded := fold(word)
	var spelt, also []string
	for _, name := range known {
		switch {
		case folded == "":
		case fold(name) == folded && !slices.Contains(spelt, name):
			spelt = append(spelt, name)
		case slices.Contains(others()[folded], name) && !slices.Contains(also, name):
			also = append(also, name)
		}
	}
	if len(spelt) > 0 {
		return spelt
	}
	return also
}

// Find is the known name that a person wrote in full or by any part that is
// unique. Where there is none, or more than one, found is "" and candidates
// lists what may have been meant; ambiguous says which of the two it was.
func Find(word string, known []string) (found string, candidates []string, ambiguous bool) {
	if slices.Contains(known, word) {
		return word, nil, false
	}
	folded := fold(word)
	if folded != "" {
		for _, fits := range []func(string) bool{
			func(name string) bool { return fold(name) == folded },
			func(name string) bool { return fold(undated(name)) == folded },
			func(name string) bool { return hasPart(name, folded) },
			func(name string) bool { return len(folded) >= 3 && strings.Contains(fold(name), folded) },
		} {
			for _, name := range known {
				if fits(name) {
					candidates = append(candidates, name)
				}
			}
			switch len(candidates) {
			case 0:
				continue
			case 1:
				return candidates[0], nil, false
			}
			return "", candidates, true
		}
	}
	return "", Meant(word, known), false
}

func cut(list []string) []string { return list[:min(len(list), most)] }

// slip lists the names nearest by Damerau-Levenshtein distance: of the name, with
// and without its date, or of another word for it; and only where none of these
// is near, of a part of a name.
func slip(word string, known []string) []string {
	letters := utf8.RuneCountInString(word) // not bytes: "mg/ℒ" is one letter off
	if letters < 2 {
		return nil
	}
	limit := max(1, letters/3)
	nearest := map[string]int{}
	measure := func(name, spelling string) {
		length := utf8.RuneCountInString(spelling)
		if d := length - letters; max(d, -d) > limit || letters == 2 && length > 3 {
			return
		}
		d := distance([]rune(word), []rune(spelling))
		if before, ok := nearest[name]; d <= limit && d < letters && (!ok || d < before) {
			nearest[name] = d
		}
	}
	for _, name := range known {
		measure(name, fold(name))
		measure(name, fold(undated(name)))
	}
	for also, meant := range others() {
		for _, name := range meant {
			if len(also) >= 4 && slices.Contains(known, name) { // SO4 is not a slip of SiO2
				measure(name, also)
			}
		}
	}
	if len(nearest) == 0 && len(word) >= 4 {
		for _, name := range known {
			for _, part := range parts(name) {
				if folded := fold(part); len(folded) >= 4 {
					measure(name, folded)
				}
			}
		}
	}
	least := limit
	for _, d := range nearest {
		least = min(least, d)
	}
	var out []string
	for _, name := range known {
		if d, ok := nearest[name]; ok && d == least && !slices.Contains(out, name) {
			out = append(out, name)
		}
	}
	return cut(out)
}

// folder writes spellings of one word in one way: the British ph of sulph, and
// no separators.
var folder = strings.NewReplacer("sulph", "sulf", "colour", "color", "-", "", "_", "", " ", "", "/", "", ".", "", "'", "", "₂", "2", "₃", "3", "₄", "4", "\u00b5", "u", "\u03bc", "u")

func fold(s string) string { return folder.Replace(strings.ToLower(strings.TrimSpace(s))) }

func parts(name string) []string {
	return strings.FieldsFunc(name, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
}

// hasPart says that a name holds the word between its separators: "bitter" and
// "wicket-bitter" are parts of 2026-03-01-wicket-bitter, "bit" is not.
func hasPart(name, folded string) bool {
	list := parts(name)
	for i := range list {
		joined := ""
		for _, part := range list[i:] {
			if joined += fold(part); joined == folded {
				return true
			}
			if len(joined) > len(folded) {
				break
			}
		}
	}
	return false
}

// undated is an id without the date in front.
func undated(id string) string {
	const dateLength = len("2026-03-04")
	if len(id) > dateLength+1 && id[dateLength] == '-' && id[4] == '-' && id[7] == '-' && strings.Trim(id[:4], "0123456789") == "" {
		return id[dateLength+1:]
	}
	return id
}

// others holds, by folded spelling, the names that another word stands for.
var others = sync.OnceValue(func() map[string][]string {
	m := map[string][]string{}
	for name, list := range words {
		for _, word := range list {
			m[fold(word)] = append(m[fold(word)], name)
		}
	}
	for _, l := range learned {
		for _, word := range l.words {
			if word = fold(word); !slices.Contains(m[word], l.name) {
				m[word] = append(m[word], l.name)
			}
		}
	}
	return m
})

// learned is what [Learn] was given.
var learned []struct {
	name  string
	words []string
}

// Learn adds other words for a name. It is for the init of a package with a table
// of names, such as the analytes, and for nothing later.
func Learn(name string, words ...string) {
	learned = append(learned, struct {
		name  string
		words []string
	}{name, words})
}

// distance is the optimal string alignment distance: insertions, deletions,
// substitutions and swaps of neighbours (Damerau 1964, Communications of the
// ACM 7, 171).
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
