package main

import (
	"bytes"
	"html"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// TestPhonePage types a round on the page for the telephone in Chromium, at 390 × 844: half of it, then the page is closed
// and opened again and the rest is typed. What it gives to share is imported, and is the round typed at the terminal.
func TestPhonePage(t *testing.T) {
	browser := outside(t, "chromium")
	dir := t.TempDir()
	journal := filepath.Join(dir, "journal")
	terminal := filepath.Join(dir, "terminal")
	for _, to := range []string{journal, terminal} {
		if err := os.CopyFS(to, os.DirFS("../../example-journal")); err != nil {
			t.Fatal(err)
		}
	}
	var out, talk bytes.Buffer
	in, keys := journal, ""
	wj := func(now string, args ...string) {
		t.Helper()
		out.Reset()
		env := map[string]string{"WJ_NOW": now, "PATH": os.Getenv("PATH"), "HOME": dir}
		if code := run(append([]string{"-C", in}, args...), strings.NewReader(keys), &out, &talk, func(name string) string { return env[name] }); code != 0 {
			t.Fatalf("%v: %s", args, talk.String())
		}
	}
	page := filepath.Join(dir, "bench.html")
	wj("2026-10-20T08:00+03:00", "page", "bench", "--site", "town-main,carbon-outlet,ro-permeate", "--tests", "pH,sulfate", "--by", "ines", "-o", page)
	src, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	src = regexp.MustCompile(`'sha256-[^']*'`).ReplaceAll(src, []byte("'unsafe-inline'"))                                                                                                                                // for the hand below
	src = bytes.Replace(src, []byte("<head>"), []byte("<head><script>Date = class extends Date { constructor(...a) { a.length ? super(...a) : super(Date.now()) } static now() { return 1792472760000 } }</script>"), 1) // 08:06
	shown := regexp.MustCompile(`(?s)<pre id="shown">(.*?)</pre>`)
	visit := func(keys string) string {
		t.Helper()
		hand := `<script>
const type = s => { $('v').value = s; $('v').oninput() }, enter = () => $('v').onkeydown({ key: 'Enter', preventDefault() { } });
` + keys + `
document.body.append(el('pre', file() + '|' + $('say').textContent + '|' + $('v').value, { id: 'shown' }));
</script>`
		if err := os.WriteFile(page, bytes.Replace(src, []byte("</body>"), []byte(hand+"</body>"), 1), 0o600); err != nil {
			t.Fatal(err)
		}
		dom, err := exec.Command(browser, "--headless", "--no-sandbox", "--disable-gpu", "--window-size=390,844", "--user-data-dir="+filepath.Join(dir, "profile"), "--dump-dom", "file://"+page).Output()
		if err != nil {
			t.Fatal(err)
		}
		m := shown.FindSubmatch(dom)
		if m == nil {
			t.Fatalf("the page shows nothing:\n%.2000s", dom)
		}
		return html.UnescapeString(string(m[1]))
	}
	if got := visit("type('72'); enter();"); !strings.Contains(got, "Not possible: pH is from 0 to 14") || strings.Contains(got, "reading:") {
		t.Errorf("enter took pH 72: %s", got)
	}
	if got := visit("type('7,4'); enter(); type('24');"); !strings.Contains(got, "reading: pH; 7.4; lot PH-2602") || !strings.HasSuffix(got, "|24") {
		t.Errorf("half of a round: %s", got)
	}
	got := visit("if ($('v').value !== '24') throw 'lost'; type(''); $('keep').click(); if (!/^Type what/.test($('say').textContent)) throw 'nothing typed, and kept'; type('>'); enter(); $('tap').value = 'town-main'; $('tap').onchange(); $('list').lastChild.firstChild.click(); document.querySelector('.dil[data-d=\"2\"]').click(); type('25'); $('keep').click(); type('7.5'); enter(); $('skip').click(); type('6.1'); enter(); type('<'); enter(); $('tap').value = 'ro-permeate'; $('tap').onchange(); $('list').firstChild.firstChild.click(); type('6.2'); enter();")
	file, _, _ := strings.Cut(got, "|")
	for _, want := range []string{"tap: town-main", "reading: sulfate; 25 mg/L; first >200 mg/L; dilution 2; lot SU-2604", "tap: carbon-outlet", "not tested: sulfate", "\nend\n"} {
		if !strings.Contains(file, want) {
			t.Errorf("the file lacks %q:\n%s", want, file)
		}
	}
	typed := filepath.Join(dir, "round.txt")
	if err := os.WriteFile(typed, []byte(file), 0o600); err != nil {
		t.Fatal(err)
	}
	wj("2026-10-20T10:00+03:00", "import", "bench", typed)
	in = terminal
	for _, keys = range []string{"\n7.2\nb\n7.4\n>\n", "\n25\n\n7.5\ns\n\n6.2\n<\n\n"} {
		wj("2026-10-20T08:06+03:00", "round", "--sites", "town-main,carbon-outlet,ro-permeate", "--tests", "pH,sulfate", "--by", "ines", "--plain")
	}
	for _, tap := range []string{"town-main", "carbon-outlet", "ro-permeate"} {
		name := filepath.Join("sessions", "2026", "2026-10-20-"+tap+".md")
		phone, err := os.ReadFile(filepath.Join(journal, name))
		if err != nil {
			t.Fatal(err)
		}
		if typed, err := os.ReadFile(filepath.Join(terminal, name)); err != nil || !bytes.Equal(phone, typed) {
			t.Errorf("%v: typed on the page:\n%s\ntyped at the terminal:\n%s", err, phone, typed)
		}
	}
}
