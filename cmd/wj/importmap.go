package main

import (
	"fmt"
	"path/filepath"

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
			q := a.questions()
			if text, err = exchange.AskMap(q, j, text); err == nil && c.As == "" {
				c.As, err = exchange.AskName(q, text, c.File)
				c.Map = exchange.KeptPath(c.As)
			}
			if err != nil {
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
