package portion_test

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"wj/journal"
	"wj/journal/history"
	"wj/journal/portion"
)

var day = time.Date(2026, 3, 1, 9, 0, 0, 0, time.FixedZone("", 2*3600))

// made holds what is made once for all tests: the journal of two clients and what was
// split off from it.
var made struct {
	sync.Mutex
	dir, all string
	split    map[string]*portion.Made
}

func TestMain(m *testing.M) {
	code := 1
	if dir, err := os.MkdirTemp("", "wj-portion-*"); err == nil {
		made.dir, made.split = dir, map[string]*portion.Made{}
		for name, value := range map[string]string{"GIT_AUTHOR_NAME": "Ines", "GIT_COMMITTER_NAME": "Ines", "GIT_AUTHOR_EMAIL": "ines@fenwick.example", "GIT_COMMITTER_EMAIL": "ines@fenwick.example",
			"GIT_CONFIG_COUNT": "1", "GIT_CONFIG_KEY_0": "core.fsync", "GIT_CONFIG_VALUE_0": "none", "GIT_CONFIG_GLOBAL": os.DevNull} {
			_ = os.Setenv(name, value)
		}
		code = m.Run()
		_ = os.RemoveAll(dir)
	}
	os.Exit(code)
}

// clients is the history of a consultant's journal: two clients, sittings at both,
// people of both, notes that name the other, a site that changes hands.
func clients(t *testing.T) string {
	t.Helper()
	made.Lock()
	defer made.Unlock()
	if made.all != "" {
		return made.all
	}
	dir := filepath.Join(made.dir, "all")
	var steps []history.ImportStep
	step := func(who, message string, files map[string]string) {
		write := map[string][]byte{}
		for name, content := range files {
			write[name] = []byte(content)
		}
		steps = append(steps, history.ImportStep{When: day.AddDate(0, 0, len(steps)), Name: strings.ToUpper(who[:1]) + who[1:], Email: who + "@" + map[string]string{"ines": "fenwick.example", "tove": "tarrow.example", "mills": "mill.example"}[who], Message: message, Write: write})
	}
	session := func(site, at, by, more, body string) string {
		return "---\nsite: " + site + "\nsampled: " + at + "T08:00+02:00\nby: " + by + "\nreadings:\n" + more + "---\n" + body
	}
	step("ines", "Start the journal of Tarrow Lane and Mill Lane", map[string]string{
		"wj.yaml":              "format: 1\njournal: fenwick-aaaaaaaaaa # never change it\nname: Fenwick Water\ntimezone: Europe/Vilnius\nrounds:\n  weekly: [tarrow-bore, mill-spring]\n  mill: [mill-spring]\n",
		"README.md":            "Tarrow Lane, Mill Lane\n",
		"owners/fenwick.md":    "---\nname: Fenwick Water\nself: true\n---\n",
		"owners/tarrow.md":     "---\nname: Tarrow Lane\nemail: tove@tarrow.example\n---\n",
		"owners/mill.md":       "---\nname: Mill Lane\nemail: office@mill.example\n---\n\nPays late.\n",
		"people/ines.md":       "---\nname: Ines Kaldre\nemail: ines@fenwick.example\nroles:\n  - {role: reviewer, owners: [tarrow, mill]}\n  - {role: quality, owners: [mill]}\n---\n\nAlso does the accounts of Mill Lane.\n\nHas a car.\n",
		"people/tove.md":       "---\nname: Tove Lind\nemail: tove@tarrow.example\nroles:\n  - {role: reviewer, owners: [tarrow]}\n---\n",
		"people/mills.md":      "---\nname: Amos Mills\nemail: mills@mill.example\nroles:\n  - {role: reviewer, owners: [mill]}\n---\n",
		"sites/tarrow-bore.md": "---\nname: Bore\nowner: tarrow\nstage: intake\n---\n\nColder than Mill Lane's.\n\nFlush three minutes.\n",
		"sites/mill-spring.md": "---\nname: Miller's spring\nowner: mill\nstage: intake\n---\n",
		"lots/SU-1.md":         "---\nanalyte: sulfate # opened at Mill Lane\nexpires: 2027-12\ntests: 50\n---\n",
		"lots/NI-9.md":         "---\nanalyte: nitrate\nexpires: 2027-12\n---\n",
	})
	step("ines", "Record 2 sessions: tarrow-bore 18, mill-spring 311.7", map[string]string{
		"sessions/2026/2026-03-02-tarrow-bore.md": session("tarrow-bore", "2026-03-02", "ines", "  sulfate: {value: 18 mg/L, lot: SU-1}\n", ""),
		"sessions/2026/2026-03-02-mill-spring.md": session("mill-spring", "2026-03-02", "ines", "  sulfate: {value: 311.7 mg/L, lot: SU-1}\n  nitrate: {value: 47.3 mg/L NO3, lot: NI-9}\n", ""),
	})
	step("tove", "Record 2026-03-03-tarrow-bore", map[string]string{
		"sessions/2026/2026-03-03-tarrow-bore.md": session("tarrow-bore", "2026-03-03", "tove", "  sulfate: 19 mg/L\n", "\nAt Mill Lane it was 311.7 mg/L, said Ines.\n\nClear.\n"),
	})
	step("mills", "Record 2026-03-04-mill-spring", map[string]string{
		"sessions/2026/2026-03-04-mill-spring.md": session("mill-spring", "2026-03-04", "mills", "  sulfate: 309.9 mg/L\n", ""),
		"lots/SU-1.md": "---\nanalyte: sulfate # opened at Mill Lane\nexpires: 2027-12\ntests: 50\nlosses: 1\n---\n",
	})
	step("ines", "Amend 2026-03-02-tarrow-bore", map[string]string{
		"sessions/2026/2026-03-02-tarrow-bore.md": session("tarrow-bore", "2026-03-02", "ines", "  sulfate: {value: 17 mg/L, lot: SU-1}\namended:\n  - {key: readings.sulfate, was: 18 mg/L, by: ines, on: 2026-03-05T09:00+02:00, reason: \"that was Mill Lane's\"}\n", ""),
		"events/2026-03-05-visit.md":              "---\nsite: [tarrow-bore, mill-spring]\non: 2026-03-05\nwhat: pumps looked at\nby: ines\n---\n",
		"targets/bitter.md":                       "---\nname: Bitter\nowner: tarrow\nranges:\n  sulfate: {min: 10 mg/L, max: 90 mg/L}\n---\n",
		"changes/2026-03-05-bitter.md":            "---\nfor: bitter\nauthor: ines\nproposed: 2026-03-05\nbasis:\n  - {session: 2026-03-02-tarrow-bore, share: 100 %}\nvolume: 500 L\nadd:\n  gypsum: 50 g\n---\n",
	})
	steps = append(steps, history.ImportStep{When: day.AddDate(0, 0, 5), Name: "Amos", Email: "mills@mill.example", Branch: "spring", Message: "Stricter limit at mill-spring", Write: map[string][]byte{
		"sites/mill-spring.md": []byte("---\nname: Miller's spring\nowner: mill\nstage: intake\nlimits:\n  sulfate: {max: 301.3 mg/L, source: own}\n---\n")}})
	steps = append(steps, history.ImportStep{When: day.AddDate(0, 0, 6), Name: "Ines", Email: "ines@fenwick.example", Merge: "spring", Message: "Merge branch 'spring'"})
	step("ines", "Sign 2026-03-05-bitter", map[string]string{"notes.txt": "Mill Lane\n"})
	step("ines", "Transfer the spring to Tarrow Lane", map[string]string{
		"sites/mill-spring.md":                    "---\nname: Miller's spring\nowner:\n  - {owner: mill}\n  - {owner: tarrow, since: 2026-04-01}\nstage: intake\nlimits:\n  sulfate: {max: 301.3 mg/L, source: own}\n---\n",
		"sessions/2026/2026-04-02-mill-spring.md": session("mill-spring", "2026-04-02", "ines", "  sulfate: 222.2 mg/L\n", ""),
	})
	step("ines", "Set a schedule", map[string]string{
		"sites/mill-spring.md": "---\nname: Miller's spring\nowner:\n  - {owner: mill}\n  - {owner: tarrow, since: 2026-04-01}\nstage: intake\nlimits:\n  sulfate: {max: 301.3 mg/L, source: own}\nschedule:\n  - {every: 77 d, analytes: [sulfate]}\n---\n",
	})
	if err := history.Import(context.Background(), dir, steps); err != nil {
		t.Fatal(err)
	}
	made.all = dir
	return dir
}

