package main

import (
	"fmt"
	"path/filepath"
	"strconv"

	"wj/journal"
	"wj/journal/exchange"
	"wj/journal/frontmatter"
	"wj/journal/writer"
)

// mapping finds the map of the file: the one named, the one that the journal keeps for such files,
// or one that is drafted and asked for. kept is the file to keep it in; nil for none.
func (c *importCmd) mapping(a *app, j *journal.Journal, root string, src []byte, by string) (text []byte, kept *writer.File, err error) {
	switch {
	case c.Map != "":
		if text, err = readLimited(c.Map, frontmatter.MaxFile); err != nil || c.As == "" {
			return text, nil, err
		}
	case c.As != "" && journal.ValidID(c.As, journal.KindSite):
		text, err = journal.Dir(root).ReadIfThere(exchange.KeptPath(c.As))
	case c.As == "":
		c.As, text = exchange.Fitting(j, src)
	}
	if err != nil {
		return nil, nil, err
	}
	if c.As != "" && !journal.ValidID(c.As, journal.KindSite) {
		return nil, nil, withHint("lower-case letters, digits and hyphens", "%q cannot be the name of a map", c.As)
	}
	if c.Map == "" {
		c.Map = exchange.KeptPath(c.As)
		if text != nil {
			a.say("by the map %s", c.Map)
		} else if text, _, err = exchange.Draft(j, src, c.File, c.Sheet, by); err != nil {
			return nil, nil, fmt.Errorf("draft a map of %s: %w", c.File, err)
		}
		if a.asks() || c.Ask {
			if text, err = c.answers(a, j, text); err != nil {
				return nil, nil, err
			}
		} else if c.As == "" || len(exchange.Questions(text)) > 0 {
			return nil, nil, withHint("wj import --guess "+filepath.Base(c.File)+" -o map.yaml drafts a map, wj import on a terminal asks, or --ask", "no map of this journal fits %s: say either --map FILE or --guess", c.File)
		}
	}
	f := writer.File{Path: exchange.KeptPath(c.As), New: exchange.Remembered(text)}
	if f.Old, err = journal.Dir(root).ReadIfThere(f.Path); err != nil || string(f.Old) == string(f.New) {
		return text, nil, err
	}
	return text, &f, nil
}

// answers asks what a map leaves open: first what it cannot do without, then all that was proposed.
func (c *importCmd) answers(a *app, j *journal.Journal, text []byte) ([]byte, error) {
	q := a.questions()
	ask := func(one exchange.Question, offered string) error {
		answer, err := q.ask("  "+one.Subject+" ("+one.Remark+")", offered, func(answer string) error {
			if answer == "" && one.Must {
				return withHint("- leaves it out", "this must be answered")
			}
			return exchange.AnswerAt(j, text, one, answer)
		})
		if err == nil {
			text = exchange.Answer(text, one, answer)
		}
		return err
	}
	for {
		all := exchange.Questions(text)
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
			break
		}
		a.say("taken as:")
		for i, one := range all {
			a.say("  %d  %s: %s   %s", i+1, one.Subject, one.Proposal, one.Remark)
		}
		n := 0
		if _, err := q.ask("right? Enter takes it all, a number changes one", "", func(answer string) (err error) {
			if n, err = strconv.Atoi(answer); answer != "" && (err != nil || n < 1 || n > len(all)) {
				return withHint("Enter, or the number of a line", "%q is no line", answer)
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
			text = exchange.Answer(text, one, one.Proposal)
		}
		break
	}
	if c.As == "" {
		m, _ := exchange.ParseMapping(c.Map, text)
		name, err := q.ask("keep the map under which name", exchange.KeptName(m, c.File), func(answer string) error {
			if !journal.ValidID(answer, journal.KindSite) {
				return withHint("lower-case letters, digits and hyphens", "%q cannot be a name", answer)
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
		c.As, c.Map = name, exchange.KeptPath(name)
	}
	return text, nil
}
