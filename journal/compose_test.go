package journal

import (
	"testing"

	"wj/journal/frontmatter"
)

// What Compose writes is the canonical form, and reads back as it was meant.
func TestCompose(t *testing.T) {
	got := Compose(KindEvent, []Entry{
		{Key: "what", Value: frontmatter.Quote("Resin replaced: 25 kg")}, {Key: "on", Value: "2026-11-20"}, {Key: "site", Value: "town-main"},
		{Key: "ignore", Below: []Entry{{Key: "site/trend", Value: "known"}, {Key: "unit/kind", Value: "x"}}},
	}, "\nTwo bags.\n\n")
	want := "---\nsite: town-main\non: 2026-11-20\nwhat: \"Resin replaced: 25 kg\"\nignore:\n  site/trend: known\n  unit/kind:  x\n---\n\nTwo bags.\n"
	if string(got) != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	var d frontmatter.Document
	d.Parse(got)
	if ps := Check(&d, KindEvent, "events/x.md", nil); len(ps) > 0 {
		t.Errorf("it has problems: %+v", ps)
	}
	x := newDecoder()
	x.d = &d
	e := x.decode(Record{Kind: KindEvent}).(*Event)
	if e.What != "Resin replaced: 25 kg" || FormatDate(e.On) != "2026-11-20" || e.Ignore["site/trend"] != "known" {
		t.Errorf("it reads back as %+v", e)
	}
}