// objects is every object of a repository, reachable or not, with the reflogs and the
// names of its references.
func objects(t *testing.T, dir string) string {
	t.Helper()
	all, err := exec.Command("git", "-C", dir, "cat-file", "--batch-all-objects", "--batch", "--unordered").Output()
	if err != nil {
		t.Fatal(err)
	}
	list, err := exec.Command("git", "-C", dir, "cat-file", "--batch-all-objects", "--batch-check").Output()
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(list)) {
		if f := strings.Fields(line); f[1] == "tree" {
			names, err := exec.Command("git", "-C", dir, "ls-tree", "-r", f[0]).Output()
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, names...)
		}
	}
	for _, args := range [][]string{{"for-each-ref"}, {"log", "-g", "--all"}} {
		out, err := exec.Command("git", append([]string{"-C", dir}, args...)...).Output()
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, out...)
	}
	return string(all)
}

// split is an owner's journal split off, made once and not to be changed.
func split(t *testing.T, from, owner string) (dir string, m *portion.Made) {
	t.Helper()
	made.Lock()
	defer made.Unlock()
	dir = filepath.Join(made.dir, owner)
	if m = made.split[owner]; m != nil {
		return dir, m
	}
	h, err := history.Open(from)
	if err != nil {
		t.Fatal(err)
	}
	defer h.Close()
	if m, err = portion.Split(context.Background(), h, owner, dir, "ines", day.AddDate(0, 2, 0)); err != nil {
		t.Fatal(err)
	}
	made.split[owner] = m
	return dir, m
}

