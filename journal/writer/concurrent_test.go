package writer

import (
	"context"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/history"
	"wj/journal/journaltest"
	"wj/journal/judge"
	"wj/lint"
)

// side is one of two people who record in a clone each.
type side struct {
	t    *testing.T
	dir  string
	who  string
	turn int // 0 or 1: which readings this person amends
	rand *rand.Rand
	now  time.Time

	taken   []string          // each sample: its site, moment, person and readings
	amended map[string]string // what is amended, by the file and the reading
	own     []string          // ids of sessions of this side
	finding map[string]bool
}

func (s *side) git(args ...string) string {
	s.t.Helper()
	cmd := exec.Command("git", append([]string{"-C", s.dir}, args...)...)
	stamp := s.now.Format(time.RFC3339)
	name := map[string]string{"ines": "Ines Kaldre", "jonas": "Jonas Welk"}[s.who]
	cmd.Env = append(os.Environ(), "GIT_CONFIG_GLOBAL=/dev/null", "GIT_CONFIG_NOSYSTEM=1", "GIT_AUTHOR_DATE="+stamp, "GIT_COMMITTER_DATE="+stamp,
		"GIT_AUTHOR_NAME="+name, "GIT_AUTHOR_EMAIL="+s.who+"@quillmarsh.example", "GIT_COMMITTER_NAME="+name, "GIT_COMMITTER_EMAIL="+s.who+"@quillmarsh.example")
	out, err := cmd.CombinedOutput()
	if err != nil && args[0] != "merge" {
		s.t.Fatalf("git %s: %v\n%s", strings.Join(args, " "), err, out)
	}
	return string(out)
}

func (s *side) path(p string) string { return filepath.Join(s.dir, filepath.FromSlash(p)) }

func (s *side) read(p string) string {
	src, err := os.ReadFile(s.path(p))
	if err != nil {
		s.t.Fatal(err)
	}
	return string(src)
}

func (s *side) write(p, content string) {
	if err := os.MkdirAll(filepath.Dir(s.path(p)), 0o755); err != nil {
		s.t.Fatal(err)
	}
	if err := os.WriteFile(s.path(p), []byte(content), 0o644); err != nil {
		s.t.Fatal(err)
	}
}

// edit does one thing that people do: test a water, amend a reading, write a
// note, open an action.
func (s *side) edit(days int) {
	s.now = s.now.Add(time.Duration(7+s.rand.IntN(50)) * time.Minute)
	switch s.rand.IntN(6) {
	case 0, 1, 2:
		s.sample(days)
	case 3, 4:
		s.amend()
	case 5:
		if len(s.own) == 0 {
			s.sample(days)
			return
		}
		about := s.own[s.rand.IntN(len(s.own))]
		p := fmt.Sprintf("actions/%s-%s-%d.md", s.now.Format("2006-01-02"), s.who, s.now.Unix())
		s.write(p, fmt.Sprintf("---\nopened: %s\nby: %s\nabout: %s\ndeviation: cloudy\n---\n", s.now.Format("2006-01-02"), s.who, about))
	}
}

func (s *side) sample(days int) {
	site := []string{"well", "ro", "tank"}[s.rand.IntN(3)]
	at := time.Date(2026, 6, 13+s.rand.IntN(days), 6+s.rand.IntN(12), s.rand.IntN(60), 0, 0, s.now.Location())
	id := at.Format("2006-01-02") + "-" + site
	for n := 2; ; n++ {
		if _, err := os.Stat(s.path("sessions/" + id + ".md")); err != nil {
			break
		}
		id = at.Format("2006-01-02") + "-" + site + "-" + strconv.Itoa(n)
	}
	readings := fmt.Sprintf("  sulfate: %d mg/L\n  calcium: %d mg/L\n", 100+s.rand.IntN(90), 40+s.rand.IntN(60))
	head := fmt.Sprintf("site: %s\nsampled: %s\nby: %s\n", site, at.Format("2006-01-02T15:04Z07:00"), s.who)
	s.write("sessions/"+id+".md", "---\n"+head+"readings:\n"+readings+"---\n")
	s.taken, s.own = append(s.taken, head+readings), append(s.own, id)
}

