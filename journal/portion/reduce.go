package portion

import (
	"bytes"
	"slices"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/frontmatter"
)

// leftOut stands for a text that named somebody else's water.
const leftOut = "(left out: it named another owner)"

// Reduce leaves out of a record what names strangers: references and entries of
// lists go, texts and paragraphs become a remark that something was left out. The
// bytes of a record that names none stay as they are. ok is false where nothing
// sensible is left: what must be said names a stranger.
func (p *Portion) Reduce(path string, content []byte) (out []byte, ok bool) {
	f, isRecord := journal.FileOf(path)
	if !isRecord {
		if path != journal.SettingsFile {
			return content, p.Strangers.In(string(content)) == "" // signatures and attachments
		}
		f = journal.File{Kind: journal.KindSettings, ID: path, Path: path}
	}
	switch f.Kind {
	case journal.KindSite:
		content = p.ended(f.ID, content)
	case journal.KindSettings:
		content = p.renamed(content)
	}
	for range 1000 { // each takes something out
		var d frontmatter.Document
		parse(&d, f.Kind, content)
		if d.Failed() || !d.OK() {
			return content, p.Strangers.In(string(content)) == ""
		}
		edit, found, ok := p.next(&d, f.Kind)
		if !ok {
			return nil, false
		}
		if !found {
			break
		}
		next, err := frontmatter.Apply(content, []frontmatter.Edit{edit})
		if err != nil || bytes.Equal(next, content) {
			return nil, false
		}
		content = next
	}
	content = p.prose(content, f.Kind)
	return content, p.Strangers.In(string(content)) == "" && p.whole(f, content)
}

func parse(d *frontmatter.Document, kind journal.Kind, content []byte) {
	if kind == journal.KindSettings {
		d.ParseYAML(content)
	} else {
		d.Parse(content)
	}
}

// texts are keys whose value is told to people: what they say is replaced, never
// taken away, so that a correction stays one.
var texts = []string{"reason", "was", "note", "what", "deviation", "cause", "correction", "effect", "subject", "message", "help", "evidence", "source", "action"}

// next is the next edit that takes a stranger out of the front matter.
func (p *Portion) next(d *frontmatter.Document, kind journal.Kind) (edit frontmatter.Edit, found, ok bool) {
	parents := parentsOf(d)
	for n := int32(1); n < int32(len(d.Nodes)); n++ {
		node := d.Nodes[n]
		key := d.Key(n)
		inKey := key != "" && p.Strangers.In(key) != ""
		if node.Kind != frontmatter.Scalar && !inKey {
			continue
		}
		value := ""
		if node.Kind == frontmatter.Scalar {
			value = d.Text(n)
		}
		named := p.Strangers.In(value) != ""
		reference := p.Strangers.Is(value) && refersHere(d, parents, n)
		switch {
		case !named && !reference && !inKey:
			continue
		case !inKey && slices.Contains(texts, key):
			return frontmatter.SetScalar(d, n, leftOut), true, true
		case kind == journal.KindSettings && key == "name" && parents[n] == 0:
			return frontmatter.SetScalar(d, n, p.Owner.Name), true, true
		case key == "name" && parents[n] == 0:
			return edit, true, false
		}
		out := removable(d, parents, n)
		if parents[out] == 0 && required(kind, d.Key(out)) {
			return edit, true, false
		}
		edit, err := frontmatter.RemoveNode(d, out)
		return edit, true, err == nil
	}
	return edit, false, true
}

// removable is what goes with a value: an entry of a list as a whole, a key of a
// mapping, and whatever would be empty without it.
func removable(d *frontmatter.Document, parents []int32, at int32) int32 {
	for parents[at] != 0 {
		up := parents[at]
		entry := d.Nodes[up].Kind == frontmatter.Mapping && d.Nodes[parents[up]].Kind == frontmatter.Sequence
		if !entry && (d.Nodes[up].First != at || d.Nodes[at].Next != 0) {
			return at
		}
		at = up
	}
	return at
}

func parentsOf(d *frontmatter.Document) []int32 {
	parents := make([]int32, len(d.Nodes))
	for n := range d.Nodes {
		for c := range d.Children(int32(n)) {
			parents[c] = int32(n)
		}
	}
	return parents
}

// references are the keys behind which an id of a site, an owner or a record of
// somebody's water stands.
var references = []string{"site", "owner", "owners", "fed_by", "sites", "rounds", "about", "of", "basis", "session", "duplicate_of", "change", "batch", "for", "supersedes", "replaces", "by", "recorded_by", "author", "dosed_by", "witnessed_by"}

func refersHere(d *frontmatter.Document, parents []int32, n int32) bool {
	for at := n; at != 0; at = parents[at] {
		if key := d.Key(at); key != "" && slices.Contains(references, key) {
			return true
		}
	}
	return false
}

