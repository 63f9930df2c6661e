package main

import (
	"fmt"
	"strings"

	"wj/lint"
	"wj/water"
)

type explainCmd struct {
	Name string `arg:"" optional:"" help:"A rule (reagent/expired), an analyte or a derived value (residual_alkalinity). Without it, the list of them."`
}

func (c *explainCmd) Run(a *app) error {
	if c.Name == "" {
		return a.markdown(explainList())
	}
	if page, ok := lint.Page(c.Name); ok {
		return a.markdown(page)
	}
	if id, ok := water.Lookup(c.Name); ok {
		return a.markdown(explainAnalyte(id))
	}
	var known []string
	for _, r := range lint.Rules() {
		known = append(known, r.Name)
	}
	known = append(known, water.Keys()...)
	hint := "wj explain lists what can be explained"
	if near := water.Nearest(c.Name, known); near != "" {
		hint = "did you mean " + near + "?"
	}
	return withHint(hint, "nothing is known of %q", c.Name)
}

// markdown prints a Markdown text for a person or, in a pipe, as it is.
func (a *app) markdown(src string) error {
	text, err := a.out.Markdown(src)
	if err != nil {
		return err
	}
	return a.print(text)
}

func explainList() string {
	var b strings.Builder
	b.WriteString("# What can be explained\n\n## Lint rules\n\n")
	for _, r := range lint.Rules() {
		fmt.Fprintf(&b, "- `%s` (%s): %s\n", r.Name, r.Severity, r.Title)
	}
	b.WriteString("\n## Analytes and derived values\n\n")
	for _, key := range water.Keys() {
		id, _ := water.Lookup(key)
		fmt.Fprintf(&b, "- `%s`: %s\n", key, id.Info().Doc)
	}
	return b.String()
}

func explainAnalyte(id water.ID) string {
	info := id.Info()
	var b strings.Builder
	fmt.Fprintf(&b, "# %s\n\n%s.\n\n", info.Key, capital(info.Doc))
	if !info.Unit.IsNone() {
		fmt.Fprintf(&b, "- standard unit: %s\n", info.Unit)
	} else {
		b.WriteString("- a number without a unit\n")
	}
	if info.UCUM != "" {
		fmt.Fprintf(&b, "- UCUM code: `%s`\n", info.UCUM)
	}
	if units := info.Units(); len(units) > 1 {
		names := make([]string, len(units))
		for i, u := range units {
			names[i] = u.String()
		}
		fmt.Fprintf(&b, "- units that fit: %s\n", strings.Join(names, ", "))
	}
	if info.MolarMass > 0 {
		fmt.Fprintf(&b, "- molar mass: %s g/mol\n", water.Round(info.MolarMass, 6))
	}
	if info.Exchange != "" {
		fmt.Fprintf(&b, "- exchange name (WQX 3.0): %s %s\n", info.Exchange, info.Speciation)
	}
	if info.CAS != "" {
		fmt.Fprintf(&b, "- CAS number: %s\n", info.CAS)
	}
	if id >= water.NumAnalytes {
		b.WriteString("- derived: computed from readings, never stored\n")
	}
	return b.String()
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
