package journal

import (
	"fmt"
	"strings"
	"testing"

	"wj/journal/frontmatter"
)

// Each mistake in a reading is reported at its place, with the rule that it breaks
// and, where there is only one way to read it, the fixed text.
func TestCheckReadings(t *testing.T) {
	const head = "---\nsite: a\nsampled: 2026-03-04T08:15+01:00\nby: x\nreadings:\n  "
	for _, c := range []struct{ line, want string }{
		{`sulfate: 84 mg/L`, ``},
		{`sulfate: {value: [97 mg/L, 98 mg/L], dilution: 2}`, ``},
		{`pH: [7.42,7.43]`, ``},
		{`chloride: {value: <5 mg/L, lot: CL-2511}`, ``},
		{`chloride: ">200 mg/L"`, ``},
		{`pH: 7,42`, `6:7 format/decimal-comma fix`},
		{`pH: {value: 7,42}`, `6:15 format/decimal-comma fix`},
		{`sulfate: {value: 7,42 mg/L, lot: X}`, `6:20 format/decimal-comma fix`},
		{`sulfate: {value: [7,42 mg/L]}`, `6:21 format/decimal-comma fix`},
		{`sulfate: {value: 1,200 mg/L}`, `6:20 format/decimal-comma`},
		{`chloride: 1,200 mg/L`, `6:13 format/decimal-comma`},
		{`sulfate: {value: >200 mg/L}`, `6:20 format/front-matter fix`},
		{`sulphate: 84 mg/L`, `6:3 format/unknown-key fix`},
		{`chloride: 6 dKH`, `6:13 unit/kind`},
		{`chloride: 6 mgg/L`, `6:13 unit/kind`},
		{`nitrate: 10 mg/L`, `6:12 unit/basis`},
		{`alkalinity: 118`, `6:15 unit/missing`},
		{`pH: 7.4 mg/L`, `6:7 unit/kind`},
		{`sulfate: 1e3 mg/L`, `6:12 format/number`},
		{`sulfate: 0x1F mg/L`, `6:12 format/number`},
		{`sulfate: 012 mg/L`, `6:12 format/number`},
		{`sulfate: 1_000 mg/L`, `6:12 format/number`},
		{`sulfate: .nan`, `6:12 format/number`},
		{`sulfate: high`, `6:12 format/number`},
		{`residual_alkalinity: 5 mg/L CaCO3`, `6:3 format/unknown-key`},
		{`sulfate: {valeu: 5 mg/L}`, `6:13 format/unknown-key; 6:12 format/missing-key`},
		{`sulfate: {value: 5 mg/L, dilution: two}`, `6:38 format/number`},
	} {
		var d frontmatter.Document
		d.Parse([]byte(head + c.line + "\n---\n"))
		var got []string
		for _, p := range Check(&d, KindSession, "s.md", nil) {
			text := fmt.Sprintf("%d:%d %s", p.Line, p.Column, p.Rule)
			if p.Fix != nil {
				text += " fix"
			}
			if p.Message == "" || p.Help == "" {
				t.Errorf("%s: a problem without message or next step: %+v", c.line, p)
			}
			got = append(got, text)
		}
		if strings.Join(got, "; ") != c.want {
			t.Errorf("%s\n got %s\nwant %s", c.line, strings.Join(got, "; "), c.want)
		}
	}
}

// A time says its offset; a day that the calendar lacks is refused; the order
// of day and month is never guessed.
func TestParseTime(t *testing.T) {
	for s, want := range map[string]string{
		"2026-03-04T08:15+01:00":       "2026-03-04T08:15:00+01:00",
		"2026-03-04T08:15:30Z":         "2026-03-04T08:15:30Z",
		"2026-03-04T08:15:30.25-05:00": "2026-03-04T08:15:30-05:00",
		"2026-02-30T08:15+01:00":       "there is no day 2026-02-30",
		"2026-03-04T08:15":             "no offset",
		"2026-03-04":                   "without a time",
		"04/03/2026":                   "not a date",
		"2026-03-04 08:15+01:00":       "not a time",
		"2026-03-04T24:15+01:00":       "not a time",
		"":                             "not a date",
	} {
		got, err := ParseTime(s)
		text := got.Format("2006-01-02T15:04:05Z07:00")
		if err != nil {
			text = err.Error()
		}
		if !strings.Contains(text, want) {
			t.Errorf("ParseTime(%q) = %s, want %s", s, text, want)
		}
	}
}

func FuzzCheck(f *testing.F) {
	f.Add([]byte(formatPageSession), uint8(KindSession-1))
	f.Add([]byte("---\nfor: x\nbasis: [{session: a, share: 40 %}]\nadd: {gypsum: 180 g}\n---\n"), uint8(KindChange-1))
	f.Add([]byte("format: 1\nname: Quillmarsh\ntimezone: Europe/Vilnius\nunits: {alkalinity: dKH}\nlimits: {sulfate: {max: 250 mg/L}}\npolicy: {changes: {reviewers: 2, valid_for: 90 d}}\nscale: {mass: 1 g}\nlint: {reagent/expired: off}\n"), uint8(KindSettings-1))
	f.Fuzz(func(t *testing.T, src []byte, kind uint8) {
		k := Kind(kind%uint8(numKinds-1)) + 1
		var d frontmatter.Document
		if k == KindSettings {
			d.ParseYAML(src)
		} else {
			d.Parse(src)
		}
		for _, p := range Check(&d, k, "x.md", nil) {
			if p.Start < 0 || p.End > len(src) || p.Start > p.End || p.Line < 1 || p.Column < 1 {
				t.Fatalf("a problem outside the file: %+v", p)
			}
		}
		if k == KindSettings {
			if s := DecodeSettings(&d); s.Zone == nil || s.Lint == nil {
				t.Fatalf("%+v", s)
			}
		} else if d.OK() {
			x := newDecoder()
			x.d = &d
			x.decode(Record{Kind: k})
		}
	})
}
