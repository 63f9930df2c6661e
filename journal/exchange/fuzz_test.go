package exchange

import (
	"bytes"
	"mime"
	"net/mail"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"wj/journal"
	"wj/journal/judge"
	"wj/render"
)

// FuzzMessage: whatever stands in addresses, subject, texts and table, the draft
// has the seven headers that it shall have and Go's own mail reader gets back
// what was put in.
func FuzzMessage(f *testing.F) {
	f.Add("Ines Kaldre <ines@quillmarsh.example>", "Wasser – März", "Hello\n.\n--=_wj_\n", "<p>x</p>", "results.csv", []byte("a,b\r\n"))
	f.Add("\"Tove, \\\"T\\\"\" <tove@tarrow-lane.example>", "=?utf-8?q?x?=", "tail \t", "\x00\r\n\u2028", "Größe\".csv", []byte{})
	f.Add("=?utf-8?q?Tove=0D=0ABcc:_all@x.example?= <tove@x.example>", strings.Repeat("long ", 30), "\r", " ", "a\r\nb", []byte("\xff"))
	f.Add("\"a\\\\b ⒥\" <tove@x.example>", "\\é", "", "", "", []byte{})
	f.Add("tove@x.example", "x", "a\r\xe9\n--=_wj_\n", "", "", []byte{})
	f.Add("(comment) a.b@[127.0.0.1]", "a  b", "", "", "", []byte("x"))
	f.Fuzz(func(t *testing.T, to, subject, text, page, name string, table []byte) {
		if len(to)+len(subject)+len(text)+len(page)+len(name)+len(table) > 1<<14 {
			return
		}
		a, err := ParseAddress(to)
		if err != nil {
			return
		}
		m := Message{From: &mail.Address{Name: "Ines", Address: "ines@x.example"}, To: []*mail.Address{a, a}, Subject: subject, Date: testNow, Text: text, HTML: page, Attachment: File{name, table}}
		src, err := m.Bytes()
		if err != nil {
			return
		}
		for line := range strings.SplitSeq(string(src), "\r\n") {
			if strings.ContainsAny(line, "\r\n\x00") || len(line) > 998 || strings.ContainsFunc(line, func(r rune) bool { return r >= utf8.RuneSelf }) {
				t.Fatalf("a line %q", line)
			}
		}
		head, parts := read(t, src)
		if len(head) != 7 {
			t.Fatalf("headers %v", head)
		}
		if got, err := new(mime.WordDecoder).DecodeHeader(head.Get("Subject")); err != nil || got != strings.TrimSpace(strings.ToValidUTF8(subject, "\ufffd")) && utf8.ValidString(subject) {
			t.Fatalf("subject %q became %q, %v", subject, got, err)
		}
		list, err := head.AddressList("To")
		if err != nil || len(list) != 2 || *list[0] != *a || *list[1] != *a {
			t.Fatalf("%q, read as %+v, became %v, %v", to, a, list, err)
		}
		// A line end of any kind is CRLF in a text part (RFC 2046, section 4.1.1).
		if got, want := parts["text/plain"], lineEnds.Replace(text); got != want {
			t.Fatalf("text %q became %q", want, got)
		}
		if name != "" && parts["text/csv"] != string(table) {
			t.Fatalf("table %q became %q", table, parts["text/csv"])
		}
	})
}

// FuzzCalendar: names of sites, journal and lots stay in their content lines
// (RFC 5545, sections 3.1 and 3.3.11) and come back from them.
func FuzzCalendar(f *testing.F) {
	j := smallJournal(f, nil)
	due := judge.Due(j, testNow)
	f.Add("North well", "SU-2511", "sulfate")
	f.Add("a;b,c\\n\nBEGIN:VEVENT", "\r\nEND:VCALENDAR", "\u2028\x85\x00")
	f.Add(strings.Repeat("ü", 60), "\xff", strings.Repeat("\\", 80))
	back := strings.NewReplacer(`\\`, `\`, `\;`, ";", `\,`, ",", `\n`, "\n", `\N`, "\n")
	f.Fuzz(func(t *testing.T, site, lot, substance string) {
		if len(site)+len(lot)+len(substance) > 1<<14 {
			return
		}
		one := *due[0].Site
		one.Name = site
		copied := due[0]
		copied.Site = &one
		lots := []*journal.Lot{{Record: journal.Record{ID: lot}, Substance: substance, Expires: testNow}}
		out := ICalendar(Calendar{Of: j, Due: []judge.DueTest{copied}, Lots: lots, Now: testNow})
		for line := range strings.SplitAfterSeq(string(out), "\r\n") {
			if line = strings.TrimSuffix(line, "\r\n"); len(line) > 75 || !utf8.ValidString(line) || strings.ContainsFunc(line, unicode.IsControl) {
				t.Fatalf("a line of %d octets: %q", len(line), line)
			}
		}
		var properties bytes.Buffer
		for _, line := range unfold(string(out)) {
			name, value, ok := strings.Cut(line, ":")
			if !ok {
				t.Fatalf("%q is no content line", line)
			}
			properties.WriteString(name + " ")
			if name == "LOCATION" && back.Replace(value) != strings.ReplaceAll(render.Clean(site), "\t", " ") {
				t.Fatalf("%q became %q", site, value)
			}
		}
		if want := "BEGIN VERSION PRODID CALSCALE METHOD X-WR-CALNAME BEGIN UID DTSTAMP SUMMARY DUE;VALUE=DATE DESCRIPTION LOCATION GEO CATEGORIES STATUS END BEGIN UID DTSTAMP SUMMARY DTSTART;VALUE=DATE DTEND;VALUE=DATE TRANSP CATEGORIES END END "; properties.String() != want {
			t.Fatalf("the properties are\n%s, not\n%s", properties.String(), want)
		}
	})
}
