package main

import (
	"bufio"
	"cmp"
	"errors"
	"fmt"
	"io"
	"strings"

	"wj/journal"
	"wj/journal/start"
	"wj/render"
)

// questions asks a person line by line.
type questions struct {
	a  *app
	in *bufio.Reader
}

func (a *app) questions() *questions { return &questions{a, bufio.NewReaderSize(a.stdin, 4096)} }

// asks reports whether a person sits at both ends.
func (a *app) asks() bool {
	_, _, ok := a.terminal()
	return ok
}

// ask asks until an answer fits; nothing typed is the answer that is offered.
func (q *questions) ask(question, offered string, fits func(string) error) (string, error) {
	for {
		prompt := question
		if offered != "" {
			prompt += " [" + offered + "]"
		}
		if err := q.a.printTalk(render.Line(prompt) + ": "); err != nil {
			return "", err
		}
		line, err := q.in.ReadString('\n')
		if err != nil && line == "" {
			_ = q.a.printTalk("\n")
			if errors.Is(err, io.EOF) {
				return "", errors.New("the answers ended; nothing was written")
			}
			return "", fmt.Errorf("read the answer: %w", err)
		}
		answer := cmp.Or(strings.TrimSpace(line), offered)
		if fits == nil {
			return answer, nil
		}
		wrong := fits(answer)
		if wrong == nil {
			return answer, nil
		}
		q.a.complain(wrong)
	}
}

// list asks for names that stand between commas.
func (q *questions) list(question, offered string, fits func(string) error) ([]string, error) {
	answer, err := q.ask(question, offered, func(answer string) error {
		for _, part := range commaList(answer) {
			if err := fits(part); err != nil {
				return err
			}
		}
		return nil
	})
	return commaList(answer), err
}

func commaList(s string) []string {
	var out []string
	for part := range strings.SplitSeq(s, ",") {
		if part = strings.TrimSpace(part); part != "" {
			out = append(out, part)
		}
	}
	return out
}

// meter asks for a meter of a template: which of its tests it can make, and what the leaflet
// says of each.
func (q *questions) meter(t start.Template, id string) (start.Meter, error) {
	m := start.Meter{ID: id, Template: t}
	q.a.say("%s %s: type from its leaflet the unit, the lowest and the highest reading and, if it says so, how far it may be off, such as", t.Name, id)
	q.a.say("  mg/L 2 200 5 mg/L + 8 %%     (- : it cannot make this test)")
	for _, test := range t.Tests {
		name, unit, _ := strings.Cut(test, " ")
		offered := unit
		if unit == "" {
			offered = "no unit"
		}
		_, err := q.ask("  "+strings.ReplaceAll(name, "_", " "), offered, func(answer string) error {
			if answer == "-" {
				return nil
			}
			if answer == "no unit" {
				answer = ""
			}
			e, err := start.ParseMeasure(name, answer)
			if err == nil {
				m.Measures = append(m.Measures, e)
			}
			return err
		})
		if err != nil {
			return m, err
		}
	}
	if len(m.Measures) == 0 {
		return m, errors.New("a meter measures something")
	}
	return m, nil
}

// record asks for a lot or an instrument and gives the arguments of wj new.
func (q *questions) record(kind journal.Kind, id string) ([]string, error) {
	var err error
	valid := func(id string) error {
		if !journal.ValidID(id, kind) {
			return withHint("letters, digits and hyphens", "%q cannot be an id", id)
		}
		return nil
	}
	if id == "" {
		question := map[journal.Kind]string{journal.KindLot: "number on the label", journal.KindInstrument: "a short name, such as meter-1"}[kind]
		if id, err = q.ask(question, "", valid); err != nil {
			return nil, err
		}
	}
	args := []string{kind.String(), id}
	if kind == journal.KindInstrument {
		t, err := q.template()
		if err != nil {
			return nil, err
		}
		m, err := q.meter(t, id)
		if err != nil {
			return nil, err
		}
		for _, e := range m.Entries(q.a.Now()) {
			if len(e.Below) == 0 {
				args = append(args, e.Key+"="+strings.Trim(e.Value, `"`))
			}
			for _, below := range e.Below {
				args = append(args, e.Key+"."+below.Key+"="+below.Value)
			}
		}
		return args, nil
	}
	for _, field := range []struct{ key, question string }{
		{"analyte", "for which test (nothing for a salt or an acid)"}, {"substance", "which salt or acid (nothing for a reagent)"},
		{"expires", "expires, such as 2027-05"}, {"tests", "how many tests (nothing if it does not say)"},
	} {
		if field.key == "substance" && strings.HasPrefix(args[len(args)-1], "analyte=") {
			continue
		}
		answer, err := q.ask(field.question, "", nil)
		if err != nil {
			return nil, err
		}
		if answer != "" {
			args = append(args, field.key+"="+answer)
		}
	}
	return args, nil
}

// template asks for a sort of meter.
func (q *questions) template() (t start.Template, err error) {
	var keys []string
	for _, t := range start.Templates {
		keys = append(keys, t.Key)
	}
	_, err = q.ask("what sort ("+strings.Join(keys, ", ")+")", keys[0], func(answer string) (wrong error) {
		t, wrong = start.TemplateNamed(answer)
		return wrong
	})
	return t, err
}