// TestNothingOfOthers looks for the other owner in everything that Git keeps.
func TestNothingOfOthers(t *testing.T) {
	from := clients(t)
	for owner, strangers := range map[string][]string{
		"tarrow": {`Mill Lane`, `\bmill\b[^-]`, `mill\.example`, `Amos`, `311\.7`, `47\.3`, `309\.9`, `NI-9`, `Pays late`, `03-02-mill-spring`, `03-04-mill-spring`, `pumps looked at`, `fenwick-aaaa`, `do the accounts`},
		"mill":   {`Tarrow`, `tarrow`, `Tove`, `\b18 mg`, `\b17 mg`, `\b19 mg`, `222\.2`, `77 d`, `bitter`, `Bitter`, `04-02-mill-spring`, `pumps looked at`},
	} {
		dir, made := split(t, from, owner)
		all := objects(t, dir)
		for _, s := range strangers {
			if at := regexp.MustCompile(s).FindStringIndex(all); at != nil {
				t.Errorf("%s: %s is there: %q", owner, s, all[max(0, at[0]-200):min(len(all), at[1]+60)])
			}
		}
		if out, err := exec.Command("git", "-C", dir, "status", "--porcelain").CombinedOutput(); err != nil || len(out) > 0 {
			t.Errorf("%s: not clean: %s %v", owner, out, err)
		}
		if !slices.Contains(made.Portion.LeftOut, "events/2026-03-05-visit.md") {
			t.Errorf("%s: left out: %v", owner, made.Portion.LeftOut)
		}
	}
}