func required(kind journal.Kind, key string) bool {
	return slices.ContainsFunc(kind.Fields(), func(f journal.Field) bool { return f.Key == key && f.Required })
}

// prose replaces paragraphs of the notes, and comments of the front matter, that
// name strangers.
func (p *Portion) prose(content []byte, kind journal.Kind) []byte {
	var d frontmatter.Document
	parse(&d, kind, content)
	head, body := string(content), ""
	if kind != journal.KindSettings {
		head, body = string(content[:d.Body]), string(content[d.Body:])
	}
	lines := strings.SplitAfter(head, "\n")
	for i, line := range lines {
		at := strings.Index(line, "#")
		if at >= 0 && (at == 0 || line[at-1] == ' ' || line[at-1] == '\t') && p.Strangers.In(line[at:]) != "" && p.Strangers.In(line[:at]) == "" {
			lines[i] = strings.TrimRight(line[:at], " \t") + "\n"
			if strings.TrimSpace(line[:at]) == "" {
				lines[i] = ""
			}
		}
	}
	paragraphs := strings.Split(body, "\n\n")
	for i, text := range paragraphs {
		if p.Strangers.In(text) != "" {
			paragraphs[i] = strings.Repeat("\n", len(text)-len(strings.TrimLeft(text, "\n"))) + leftOut
			if strings.HasSuffix(text, "\n") {
				paragraphs[i] += "\n"
			}
		}
	}
	return []byte(strings.Join(lines, "") + strings.Join(paragraphs, "\n\n"))
}

// whole reports whether a record still is one of its kind, and of a site whether
// it is the owner's.
func (p *Portion) whole(f journal.File, content []byte) bool {
	if f.Kind == journal.KindSettings {
		return true
	}
	d, record := evidence.Read(f, content)
	if record == nil {
		return false
	}
	for _, field := range f.Kind.Fields() {
		if n, there := d.FindPath(field.Key); field.Required && (!there || d.Nodes[n].Kind != frontmatter.Scalar && d.Nodes[n].First == 0) {
			return false
		}
	}
	site, ok := record.(*journal.Site)
	return !ok || site.OwnedBy(p.Owner.ID)
}

// renamed gives the settings the id of the new journal: two journals have two. Bytes
// that somebody signed stay; [Split] then sets it in the last commit.
func (p *Portion) renamed(content []byte) []byte {
	var d frontmatter.Document
	d.ParseYAML(content)
	if n, ok := d.FindPath("journal"); ok && !p.settings {
		if out, err := frontmatter.Apply(content, []frontmatter.Edit{frontmatter.SetScalar(&d, n, p.journal)}); err == nil {
			return out
		}
	}
	return content
}

// ended gives a site that went to another owner a last day, and what its record was
// that day: whose it is since, and what they do there, is not the business of who had it.
func (p *Portion) ended(id string, content []byte) []byte {
	f := journal.File{Kind: journal.KindSite, ID: "x", Path: "sites/x.md"}
	d, record := evidence.Read(f, content)
	site, ok := record.(*journal.Site)
	if !ok || len(site.Owners) < 2 {
		return content
	}
	if was := p.since[id]; was != nil && site.Owner != p.Owner.ID {
		content = was
		if d, record = evidence.Read(f, content); record == nil {
			return content
		}
	}
	list, _ := d.FindPath("owner")
	var edits []frontmatter.Edit
	var last int32 // the entry of ours that came last
	gone := ""     // the last day of ours
	ours := 0
	for n := range d.Children(list) {
		owner, _ := d.Child(n, "owner")
		since, dated := d.Child(n, "since")
		switch {
		case owner != 0 && d.Text(owner) == p.Owner.ID:
			last, gone = n, ""
			ours++
		case last != 0 && dated:
			if day, err := time.Parse(time.DateOnly, d.Text(since)); err == nil {
				gone = day.AddDate(0, 0, -1).Format(time.DateOnly)
				if _, has := d.Child(last, "until"); !has {
					if edit, err := frontmatter.AppendKey(d, last, "until", gone); err == nil {
						edits = append(edits, edit)
					}
				}
			}
			last = 0
		}
	}
	if gone != "" && ours == 1 { // said as it was before the transfer
		edits = []frontmatter.Edit{frontmatter.SetScalar(d, list, p.Owner.ID)}
	}
	if _, has := d.Child(0, "until"); !has && gone != "" { // nothing is due there any more
		if edit, err := frontmatter.AppendKey(d, 0, "until", gone); err == nil {
			edits = append(edits, edit)
		}
	}
	if out, err := frontmatter.Apply(content, edits); err == nil {
		return out
	}
	return content
}
