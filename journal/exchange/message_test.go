package exchange

import (
	"bytes"
	"encoding/base64"
	"encoding/csv"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/mail"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wj/journal"
)

func address(t testing.TB, s string) *mail.Address {
	t.Helper()
	a, err := ParseAddress(s)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// read takes a message apart with Go's own mail reader.
func read(t testing.TB, src []byte) (head mail.Header, parts map[string]string) {
	t.Helper()
	m, err := mail.ReadMessage(bytes.NewReader(src))
	if err != nil {
		t.Fatal(err)
	}
	parts = map[string]string{}
	var walk func(contentType string, r io.Reader)
	walk = func(contentType string, r io.Reader) {
		_, p, err := mime.ParseMediaType(contentType)
		if err != nil {
			t.Fatal(err)
		}
		mr := multipart.NewReader(r, p["boundary"])
		for {
			part, err := mr.NextRawPart()
			if err == io.EOF {
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			kind, _, err := mime.ParseMediaType(part.Header.Get("Content-Type"))
			if err != nil {
				t.Fatal(err)
			}
			if strings.HasPrefix(kind, "multipart/") {
				walk(part.Header.Get("Content-Type"), part)
				continue
			}
			var body io.Reader = part
			switch part.Header.Get("Content-Transfer-Encoding") {
			case "quoted-printable":
				body = quotedprintable.NewReader(part)
			case "base64":
				body = base64.NewDecoder(base64.StdEncoding, part)
			}
			text, err := io.ReadAll(body)
			if err != nil {
				t.Fatal(err)
			}
			parts[kind] = string(text)
		}
	}
	walk(m.Header.Get("Content-Type"), m.Body)
	return m.Header, parts
}

func TestMessage(t *testing.T) {
	j := smallJournal(t, nil)
	owner, _ := j.Owners.Get("tarrow-lane")
	s, _ := j.Sessions.Get("2026-03-05-tarrow-bore")
	letter, err := NewLetter(j, owner, []*journal.Session{s}, "Hello <b>Tove</b>,\n--=_wj_\nsee below.", false)
	if err != nil {
		t.Fatal(err)
	}
	m := Message{From: address(t, "Ines Kaldre <ines@quillmarsh.example>"), To: []*mail.Address{address(t, "tove@tarrow-lane.example")}, Subject: "Wasser – März", Date: testNow,
		Text: letter.Text, HTML: letter.HTML, Attachment: File{"results.csv", letter.CSV}}
	src, err := m.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	again, _ := m.Bytes()
	if !bytes.Equal(src, again) {
		t.Error("the same message gives other bytes")
	}
	head, parts := read(t, src)
	subject, _ := new(mime.WordDecoder).DecodeHeader(head.Get("Subject"))
	if subject != m.Subject || head.Get("X-Unsent") != "1" || head.Get("Mime-Version") != "1.0" {
		t.Errorf("headers %v", head)
	}
	if date, err := head.Date(); err != nil || !date.Equal(testNow) {
		t.Errorf("date %v %v", date, err)
	}
	// The owner reads gpg, and the meter showed gpg: the digits stay.
	if !strings.Contains(parts["text/plain"], "15.2 ±") || !strings.Contains(parts["text/plain"], "gpg") {
		t.Errorf("text: %s", parts["text/plain"])
	}
	if strings.Contains(parts["text/html"], "<b>") || !strings.Contains(parts["text/html"], "&lt;b&gt;Tove") || !strings.Contains(parts["text/html"], "15.2") {
		t.Errorf("html: %s", parts["text/html"])
	}
	rows, err := csv.NewReader(strings.NewReader(parts["text/csv"])).ReadAll()
	if err != nil || len(rows) != 2 || rows[1][5] != "alkalinity" || rows[1][7] != "gpg" || rows[1][11] != "15.2 gpg" {
		t.Errorf("csv: %v %v", rows, err)
	}
}

// TestHeaderInjection: nothing that is typed can start another header line.
func TestHeaderInjection(t *testing.T) {
	for _, s := range []string{
		"tove@x.example\r\nBcc: all@x.example", "tove@x.example\nBcc: all@x.example", "Tove\r\n <tove@x.example>", "=?utf-8?q?Tove=0D=0ABcc:_all@x.example?= <tove@x.example>",
		"=?utf-8?b?VG92ZQ0KQmNjOiBh?= <tove@x.example>", "tove@x.example\x00", "tove", "tove@x.example, all@x.example", "\"a\\\r\nBcc: b\" <tove@x.example>", "tøve@x.example", "",
	} {
		if a, err := ParseAddress(s); err == nil {
			t.Errorf("%q became %v", s, a)
		}
	}
	for _, subject := range []string{"a\r\nBcc: b", "a\nb", "a\rb", "a\x00b", "", "  ", strings.Repeat("x", 201), "a\u0085b"} {
		m := Message{From: address(t, "a@x.example"), To: []*mail.Address{address(t, "b@x.example")}, Subject: subject, Date: testNow}
		if _, err := m.Bytes(); err == nil {
			t.Errorf("the subject %q was taken", subject)
		}
	}
}

func TestMessageLines(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := Message{From: &mail.Address{Name: "Ines", Address: "ines@x.example"}, To: []*mail.Address{{Name: rapid.StringMatching(`[A-Za-zäöü ]{0,20}`).Draw(t, "name"), Address: "tove@x.example"}},
			Subject: rapid.StringMatching(`[a-zäß=?_ –]{1,60}x`).Draw(t, "subject"), Date: testNow, Text: rapid.String().Draw(t, "text"), HTML: rapid.String().Draw(t, "html"),
			Attachment: File{"a.csv", []byte(rapid.String().Draw(t, "csv"))}}
		src, err := m.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		for _, line := range strings.Split(string(src), "\r\n") {
			if strings.ContainsAny(line, "\r\n") || len(line) > 998 {
				t.Fatalf("a line %q", line)
			}
			for _, r := range line {
				if r >= 0x80 {
					t.Fatalf("not ASCII: %q", line)
				}
			}
		}
		parsed, err := mail.ReadMessage(bytes.NewReader(src))
		if err != nil {
			t.Fatal(err)
		}
		if len(parsed.Header) != 7 {
			t.Fatalf("headers %v", parsed.Header)
		}
		subject, err := new(mime.WordDecoder).DecodeHeader(parsed.Header.Get("Subject"))
		if err != nil || subject != strings.TrimSpace(m.Subject) {
			t.Fatalf("subject %q became %q, %v", m.Subject, subject, err)
		}
	})
}
