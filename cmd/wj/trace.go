package main

import (
	"maps"
	"slices"
	"strconv"
	"strings"

	"wj/journal"
	"wj/journal/evidence"
	"wj/journal/trace"
	"wj/query/report"
	"wj/water"
	"wj/water/spelling"
)

type traceCmd struct {
	ID     string            `arg:"" help:"Where to start: a lot, a session, a change, a batch …"`
	Down   bool              `help:"What depends on it, and on that, and so on: the recall walk."`
	Up     bool              `help:"What it depends on."`
	If     map[string]string `placeholder:"NAME=PERCENT" mapsep:"," help:"What would change if these readings were off: --if sulfate=-18% says they are 18 % too low. Implies --down."`
	Format string            `enum:"text,json" default:"text" help:"${enum}."`

	atFlag
}

func (c *traceCmd) Run(a *app) error {
	if c.Up && (c.Down || len(c.If) > 0) {
		return withHint("ask one after the other", "--up and --down go different ways")
	}
	j, root, err := a.load(journal.Options{Sessions: true})
	if err != nil {
		return err
	}
	f, err := find(j, c.ID)
	if err != nil {
		return err
	}
	off, err := c.off(j, f)
	if err != nil {
		return err
	}
	t := report.NewTrace(j, f, !c.Up, off)
	if len(j.Signoffs.List) > 0 {
		w := a.ProvenanceOrNone(j, root)
		defer w.Close()
		facts := a.Facts(j, w)
		t.Unverified(func(id string) bool {
			s, ok := j.Signoffs.Get(id)
			return ok && evidence.Judge(j, s, facts).Claim
		})
	}
	if len(t.Below) == 0 {
		if c.Up {
			a.say("%s depends on nothing; wj trace %s --down shows what depends on it", f.ID, f.ID)
		} else {
			a.say("nothing depends on %s", f.ID)
		}
		return errFindings
	}
	if c.Format == "json" {
		return a.showJSON(t)
	}
	for _, line := range t.Summary() {
		a.say("%s", line)
	}
	return a.lines().Show(t.Text)
}

// off reads --if: which readings are in error, and by what part. The readings
// are those that the starting record stands behind.
func (c *traceCmd) off(j *journal.Journal, f journal.File) (trace.Off, error) {
	if len(c.If) == 0 {
		return nil, nil
	}
	errs := map[water.ID]float64{}
	for _, name := range slices.Sorted(maps.Keys(c.If)) {
		id, ok := water.LookupAnalyte(name)
		if !ok {
			known := water.AnalyteKeys()
			return nil, withHint(spelling.HintOr(name, known, "analytes: "+strings.Join(known, ", ")), "%q is no analyte", name)
		}
		text := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(c.If[name]), "%"))
		v, err := strconv.ParseFloat(strings.Replace(text, "−", "-", 1), 64)
		if err != nil || !strings.Contains(c.If[name], "%") || !(v > -100 && v < 1000) {
			return nil, withHint("write --if "+name+"=-18%", "%q is no percentage by which a reading can be off", c.If[name])
		}
		errs[id] = v / 100
	}
	return trace.OffBehind(f, errs), nil
}
