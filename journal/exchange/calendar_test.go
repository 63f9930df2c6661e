package exchange

import (
	"os/exec"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"wj/journal"
	"wj/journal/judge"
)

// unfold undoes the folding of content lines (RFC 5545, section 3.1).
func unfold(s string) []string {
	return strings.Split(strings.TrimSuffix(strings.ReplaceAll(s, "\r\n ", ""), "\r\n"), "\r\n")
}

func TestCalendarFolding(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.String().Draw(t, "text")
		var w calendarWriter
		w.text("SUMMARY", text)
		out := w.String()
		for _, line := range strings.SplitAfter(out, "\r\n") {
			if len(strings.TrimSuffix(line, "\r\n")) > 75 || !utf8.ValidString(line) {
				t.Fatalf("a line of %d octets: %q", len(line), line)
			}
		}
		lines := unfold(out)
		if len(lines) != 1 || !strings.HasPrefix(lines[0], "SUMMARY:") {
			t.Fatalf("not one line: %q", lines)
		}
		back := strings.NewReplacer(`\\`, `\`, `\;`, ";", `\,`, ",", `\n`, "\n").Replace(lines[0][8:])
		if strings.ContainsAny(back, "\r\x00\x1b") || !utf8.ValidString(back) {
			t.Fatalf("a control got through: %q", back)
		}
	})
}

func TestCalendarIsStable(t *testing.T) {
	j := smallJournal(t, map[string]string{"lots/SU-2511.md": "---\nanalyte: sulfate\nexpires: 2026-11\n---\n"})
	due := judge.Due(j, testNow)
	if len(due) != 1 || journal.FormatDate(due[0].On) != "2026-04-03" {
		t.Fatalf("due %+v", due) // 4 March and 30 days
	}
	first := string(ICalendar(Calendar{Of: j, Due: due, Lots: j.Lots.List, Now: testNow}))
	uid := func(s string) (out []string) {
		for _, line := range unfold(s) {
			if strings.HasPrefix(line, "UID:") {
				out = append(out, line)
			}
		}
		return out
	}
	due[0].On = due[0].On.AddDate(0, 1, 0)
	second := string(ICalendar(Calendar{Of: j, Due: due, Lots: j.Lots.List, Now: testNow.AddDate(0, 0, 9)}))
	if a, b := uid(first), uid(second); len(a) != 2 || strings.Join(a, " ") != strings.Join(b, " ") || a[0] == a[1] {
		t.Errorf("%v became %v", a, b)
	}
	both := ICalendar(Calendar{Of: j, As: "first", Due: due, Now: testNow}, Calendar{Of: j, As: "second", Due: due, Now: testNow})
	if u := uid(string(both)); len(u) != 2 || u[0] == u[1] || u[0] != uid(second)[0] || !strings.Contains(string(both), "SUMMARY:second: Test ") {
		t.Errorf("of two journals of one name: %s", both)
	}
	checkWithPython(t, string(both))
	for _, want := range []string{"BEGIN:VTODO", "DUE;VALUE=DATE:20260403", "GEO:55.7231;19.0387", "BEGIN:VEVENT", "DTSTART;VALUE=DATE:20261130", "DTEND;VALUE=DATE:20261201"} {
		if !strings.Contains(first, want+"\r\n") {
			t.Errorf("lacks %s", want)
		}
	}
	checkWithPython(t, first)
}

// checkWithPython reads a calendar with Debian's python3-icalendar, where it is.
func checkWithPython(t *testing.T, text string) {
	t.Helper()
	python := "/usr/bin/python3"
	if exec.Command(python, "-c", "import icalendar").Run() != nil {
		t.Log("no python3-icalendar here")
		return
	}
	cmd := exec.Command(python, "-c", `import sys,icalendar
c=icalendar.Calendar.from_ical(sys.stdin.buffer.read())
print(*[(x.name,str(x.get('summary'))) for x in c.walk() if x.name!='VCALENDAR'])`)
	cmd.Stdin = strings.NewReader(text)
	out, err := cmd.CombinedOutput()
	if want := "('VTODO', 'Test North well: sulfate, chloride') ('VEVENT', 'Last day of lot SU-2511 (sulfate)')\n"; err != nil || string(out) != want {
		t.Errorf("%v: %s", err, out)
	}
}
