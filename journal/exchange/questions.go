package exchange

import (
	"io/fs"
	"path"
	"regexp"
	"strconv"
	"strings"
	"sync"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/render/terminal"
)

// Question is a line of a drafted map that a person looks at.
type Question struct {
	Line     int    // from 1
	Subject  string // what the line is about
	Remark   string // what is asked
	Proposal string // "" for none
	Must     bool   // the map cannot be used without an answer
}

var asked = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^(.*?)  # \? (.*)$`) })

// Questions lists the lines of a map that are marked with ?, in their order. What is a remark
// itself is none: it can stay.
func Questions(text []byte) []Question {
	_, problems := ParseMapping("map", text)
	wrong := map[int]bool{}
	for _, p := range problems {
		wrong[p.Line] = true
	}
	var out []Question
	for i, line := range strings.Split(string(text), "\n") {
		m := asked().FindStringSubmatch(line)
		if m == nil || strings.HasPrefix(strings.TrimSpace(m[1]), "#") {
			continue
		}
		q := Question{Line: i + 1, Remark: m[2], Must: wrong[i+1]}
		before, value, after := splitAnswer(m[1])
		q.Subject = strings.Trim(strings.TrimRight(strings.TrimSpace(before), ": "), `"`)
		if after != "" {
			q.Subject = strings.Trim(strings.TrimSpace(before[:strings.Index(before, ": {")]), `"`) // a result, whose unit or basis is open
		}
		q.Proposal = strings.Trim(value, `"`)
		out = append(out, q)
	}
	return out
}

// splitAnswer takes a line apart: what is before the value, the value, and what is behind it.
func splitAnswer(line string) (before, value, after string) {
	for _, key := range []string{"unit: ", "basis: "} {
		if at := strings.LastIndex(line, key); at >= 0 && strings.HasSuffix(line, "}") && strings.Contains(line[:at], ": {") {
			return line[:at+len(key)], strings.TrimSuffix(line[at+len(key):], "}"), "}"
		}
	}
	quoted := false
	for i := 0; i < len(line); i++ {
		switch {
		case line[i] == '\\' && quoted:
			i++
		case line[i] == '"':
			quoted = !quoted
		case line[i] == ':' && !quoted && (i+1 == len(line) || line[i+1] == ' '):
			return line[:i+1] + " ", strings.TrimSpace(line[i+1:]), ""
		}
	}
	return line + " ", "", ""
}

// Answer writes the answer to a question into the map: nothing keeps what is proposed, - takes the
// line away. YAML in brackets stays as it is.
func Answer(text []byte, q Question, answer string) []byte {
	lines := strings.Split(string(text), "\n")
	if q.Line < 1 || q.Line > len(lines) {
		return text
	}
	m := asked().FindStringSubmatch(lines[q.Line-1])
	if m == nil {
		return text
	}
	line := m[1]
	switch answer = strings.TrimSpace(answer); {
	case answer == "-":
		line = "# " + strings.TrimSpace(line)
	case answer != "":
		before, _, after := splitAnswer(line)
		if !strings.HasPrefix(answer, "[") && !strings.HasPrefix(answer, "{") && !strings.HasPrefix(answer, `"`) {
			answer = frontmatter.Quote(answer)
		}
		line = before + answer + after
	}
	if answer != "" || !q.Must {
		lines[q.Line-1] = line
	}
	return []byte(strings.Join(lines, "\n"))
}

// AnswerAt is the mistake at a question's line once it is answered; nil for none.
func AnswerAt(j *journal.Journal, text []byte, q Question, answer string) error {
	if kind, ok := map[string]journal.Kind{"by": journal.KindPerson, "site": journal.KindSite, "owner": journal.KindOwner}[q.Subject]; ok && answer != "" && answer != "-" && answer[0] != '{' && !j.Exists(kind, answer) {
		return journal.Hint("its ids: "+strings.Join(j.IDs(kind), ", "), "there is no %s %q", kind, answer)
	}
	_, problems := ParseMapping("map", Answer(text, q, answer))
	for _, p := range problems {
		if p.Line == q.Line {
			return journal.Hint(p.Help, "%s", p.Message)
		}
	}
	return nil
}

// keptFolder has the maps that a journal remembers, one for each laboratory.
const keptFolder = "maps"

// KeptPath is where the map of a name is kept.
func KeptPath(name string) string { return keptFolder + "/" + name + ".yaml" }

