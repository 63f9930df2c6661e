package example_test

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"maps"
	"math"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	example "wj/example-journal"
	"wj/journal"
	"wj/journal/history"
	"wj/water"
)

func load(t *testing.T) *journal.Journal {
	t.Helper()
	j, err := journal.Load(example.FS(), journal.Options{Check: true, Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range j.Problems {
		t.Errorf("%s:%d:%d: %s", p.Path, p.Line, p.Column, p.Message)
	}
	return j
}

func final(t *testing.T) map[string]string {
	t.Helper()
	files := map[string]string{}
	err := fs.WalkDir(example.FS(), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		raw, err := fs.ReadFile(example.FS(), name)
		files[name] = string(raw)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// tell walks the story with plain maps, one a branch, and calls look after each
// step with the state of the branch that it went to.
func tell(t *testing.T, look func(s example.Step, state map[string]string)) map[string]string {
	t.Helper()
	steps, err := example.Story()
	if err != nil {
		t.Fatal(err)
	}
	states := map[string]map[string]string{"": {}}
	var before time.Time
	for _, s := range steps {
		if s.When.Before(before) {
			t.Errorf("%s: told after %s", s.Message, before)
		}
		before = s.When
		if states[s.Branch] == nil {
			states[s.Branch] = maps.Clone(states[""])
		}
		state := states[s.Branch]
		if s.Merge != "" {
			for name, content := range states[strings.TrimPrefix(s.Merge, "main")] {
				// A change's branch only adds files: all others are the main branch's.
				if _, ok := state[name]; !ok || s.Merge == "main" {
					state[name] = content
				}
			}
		}
		for name, content := range s.Write {
			state[name] = string(content)
		}
		look(s, state)
	}
	return states[""]
}

func TestStoryEndsInTheJournal(t *testing.T) {
	got, want := tell(t, func(example.Step, map[string]string) {}), final(t)
	if !maps.Equal(got, want) {
		for name := range want {
			if got[name] != want[name] {
				t.Errorf("%s: the story ends elsewhere", name)
			}
		}
		t.Errorf("the story has %d files, the journal %d", len(got), len(want))
	}
}

// The digests of sign-offs and reports are those of the files at that moment,
// computed here with the standard library as sha256sum would.
func TestDigestsHeldWhenTheyWereWritten(t *testing.T) {
	line := regexp.MustCompile(`(?m)([a-z]+/[\w/.-]+\.md): ([0-9a-f]{64})`)
	checked := 0
	tell(t, func(s example.Step, state map[string]string) {
		for name := range s.Write {
			if !strings.HasPrefix(name, "signoffs/") && !strings.HasPrefix(name, "reports/") {
				continue
			}
			for _, m := range line.FindAllStringSubmatch(state[name], -1) {
				sum := sha256.Sum256([]byte(state[m[1]]))
				if state[m[1]] == "" || hex.EncodeToString(sum[:]) != m[2] {
					t.Errorf("%s covers %s, which had another digest", name, m[1])
				}
				checked++
			}
		}
	})
	files := final(t)
	// A person's newest sign-off of a record is the one that counts.
	newest := map[[2]string]*journal.Signoff{}
	for _, sign := range load(t).Signoffs.List {
		if old := newest[[2]string{sign.Of, sign.By}]; old == nil || sign.On.After(old.On) {
			newest[[2]string{sign.Of, sign.By}] = sign
		}
	}
	for _, sign := range newest {
		name := sign.Path
		content := files[name]
		for _, m := range line.FindAllStringSubmatch(content, -1) {
			if sum := sha256.Sum256([]byte(files[m[1]])); hex.EncodeToString(sum[:]) != m[2] {
				t.Errorf("%s does not hold any more: %s was changed", name, m[1])
			}
		}
	}
	if checked < 60 {
		t.Errorf("only %d digests were checked", checked)
	}
}

// A silenced rule says which action looks after the finding, and the action was
// there when the record said so. The reasons without one are of a finding that
// needs none.
func TestSilencesNameTheirActions(t *testing.T) {
	reason := regexp.MustCompile(`(?m)^(?:ignore: \{|  )([a-z]+/[a-z-]+): "([^"]+)"\}?$`)
	needsNone := []string{"chemistry/sodium-negative", "range/low-buffer", "reagent/recalled"}
	said := map[string]int{}
	tell(t, func(s example.Step, state map[string]string) {
		for name, content := range s.Write {
			for _, m := range reason.FindAllStringSubmatch(string(content), -1) {
				said[m[1]]++
				_, action, ok := strings.Cut(m[2], "action ")
				switch {
				case !ok && !slices.Contains(needsNone, m[1]):
					t.Errorf("%s silences %s and names no action: %s", name, m[1], m[2])
				case ok && state["actions/"+action+".md"] == "":
					t.Errorf("%s of %s names action %s, which was not there yet", name, s.When.Format("2006-01-02"), action)
				}
			}
		}
	})
	if len(said) < 11 {
		t.Errorf("only %d rules are silenced: %v", len(said), said)
	}
}

// Each person commits while they work here, and each session is committed by
// whoever tested or typed it, within a day of the test unless it is a
// laboratory's.
func TestStoryIsToldByThoseWhoWereThere(t *testing.T) {
	j := load(t)
	seen := map[string]bool{}
	tell(t, func(s example.Step, _ map[string]string) {
		for _, p := range j.People.List {
			if !slices.Contains(p.Email, s.Email) {
				continue
			}
			if d := s.When.Format("2006-01-02"); !p.Since.IsZero() && d < p.Since.Format("2006-01-02") && s.Message != "Start the water journal" || !p.Until.IsZero() && d > p.Until.Format("2006-01-02") {
				t.Errorf("%s: %s was not there", s.Message, p.ID)
			}
			for name := range s.Write {
				session, ok := j.Sessions.Get(strings.TrimSuffix(filepath.Base(name), ".md"))
				if !ok || !strings.HasPrefix(name, "sessions/") || seen[name] {
					continue
				}
				seen[name] = true
				if p.ID != session.By && p.ID != session.RecordedBy {
					t.Errorf("%s was entered by %s", name, p.ID)
				}
				if late := s.When.Sub(session.Sampled); session.Source == "bench" && (late < 0 || late > 24*time.Hour) {
					t.Errorf("%s was entered %s after the sample", name, late)
				}
			}
		}
	})
	if len(seen) != len(j.Sessions.List) {
		t.Errorf("%d of %d sessions were seen to be entered", len(seen), len(j.Sessions.List))
	}
}

// The main branch can be read at any time of the story: every form is right and
// every record that is named is there already.
func TestStoryCanBeReadAtAnyTime(t *testing.T) {
	n := 0
	tell(t, func(s example.Step, state map[string]string) {
		if n++; s.Branch != "" || n%9 != 1 {
			return
		}
		files := fstest.MapFS{}
		for name, content := range state {
			files[name] = &fstest.MapFile{Data: []byte(content)}
		}
		j, err := journal.Load(files, journal.Options{Check: true, Sessions: true})
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range j.Problems {
			t.Errorf("after %q of %s: %s:%d: %s", s.Message, s.When.Format("2006-01-02"), p.Path, p.Line, p.Message)
		}
	})
}

func TestHistoryIsWhatGitReads(t *testing.T) {
	if _, err := exec.LookPath("git"); err != nil {
		t.Skip("no git program")
	}
	t.Setenv("GIT_CONFIG_GLOBAL", "/dev/null")
	steps, err := example.Story()
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "demo")
	if err := history.Import(context.Background(), dir, steps); err != nil {
		t.Fatal(err)
	}
	git := func(args ...string) string {
		out, err := exec.Command("git", append([]string{"-C", dir}, args...)...).CombinedOutput()
		if err != nil {
			t.Fatalf("git %s: %v\n%s", args, err, out)
		}
		return strings.TrimSpace(string(out))
	}
	if out := git("status", "--porcelain"); out != "" {
		t.Errorf("the working files differ:\n%s", out)
	}
	git("fsck", "--strict")
	if n := len(strings.Fields(git("rev-list", "HEAD"))); n != len(steps) {
		t.Errorf("git has %d commits, the story %d", n, len(steps))
	}
	if out := git("log", "--merges", "--format=%cs %an", "--", "changes/2026-06-11-wicket-bitter-less-gypsum.md"); out != "" {
		t.Errorf("the merge of the gypsum change made a change of its own: %s", out)
	}
	if out := git("log", "--merges", "--format=%cs %an", "--grep", "less-gypsum"); out != "2026-06-12 Jonas Welk" {
		t.Errorf("the gypsum change was merged %q", out)
	}
	if out := git("log", "--format=%(trailers:key=Reason,valueonly)", "-1", "--", "sessions/2024/2024-05-06-town-main.md"); out != "basis typed wrong" {
		t.Errorf("the amendment's reason is %q", out)
	}
}

// Reagents: no pack is overdrawn or out of date, none was opened before it
// came, and each is tried on a check standard within 14 days of its first test,
// the one bad lot excepted (ISO/IEC 17025:2017, 7.7.1; 14 days: common
// practice, no source).
func TestPacksAreTriedAndLast(t *testing.T) {
	j := load(t)
	used, first, tried := map[string]int{}, map[string]time.Time{}, map[string]time.Time{}
	for _, s := range j.Sessions.List {
		for i := range s.Readings {
			r := &s.Readings[i]
			if r.Lot == "" {
				continue
			}
			used[r.Lot] += r.Replicates()
			if first[r.Lot].IsZero() || s.Sampled.Before(first[r.Lot]) {
				first[r.Lot] = s.Sampled
			}
			if s.Sample == "check-standard" && (tried[r.Lot].IsZero() || s.Sampled.Before(tried[r.Lot])) {
				tried[r.Lot] = s.Sampled
			}
		}
	}
	for _, l := range j.Lots.List {
		if l.Tests == 0 {
			continue
		}
		if n := used[l.ID] + l.Losses; n > l.Tests || used[l.ID] < 5 {
			t.Errorf("%s: %d of %d tests used", l.ID, n, l.Tests)
		}
		if l.Opened.Before(l.Received) || journal.Day(first[l.ID]).Before(l.Opened) {
			t.Errorf("%s: received %s, opened %s, first used %s", l.ID, l.Received, l.Opened, first[l.ID])
		}
		if gap := tried[l.ID].Sub(first[l.ID]); (tried[l.ID].IsZero() || gap > 14*24*time.Hour) != (l.ID == "SU-2507") {
			t.Errorf("%s: first used %s, tried on a standard %s", l.ID, first[l.ID], tried[l.ID])
		}
	}
	if n := len(used); n < 40 {
		t.Errorf("only %d packs are used", n)
	}
}

// SM 1030 E: for a sum of anions under 3 meq/L the difference is at most 0.2
// meq/L, from 3 to 10 at most 2 %, over that at most 5 %.
func TestLaboratoryBalances(t *testing.T) {
	j := load(t)
	n := 0
	for _, s := range j.Sessions.List {
		if s.Source != "lab" {
			continue
		}
		n++
		var a water.Analysis
		journal.Values(s, &a)
		cations, anions := a.Number(water.CationSum), a.Number(water.AnionSum)
		percent := math.Abs(100 * (cations - anions) / (cations + anions))
		if anions < 3 && math.Abs(cations-anions) > 0.2 || anions >= 3 && anions < 10 && percent > 2 || anions >= 10 && percent > 5 || math.IsNaN(percent) {
			t.Errorf("%s: cations %.3f, anions %.3f meq/L, %.1f %%", s.ID, cations, anions, percent)
		}
	}
	if n < 20 {
		t.Errorf("only %d laboratory sessions", n)
	}
}

// Each session was taken within its site's radius (haversine on a sphere of
// 6371 km), tested within a quarter of an hour (40 CFR 136.3, table II: pH at
// once, 15 min) and is not the session before it over again.
func TestSessionsAreWhereAndWhenTheyShouldBe(t *testing.T) {
	j := load(t)
	last := map[string]string{}
	readings := regexp.MustCompile(`(?s)readings:\n(.*?)\n[^ ]`)
	sessions := slices.Clone(j.Sessions.List)
	slices.SortFunc(sessions, func(a, b *journal.Session) int { return a.Sampled.Compare(b.Sampled) })
	for _, s := range sessions {
		if s.Void != nil {
			continue
		}
		site, ok := j.Sites.Get(s.Site)
		if !ok {
			t.Errorf("%s: no site %s", s.ID, s.Site)
			continue
		}
		if s.Place.Set {
			rad := math.Pi / 180
			dLat, dLon := (s.Place.Latitude-site.Place.Latitude)*rad, (s.Place.Longitude-site.Place.Longitude)*rad
			h := math.Pow(math.Sin(dLat/2), 2) + math.Cos(s.Place.Latitude*rad)*math.Cos(site.Place.Latitude*rad)*math.Pow(math.Sin(dLon/2), 2)
			if d := 2 * 6371000 * math.Asin(math.Sqrt(h)); d > 100 {
				t.Errorf("%s: %.0f m from %s", s.ID, d, s.Site)
			}
		}
		if s.Source == "bench" && (s.Tested.Sub(s.Sampled) < 5*time.Minute || s.Tested.Sub(s.Sampled) > 15*time.Minute) {
			t.Errorf("%s: tested %s after sampling", s.ID, s.Tested.Sub(s.Sampled))
		}
		if id := s.Sampled.Format("2006-01-02") + "-" + s.Site; !strings.HasPrefix(s.ID, id) {
			t.Errorf("%s: sampled %s at %s", s.ID, s.Sampled, s.Site)
		}
		raw, _ := fs.ReadFile(example.FS(), s.Path)
		if m := readings.FindSubmatch(raw); m == nil || string(m[1]) == last[s.Site] {
			t.Errorf("%s: the same readings as the session before", s.ID)
		} else {
			last[s.Site] = string(m[1])
		}
	}
	if n := len(sessions); n < 350 || n > 450 {
		t.Errorf("%d sessions", n)
	}
}