// TestSplitKeepsWhatIsTheirs holds records, dates and authors to those of the whole.
func TestSplitKeepsWhatIsTheirs(t *testing.T) {
	from := clients(t)
	dir, made := split(t, from, "tarrow")
	log, err := exec.Command("git", "-C", dir, "log", "--reverse", "--format=%an <%ae> %ad|%s", "--date=iso", "main").Output()
	if err != nil {
		t.Fatal(err)
	}
	want := `Ines <ines@fenwick.example> 2026-03-01 09:00:00 +0200|Change 6 records
Ines <ines@fenwick.example> 2026-03-02 09:00:00 +0200|Change 2026-03-02-tarrow-bore
Tove <tove@tarrow.example> 2026-03-03 09:00:00 +0200|Record 2026-03-03-tarrow-bore
somebody else <somebody-else@journal.invalid> 2026-03-04 09:00:00 +0200|Change SU-1
Ines <ines@fenwick.example> 2026-03-05 09:00:00 +0200|Change 2026-03-02-tarrow-bore, 2026-03-05-bitter, bitter
Ines <ines@fenwick.example> 2026-03-09 09:00:00 +0200|Transfer the spring to Tarrow Lane
Ines <ines@fenwick.example> 2026-03-10 09:00:00 +0200|Set a schedule
`
	if lines := strings.SplitAfter(string(log), "\n"); strings.Join(lines[:len(lines)-2], "") != want || !strings.HasSuffix(lines[len(lines)-2], "|Name where this journal comes from\n") {
		t.Errorf("log:\n%s", log)
	}
	if made.Commits != 7 {
		t.Errorf("%d commits", made.Commits)
	}
	same := func(name string) {
		t.Helper()
		a, _ := os.ReadFile(filepath.Join(from, name))
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil || !bytes.Equal(a, b) {
			t.Errorf("%s is not as it was: %v\n%s", name, err, b)
		}
	}
	same("changes/2026-03-05-bitter.md")
	same("owners/tarrow.md")
	same("sessions/2026/2026-04-02-mill-spring.md")
	reduced := map[string]string{
		"people/ines.md":       "---\nname: Ines Kaldre\nemail: ines@fenwick.example\nroles:\n  - {role: reviewer, owners: [tarrow]}\n---\n\n(left out: it named another owner)\n\nHas a car.\n",
		"sites/tarrow-bore.md": "---\nname: Bore\nowner: tarrow\nstage: intake\n---\n\n(left out: it named another owner)\n\nFlush three minutes.\n",
		"lots/SU-1.md":         "---\nanalyte: sulfate\nexpires: 2027-12\ntests: 50\nlosses: 1\n---\n",
		"sites/mill-spring.md": "---\nname: Miller's spring\nowner:\n  - {owner: tarrow, since: 2026-04-01}\nstage: intake\nlimits:\n  sulfate: {max: 301.3 mg/L, source: own}\nschedule:\n  - {every: 77 d, analytes: [sulfate]}\n---\n",
	}
	for name, want := range reduced {
		if got, err := os.ReadFile(filepath.Join(dir, name)); err != nil || string(got) != want {
			t.Errorf("%s: %v\n%s\nwant\n%s", name, err, got, want)
		}
	}
	j, err := journal.Load(journal.Dir(dir), journal.Options{Check: true, Sessions: true})
	if err != nil || len(j.Problems) > 0 {
		t.Errorf("%v %v", err, j.Problems)
	}
	if s, _ := j.Sessions.Get("2026-03-02-tarrow-bore"); s == nil || len(s.Amended) != 1 || s.Amended[0].Was != "18 mg/L" {
		t.Errorf("the amendment is not there as it was")
	}
	old, _ := split(t, from, "mill")
	if got, err := os.ReadFile(filepath.Join(old, "sites/mill-spring.md")); err != nil || !strings.Contains(string(got), "\nowner: mill\n") || !strings.Contains(string(got), "\nuntil: 2026-03-31\n") || strings.Contains(string(got), "schedule") {
		t.Errorf("the site of the owner before: %v\n%s", err, got)
	}
}
