package diff

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"wj/journal/journaltest"
)

// Of a long series the review of a branch reads its beginning, its end and what
// is around the sessions that it is about; of a short one all.
func TestLongSeriesAreCut(t *testing.T) {
	files := journaltest.Blend()
	write := func(site string, n int) string {
		day := time.Date(2020, 1, 1, 8, 0, 0, 0, time.UTC).AddDate(0, 0, n)
		path := "sessions/" + day.Format("2006-01-02") + "-" + site + ".md"
		files[path] = fmt.Sprintf("---\nsite: %s\nsampled: %s\nby: ines\nreadings:\n  sulfate: 80 mg/L\n---\n", site, day.Format("2006-01-02T15:04Z07:00"))
		return path
	}
	for n := range 2000 {
		write("well", n)
	}
	for n := range 20 {
		write("tank", n)
	}
	old := write("well", 1000)
	change := "changes/2026-06-11-bitter.md"
	s := &States{After: journaltest.FS(files), Pairs: []FilePair{{Path: old, After: []byte(files[old])}, {Path: change, After: []byte(files[change])}}}
	j, err := s.Load(false)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(s.Shortened, []string{"well"}) {
		t.Errorf("shortened: %v", s.Shortened)
	}
	count := map[string]int{}
	for _, x := range j.Sessions.List {
		count[x.Site]++
	}
	if want := seriesBegin + seriesPast + seriesAfter + seriesPast + 1; count["well"] < want-2 || count["well"] > want+2 || count["ro"] != 1 || count["tank"] != 0 {
		t.Errorf("read: %v, of the well about %d", count, want)
	}
	for _, id := range []string{"2020-01-01-well", "2022-09-26-well", "2022-09-27-well", "2026-06-09-well", "2026-06-05-ro"} {
		if x, ok := j.Sessions.Get(id); !ok || x.Site == "" {
			t.Errorf("%s is not read", id)
		}
	}
}