// amend corrects a reading of what was there before the two parted, each person
// other readings: of one that both correct a person has to decide.
func (s *side) amend() {
	p := fmt.Sprintf("sessions/2026-05-%02d-well.md", 1+s.rand.IntN(20))
	key := [][]string{{"sulfate", "pH"}, {"calcium", "chloride"}}[s.turn][s.rand.IntN(2)]
	src := s.read(p)
	_, rest, _ := strings.Cut(src, "  "+key+": ")
	was, _, _ := strings.Cut(rest, "\n")
	number, unit, _ := strings.Cut(was, " ")
	v, err := strconv.ParseFloat(number, 64)
	if err != nil {
		s.t.Fatal(err)
	}
	is := strings.TrimSpace(strconv.FormatFloat(v+0.1, 'f', 1, 64) + " " + unit)
	event := fmt.Sprintf("{key: readings.%s, was: %s, by: %s, on: %s, reason: read again}", key, was, s.who, s.now.Format("2006-01-02T15:04:05Z07:00"))
	src = strings.Replace(src, "  "+key+": "+was, "  "+key+": "+is, 1)
	if !strings.Contains(src, "\namended:\n") {
		src = strings.Replace(src, "\n---\n", "\namended:\n---\n", 1)
	}
	s.write(p, strings.Replace(src, "\n---\n", "\n  - "+event+"\n---\n", 1))
	s.amended[p+" "+event], s.amended[p+" "+key] = event, "  "+key+": "+is+"\n"
}

// find lints the clone: rules by the file that they are about, whatever its name.
func (s *side) find() *journal.Journal {
	j, err := journal.Load(journal.Dir(s.dir), journal.Options{Check: true, Sessions: true})
	if err != nil {
		s.t.Fatal(err)
	}
	s.finding = map[string]bool{}
	for _, d := range lint.Run(j, lint.Options{Now: s.now}).Diagnostics {
		name := d.Path
		if f, ok := journal.FileOf(d.Path); ok && f.Kind == journal.KindSession {
			if x, ok := j.Sessions.Get(f.ID); ok {
				name = x.Sampled.String() + x.By
			}
		}
		s.finding[d.Severity.String()+" "+d.Rule+" "+name] = true
	}
	return j
}

