package merge

import (
	"bytes"
	"path"
	"regexp"
	"strconv"
	"strings"

	"wj/journal"
	"wj/journal/evidence"
)

// Two is a session that two people recorded apart under one name: both stay,
// the later one under another name.
type Two struct {
	Path, Other    string // where the earlier and the later one go
	Earlier, Later []byte
	LaterIsTheirs  bool
	ID, OtherID    string
}

// Part gives two sessions of one name a name each: the one sampled later gets
// the first free -2, -3 … taken says which names are in use.
func Part(file string, ours, theirs []byte, taken func(path string) bool) (Two, bool) {
	f, ok := fileOf(file)
	if !ok || !Apart(file, ours, theirs) {
		return Two{}, false
	}
	_, a := evidence.Read(f, ours)
	_, b := evidence.Read(f, theirs)
	x, y := a.(*journal.Session), b.(*journal.Session)
	two := Two{Path: file, ID: f.ID, Earlier: ours, Later: theirs, LaterIsTheirs: true}
	if y.Sampled.Before(x.Sampled) {
		two.Earlier, two.Later, two.LaterIsTheirs = theirs, ours, false
	}
	for n := 2; ; n++ {
		two.OtherID = f.ID + "-" + strconv.Itoa(n)
		two.Other = path.Join(path.Dir(file), two.OtherID+".md")
		if !taken(two.Other) {
			return two, true
		}
	}
}

// Repair renames a record in what refers to it: whole words of the front
// matter alone. A sign-off is what its signer wrote and is left as it is.
func Repair(file string, src []byte, id, now string) (repaired []byte, changed bool) {
	f, ok := fileOf(file)
	if !ok || f.Kind == journal.KindSignoff || f.Kind == journal.KindSettings {
		return src, false
	}
	end := bytes.Index(src, []byte("\n---"))
	if end < 0 {
		return src, false
	}
	word := regexp.MustCompile(`(^|[^A-Za-z0-9-])` + regexp.QuoteMeta(id) + `($|[^A-Za-z0-9-])`)
	head := string(src[:end])
	for i, line := range strings.Split(head, "\n") {
		key, _, _ := strings.Cut(strings.TrimSpace(line), ":")
		if i > 0 && !prose[key] && word.MatchString(line) {
			head = strings.Replace(head, line, word.ReplaceAllString(line, "${1}"+now+"${2}"), 1)
			changed = true
		}
	}
	return append([]byte(head), src[end:]...), changed
}

// prose are keys under which people write, not refer.
var prose = map[string]bool{"note": true, "name": true, "reason": true, "subject": true, "ignore": true}

// Names reports whether a sign-off names a record: it was signed under the
// name that the record no longer has.
func Names(src []byte, id string) bool {
	return bytes.Contains(src, []byte(id+".md:")) || bytes.Contains(src, []byte("of: "+id+"\n"))
}

// Patterns are the files that the merge driver unites, as gitattributes(5)
// names them.
func Patterns() []string {
	out := []string{journal.SettingsFile}
	for _, k := range journal.Kinds() {
		out = append(out, k.Folder()+"/**/*.md")
	}
	return out
}

// Attributes are the lines of .gitattributes that name the merge driver.
func Attributes() string {
	var b strings.Builder
	for _, p := range Patterns() {
		b.WriteString(p + " merge=wj\n")
	}
	return b.String()
}
