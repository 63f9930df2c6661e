package lint

import (
	"fmt"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/frontmatter"
)

var recordAmended = &Rule{
	Name: "record/amended-without-reason", Severity: Error, Scope: Whole, Reach: OfRecord, Check: checkRecordAmended, Bars: true, AsksHistory: true,
	Title:    "a recorded value was changed, and the record does not say why",
	Settings: []Threshold{{"grace", "15 min", "min", "within which the same person may still correct a slip of typing"}},
}

// checkRecordAmended looks at the amendments in the files, and, where Git is at
// hand, at every committed version of a record: a reading that changed needs an
// `amended` line of its own, and so does what was marked and is so no more.
func checkRecordAmended(p *Pass) {
	if p.Journal.Settings.Policy.ReasonRequired {
		p.Journal.Each(func(record journal.Any) {
			b := record.Base()
			for i, a := range b.Amended {
				if strings.TrimSpace(a.Reason) == "" {
					p.Report(b.Path, []string{"amended", fmt.Sprint(i)}, "%s was amended from %q without a reason", a.Key, a.Was).Help("add reason: to the line; whoever audits this cannot ask you")
				}
			}
		})
	}
	if p.Git == nil {
		return
	}
	grace := time.Duration(p.Setting("grace") * float64(time.Minute))
	for _, path := range p.Git.Changed() {
		if f, ok := journal.FileOf(path); ok && p.run.wanted(path) {
			p.versions(f, grace)
		}
	}
}

// versions compares each committed version of a record with the one before.
func (p *Pass) versions(f journal.File, grace time.Duration) {
	path := f.Path
	var before map[string]string
	var last Commit
	amended := map[string]int{}
	for c, src := range p.Git.Versions(path) {
		var d frontmatter.Document
		d.Parse(append([]byte(nil), src...))
		if !d.OK() {
			continue
		}
		now, told := map[string]string{}, amendments(&d)
		if f.Kind == journal.KindSession {
			now = readingsOf(&d)
		}
		marksOf(&d, now)
		for key, was := range before {
			is, reading := now[key], strings.HasPrefix(key, "readings.")
			slip := reading && c.Email == last.Email && !last.Signed && c.Written.Sub(last.Written) <= grace
			if is == was || is != "" && !reading && (key != "expires" || is < was) || told[key] > amended[key] || slip {
				continue
			}
			if is == "" {
				is = "nothing"
			}
			p.Report(path, strings.Split(key, "."), "%s was %s and is %s since %s changed it on %s (commit %s), and no `amended` line says why", key, was, is, c.Name, p.moment(c.Written), c.ID).
				Help("add to amended: {key: %s, was: %s, by: …, on: %s, reason: …}", key, frontmatter.Quote(was), p.moment(c.Written))
		}
		before, last, amended = now, c, told
	}
}

// readingsOf are the values of a session's readings as they are in the file.
func readingsOf(d *frontmatter.Document) map[string]string {
	out := map[string]string{}
	readings, ok := d.FindPath("readings")
	if !ok {
		return out
	}
	for r := range d.Children(readings) {
		node := r
		if v, ok := d.Child(r, "value"); ok {
			node = v
		}
		n := d.Nodes[node]
		out["readings."+d.Key(r)] = strings.TrimSpace(string(d.Source[n.Start:n.End]))
	}
	return out
}

// marksOf adds what is not taken back: that a record is void, that a lot was
// recalled, until when it is good.
func marksOf(d *frontmatter.Document, out map[string]string) {
	for _, key := range []string{"void", "recalled", "expires"} {
		if node, ok := d.FindPath(key); ok {
			n := d.Nodes[node]
			out[key] = strings.TrimSpace(string(d.Source[n.Start:n.End]))
		}
	}
}

// amendments counts the `amended` lines for each key.
func amendments(d *frontmatter.Document) map[string]int {
	out := map[string]int{}
	list, ok := d.FindPath("amended")
	if !ok {
		return out
	}
	for a := range d.Children(list) {
		if key, ok := d.Child(a, "key"); ok {
			out[strings.TrimSuffix(d.Text(key), ".value")]++
		}
	}
	return out
}