// Two people record apart in two clones. Once one merges the other, as git and
// wj resolve do it, every sample and amendment of both is there, lint finds
// nothing that neither had, and verify exits 0. WJ_CASES=1000 makes a thousand
// edits, each a commit.
func TestConcurrentEdits(t *testing.T) {
	if _, err := exec.LookPath("git"); err != nil {
		t.Skip("no git program")
	}
	edits, each := 24, false
	if n, err := strconv.Atoi(os.Getenv("WJ_CASES")); err == nil {
		edits, each = n, true
	}
	zone, err := time.LoadLocation("Europe/Vilnius")
	if err != nil {
		t.Fatal(err)
	}
	seed := uint64(time.Now().UnixNano())
	if text := os.Getenv("WJ_SEED"); text != "" {
		seed, _ = strconv.ParseUint(text, 10, 64)
	}
	t.Logf("WJ_SEED=%d", seed)
	files := journaltest.Blend()
	delete(files, "changes/2026-06-11-bitter.md")
	files["wj.yaml"] += "lint: {site/overdue: off}\n"
	for day := range 20 {
		files[fmt.Sprintf("sessions/2026-05-%02d-well.md", day+1)] = fmt.Sprintf("---\nsite: well\nsampled: 2026-05-%02dT08:00+03:00\nby: ines\nreadings:\n  pH: 7.%d\n  sulfate: %d mg/L\n  calcium: %d mg/L\n  chloride: %d mg/L\n---\n", day+1, 2+day%5, 150+day, 60+day, 20+day)
	}
	var pair [2]*side
	for i, who := range []string{"ines", "jonas"} {
		s := &side{t: t, dir: filepath.Join(t.TempDir(), who), who: who, turn: i, rand: rand.New(rand.NewPCG(seed, uint64(i))), now: time.Date(2026, 6, 12, 8, 0, 0, 0, zone), amended: map[string]string{}}
		pair[i] = s
		if i == 0 {
			for p, content := range files {
				s.write(p, content)
			}
			s.git("init", "-q", "-b", "main", ".")
			s.git("add", "-A")
			s.git("commit", "-qm", "Start")
		} else {
			pair[0].git("clone", "-q", pair[0].dir, s.dir)
		}
		s.now = time.Date(2026, 8, 1, 8, 0, 0, 0, zone)
		for range edits / 2 {
			s.edit(min(max(edits/8, 3), 45))
			if each {
				s.git("add", "-A")
				s.git("commit", "-qm", "Record")
			}
		}
		if !each {
			s.git("add", "-A")
			s.git("commit", "-qm", "Record")
		}
		s.now = time.Date(2026, 8, 20, 8, 0, 0, 0, zone)
		s.find()
	}
	ines, jonas := pair[0], pair[1]
	ines.git("fetch", "-q", jonas.dir, "main")
	said := ines.git("merge", "--no-edit", "-q", "FETCH_HEAD")
	left, found, err := Resolve(context.Background(), ines.dir, func(string) error { return nil }, func(string, ...any) {})
	if err != nil || left > 0 {
		t.Fatalf("%d conflicts left, %v: %s", left, err, said)
	}
	if found {
		ines.git("commit", "-q", "--no-edit")
	}
	before := maps.Clone(ines.finding)
	maps.Copy(before, jonas.finding)
	j := ines.find()
	var all strings.Builder
	for _, f := range j.Files {
		all.WriteString(ines.read(f.Path))
	}
	for _, s := range pair {
		for _, sample := range s.taken {
			head, readings, _ := strings.Cut(sample, "  sulfate")
			if !strings.Contains(all.String(), head+"readings:\n  sulfate"+readings) {
				t.Errorf("a sample of %s is lost:\n%s", s.who, sample)
			}
		}
		for at, text := range s.amended {
			p, _, _ := strings.Cut(at, " ")
			if !strings.Contains(ines.read(p), text) {
				t.Errorf("%s: %q of %s is lost:\n%s", p, text, s.who, ines.read(p))
			}
		}
	}
	if got, want := len(j.Sessions.List), 22+len(ines.taken)+len(jonas.taken); got != want {
		t.Errorf("%d sessions of %d", got, want)
	}
	for _, a := range j.Actions.List { // each is about a sample of its own author
		if x, ok := j.Sessions.Get(a.About[0]); !ok || x.By != a.By {
			t.Errorf("%s by %s is about %s now", a.ID, a.By, a.About[0])
		}
	}
	for _, f := range slices.Sorted(maps.Keys(ines.finding)) {
		if !before[f] {
			t.Errorf("after the merge lint finds %s", f)
		}
	}
	h, err := history.Open(ines.dir)
	if err != nil {
		t.Fatal(err)
	}
	defer h.Close()
	opt := evidence.Options{Now: ines.now, IsError: lint.IsErrorIn}
	line, err := evidence.Open(context.Background(), h, opt, zone, true)
	if err != nil {
		t.Fatal(err)
	}
	r, err := evidence.Verify(context.Background(), j, line, opt, judge.NewChanges(j, evidence.Facts{Now: ines.now, Line: line}).Settled)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range append(r.Wrong, r.Unknown...) {
		t.Errorf("verify: %s: %s", f.Subject, f.Text)
	}
}
