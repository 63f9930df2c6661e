package main

import (
	"fmt"
	"path"
	"sort"
	"strconv"
	"strings"
	"time"

	"github.com/rogpeppe/go-internal/txtar"
)

// crew are the people as they commit.
var crew = map[string]string{
	"ines":  "Ines Kaldre <ines@quillmarsh.example>",
	"jonas": "Jonas Welk <jonas@quillmarsh.example>",
	"pia":   "Pia Ormand <pia@quillmarsh.example>",
	"tove":  "Tove Harrick <tove@tarrow-lane.example>",
	"emil":  "Emil Sorrel <emil@quillmarsh.example>",
}

// commit is one step of the story: files that came at one moment by one hand.
type commit struct {
	at      time.Time
	who     string
	branch  string
	merge   string
	message string
	files   []string // path, or path@n for the n-th earlier state
}

// story writes story/steps.tsv and, where a file was once different, its
// earlier states into story/KIND.txtar.
func (j *journal) story(files map[string][]byte, merges []version) error {
	sort.SliceStable(j.versions, func(a, b int) bool { return j.versions[a].at.Before(j.versions[b].at) })
	last := map[string]int{}
	for i, v := range j.versions {
		last[v.path] = i
	}
	var commits []commit
	overlays := map[string]*txtar.Archive{}
	state := map[string]int{}
	for i, v := range j.versions {
		name := v.path
		if last[v.path] != i {
			state[v.path]++
			name = fmt.Sprintf("%s@%d", v.path, state[v.path])
			kind, _, _ := strings.Cut(v.path, "/")
			kind = strings.TrimSuffix(kind, path.Ext(kind))
			if overlays[kind] == nil {
				overlays[kind] = &txtar.Archive{Comment: []byte("Earlier states of " + kind + ", as the story has them.\n")}
			}
			overlays[kind].Files = append(overlays[kind].Files, txtar.File{Name: name, Data: []byte(v.content)})
		}
		if n := len(commits) - 1; n >= 0 && commits[n].at.Equal(v.at) && commits[n].who == v.who && commits[n].branch == v.branch && commits[n].message == v.message {
			commits[n].files = append(commits[n].files, name)
			continue
		}
		commits = append(commits, commit{at: v.at, who: v.who, branch: v.branch, message: v.message, files: []string{name}})
	}
	for _, m := range merges {
		commits = append(commits, commit{at: m.at, who: m.who, branch: m.branch, merge: m.path, message: m.message})
	}
	sort.SliceStable(commits, func(a, b int) bool { return commits[a].at.Before(commits[b].at) })
	var b strings.Builder
	b.WriteString("# when\twho\tbranch\tmerged branch\tmessage\tfiles; path@n is an earlier state, in KIND.txtar\n")
	for _, c := range commits {
		person, ok := crew[c.who]
		if !ok {
			return fmt.Errorf("story: %s is nobody", c.who)
		}
		sort.Strings(c.files)
		fmt.Fprintf(&b, "%s\t%s\t%s\t%s\t%s\t%s\n", c.at.In(vilnius).Format(time.RFC3339), person, c.branch, c.merge, strconv.Quote(c.message), strings.Join(c.files, " "))
	}
	files["story/steps.tsv"] = []byte(b.String())
	for kind, archive := range overlays {
		files["story/"+kind+".txtar"] = txtar.Format(archive)
	}
	return nil
}
