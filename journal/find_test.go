package journal

import (
	"errors"
	"testing"
	"testing/fstest"
)

func TestRecord(t *testing.T) {
	fs := fstest.MapFS{"wj.yaml": {Data: []byte("name: Test\n")}}
	for _, path := range []string{"sites/north-well.md", "sites/north-well-ro.md", "sites/taproom.md", "changes/2026-03-01-wicket-bitter.md", "changes/2026-05-02-wicket-bitter.md",
		"changes/2026-03-01-grey-mild.md", "targets/grey-mild.md", "lots/SU-2604.md", "sessions/2026/2026-03-01-taproom.md"} {
		fs[path] = &fstest.MapFile{Data: []byte("---\nname: x\n---\n")}
	}
	j, err := Load(fs, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		word  string
		kinds []Kind
		path  string
		err   string
		hint  string
	}{
		{"north-well", nil, "sites/north-well.md", "", ""},
		{"sites/north-well.md", nil, "sites/north-well.md", "", ""},
		{"north-well.md", nil, "sites/north-well.md", "", ""},
		{"well-ro", nil, "sites/north-well-ro.md", "", ""},
		{"su-2604", nil, "lots/SU-2604.md", "", ""},
		{"grey-mild", []Kind{KindChange}, "changes/2026-03-01-grey-mild.md", "", ""},
		{"grey-mild", nil, "targets/grey-mild.md", "", ""},
		{"taproom", []Kind{KindSession}, "sessions/2026/2026-03-01-taproom.md", "", ""},
		{"wicket-bitter", nil, "", `"wicket-bitter" may be any of 2 records`, "one of 2026-03-01-wicket-bitter, 2026-05-02-wicket-bitter"},
		{"north-wel", []Kind{KindSite}, "", `"north-wel" may be any of 2 sites`, "one of north-well, north-well-ro"},
		{"tabroom", []Kind{KindSite}, "", `there is no site "tabroom"`, "did you mean taproom?"},
		{"zzz", []Kind{KindSite}, "", `there is no site "zzz"`, "wj ls sites lists them"},
		{"zzz", nil, "", `there is no record "zzz"`, "wj ls lists the records"},
	} {
		f, err := j.Record(c.word, c.kinds...)
		var nf *NotFound
		if c.err == "" && (err != nil || f.Path != c.path) || c.err != "" && (!errors.As(err, &nf) || err.Error() != c.err || nf.Hint() != c.hint) {
			t.Errorf("%q among %v: %v, %v", c.word, c.kinds, f, err)
			if nf != nil {
				t.Log(nf.Hint())
			}
		}
	}
}
