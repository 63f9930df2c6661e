package exchange

import (
	"maps"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"
	"time"

	"wj/journal"
)

// OwnerOf is the owner of a session's water: that of its site, on that day. ""
// where the site is unknown.
func OwnerOf(j *journal.Journal, s *journal.Session) string {
	return j.OwnerOf(s)
}

// Owners lists the owners of the sessions' waters, sorted. "" stands for
// sessions whose site is unknown.
func Owners(j *journal.Journal, sessions []*journal.Session) []string {
	var owners []string
	for _, s := range sessions {
		if o := OwnerOf(j, s); !slices.Contains(owners, o) {
			owners = append(owners, o)
		}
	}
	sort.Strings(owners)
	return owners
}

// Apart refuses a file that would hold waters of several owners, unless they were named or all
// were asked for: one owner's results never leave with another's by chance.
func Apart(what string, owners map[string]bool, named []string, all bool) error {
	if len(owners) < 2 || len(named) > 0 || all {
		return nil
	}
	list := slices.Sorted(maps.Keys(owners))
	last := list[len(list)-1]
	if list[0] == "" {
		list[0] = "(unknown site)"
	}
	return journal.Hint("name them: --owner "+last+", or say --all-owners", "the %s would hold waters of several owners: %s", what, strings.Join(list, ", "))
}

// significant is how many digits a computed number is written with: enough for
// any later use, few enough that 6.1 does not become 6.1000000000000005.
const significant = 9

// formatReal writes a number as short as it can be at nine significant digits;
// nothing where it is none.
func formatReal(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', significant, 64), 64)
	if rounded == 0 {
		return "0"
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

// formatMoment writes a time with its offset (RFC 3339, section 5.6).
func formatMoment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.RFC3339)
}
