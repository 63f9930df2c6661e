package website

import (
	"fmt"
	"html"
	"regexp"
	"slices"
	"strings"
	"sync"

	"wj/journal"
	"wj/journal/trace"
)

// Extract is what hides other owners' water from the pages of one owner.
type Extract struct {
	Owner, Name string
	foreign     *regexp.Regexp // names of others: owners, their sites, and records that are left out
}

// notShown stands for a text that names somebody else's water.
const notShown = "(not shown: it names other people's water)"

// OneOwner is the part of a journal that may be handed to one owner, by the rule of trace.Extract, and what hides the rest where a
// text names it. The journal's own name and the brewery as an owner are who tested the water, and stay.
func OneOwner(j *journal.Journal, owner string) (*journal.Journal, *Extract, error) {
	keep, err := trace.Extract(j, owner)
	if err != nil {
		return nil, nil, err
	}
	own, _ := j.Owners.Get(owner)
	x := &Extract{Owner: owner, Name: own.Name}
	var words, gone []string
	add := func(list ...string) {
		for _, w := range list {
			if w = strings.TrimSpace(w); len(w) > 2 && w != own.Name && w != own.ID && w != j.Settings.Name && !slices.Contains(plainWords, strings.ToLower(w)) {
				words = append(words, regexp.QuoteMeta(w), regexp.QuoteMeta(html.EscapeString(w)))
			}
		}
	}
	for _, o := range j.Owners.List {
		if o.ID != owner && !o.Self {
			add(o.ID, o.Name, strings.ReplaceAll(o.ID, "-", " "))
			add(o.Email...)
			if first, _, several := strings.Cut(o.ID, "-"); several && len(first) > 4 && !strings.Contains(strings.ToLower(own.ID+" "+own.Name+" "+j.Settings.Name), first) {
				add(first)
			}
		}
	}
	for _, s := range j.Sites.List {
		if !s.OwnedBy(owner) {
			add(s.ID, s.Name)
		}
	}
	for _, f := range j.Files {
		if keep(f) {
			continue
		}
		gone = append(gone, f.Path)
		if strings.Contains(f.ID, "-") && f.Kind != journal.KindSession { // a session's name has its site's
			add(f.ID)
		}
		if p, ok := j.People.Get(f.ID); ok && f.Kind == journal.KindPerson {
			add(p.ID, p.Name)
		}
	}
	if len(words) > 0 {
		x.foreign = regexp.MustCompile(`(?i)(?:^|[^\p{L}\p{N}])(?:` + strings.Join(words, "|") + `)(?:[^\p{L}\p{N}]|$)`)
	}
	return j.WaterOf(owner).Without(gone), x, nil
}

// plainWords are words of the format and the trade, which name nobody even where a record is called so.
var plainWords = []string{"bench", "lab", "utility", "laboratory", "water", "brewery", "brewing", "brewhouse", "source", "tap", "main", "well", "routine"}

// shows reports whether a text names nobody else's water.
func (x *Extract) shows(text string) bool {
	return x == nil || x.foreign == nil || !x.foreign.MatchString(text)
}

func (x *Extract) hide(text string) string {
	if x.shows(text) {
		return text
	}
	return notShown
}

var (
	mailAddress = sync.OnceValue(func() *regexp.Regexp {
		return regexp.MustCompile(`[\p{L}\p{N}._%+-]+@[\p{L}\p{N}-]+(?:\.[\p{L}\p{N}-]+)+`)
	})
	publicKey = sync.OnceValue(func() *regexp.Regexp {
		return regexp.MustCompile(`(?:(?:ssh|ecdsa|sk-ssh|sk-ecdsa)-[a-z0-9@.-]+ )?AAAA[A-Za-z0-9+/]{20,}={0,2}`)
	})
)

// text is what becomes of every text on every page: no keys, no addresses where they are not asked for, nothing of others.
func (m *maker) text(s string) string {
	if strings.Contains(s, "AAAA") {
		s = publicKey().ReplaceAllString(s, "(key not shown)")
	}
	if !m.Contacts && strings.Contains(s, "@") {
		s = mailAddress().ReplaceAllString(s, "(address not shown)")
	}
	if m.Extract == nil || strings.TrimSpace(s) == "" {
		return s
	}
	return m.Extract.hide(s)
}

// Of says what the pages show.
func (x *Extract) Of() string {
	if x == nil {
		return "the whole journal"
	}
	return fmt.Sprintf("the water of %s", x.Owner)
}