// oneFile are lines that are true of one file alone: the year of a table of months, and one time for
// all rows.
var oneFile = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`(?m)^(?: +year:|sampled:) \S.*$`) })

// Remembered is a map as it is kept for the next file: what is true of one file alone is asked again.
func Remembered(text []byte) []byte {
	out := regexp.MustCompile(`(?m)^by: .*\n`).ReplaceAll(text, nil)
	return oneFile().ReplaceAllFunc(out, func(line []byte) []byte {
		key, _, _ := strings.Cut(string(line), ":")
		return []byte(key + ":  # ? of this file: " + map[bool]string{true: "which year?", false: "when was it sampled?"}[strings.TrimSpace(key) == "year"])
	})
}

// Fitting finds the map that the journal keeps for a file: all its columns are there, and of
// several the one that leaves the fewest out. name is "" where none fits.
func Fitting(j *journal.Journal, src []byte) (name string, text []byte) {
	paths, err := fs.Glob(j.FS, keptFolder+"/*.yaml")
	if err != nil {
		return "", nil
	}
	fewest := -1
	for _, p := range paths {
		one, err := fs.ReadFile(j.FS, p)
		if err != nil || len(one) > frontmatter.MaxFile {
			continue
		}
		m, _ := ParseMapping(p, one)
		if len(m.Wide) == 0 && m.Long == nil {
			continue
		}
		s, err := Read(src, m)
		if err != nil {
			continue
		}
		_, _, left, wrong := m.resolve(s)
		if wrong == nil && (fewest < 0 || len(left) < fewest) {
			fewest, name, text = len(left), strings.TrimSuffix(path.Base(p), ".yaml"), one
		}
	}
	return name, text
}

// KeptName is a name for the map of a file: the laboratory, else what the file is called without its
// digits.
func KeptName(m *Mapping, file string) string {
	if lab, ok := m.Laboratory.Fixed(); ok && Slug(lab) != "" {
		return Slug(lab)
	}
	name := Slug(regexp.MustCompile(`[0-9]+`).ReplaceAllString(strings.TrimSuffix(path.Base(file), path.Ext(file)), " "))
	return firstNonEmpty(strings.Trim(name, "-"), "laboratory")
}

// AskMap asks what a map leaves open: first what it cannot do without, then all that was proposed.
func AskMap(q *terminal.Questions, j *journal.Journal, text []byte) ([]byte, error) {
	ask := func(one Question, offered string) error {
		answer, err := q.Ask("  "+one.Subject+" ("+one.Remark+")", offered, func(answer string) error {
			if answer == "" && one.Must {
				return journal.Hint("- leaves it out", "this must be answered")
			}
			return AnswerAt(j, text, one, answer)
		})
		if err == nil {
			text = Answer(text, one, answer)
		}
		return err
	}
	for {
		all := Questions(text)
		at := 0
		for at < len(all) && !all[at].Must {
			at++
		}
		if at < len(all) {
			if err := ask(all[at], ""); err != nil {
				return nil, err
			}
			continue
		}
		if len(all) == 0 {
			return text, nil
		}
		q.Say("taken as:")
		for i, one := range all {
			q.Say("  %d  %s: %s   %s", i+1, one.Subject, one.Proposal, one.Remark)
		}
		n := 0
		if _, err := q.Ask("right? Enter takes it all, a number changes one", "", func(answer string) (err error) {
			if n, err = strconv.Atoi(answer); answer != "" && (err != nil || n < 1 || n > len(all)) {
				return journal.Hint("Enter, or the number of a line", "%q is no line", answer)
			}
			return nil
		}); err != nil {
			return nil, err
		}
		if n > 0 {
			if err := ask(all[n-1], all[n-1].Proposal); err != nil {
				return nil, err
			}
			continue
		}
		for _, one := range all {
			text = Answer(text, one, one.Proposal)
		}
		return text, nil
	}
}

// AskName asks under which name a map is kept.
func AskName(q *terminal.Questions, text []byte, file string) (string, error) {
	m, _ := ParseMapping("map", text)
	return q.Ask("keep the map under which name", KeptName(m, file), func(answer string) error {
		if !journal.ValidID(answer, journal.KindSite) {
			return journal.Hint("lower-case letters, digits and hyphens", "%q cannot be a name", answer)
		}
		return nil
	})
}
