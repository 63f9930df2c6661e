package water

import (
	"embed"
	"fmt"
	"math"
	"strings"
)

//go:embed pages/*.md
var pages embed.FS

// Page is the page that explains an analyte or derived value, in Markdown: what
// it is, formula, units, bench, traps and sources, and a block of facts from the
// analyte table. It is "" for an ID that is none.
func Page(id ID) string {
	if id >= NumNames {
		return ""
	}
	text, err := pages.ReadFile("pages/" + id.String() + ".md")
	if err != nil {
		return "# " + id.String() + "\n\n" + facts(id.Info())
	}
	return string(text) + "\n" + facts(id.Info())
}

// facts is what the analyte table knows, as a list.
func facts(a *Analyte) string {
	var b strings.Builder
	b.WriteString("## Facts\n\n")
	line := func(format string, args ...any) { fmt.Fprintf(&b, "- "+format+"\n", args...) }
	line("name in files and queries: `%s`", a.Key)
	if a.Unit.IsNone() {
		line("a number without a unit")
	} else {
		line("standard unit: %s", a.Unit)
	}
	if list := factors(a); len(list) > 0 {
		line("units that fit: %s", strings.Join(list, "; "))
	}
	if a.MolarMass > 0 && a.entity != mixedHardness {
		text := fmt.Sprintf("molar mass: %s g/mol", Round(a.MolarMass, 5))
		if a.Charge != 0 {
			text += fmt.Sprintf(", charge %+d", a.Charge)
		}
		if a.entity == acidCapacity {
			text += " (of the half of CaCO3 that takes up one H+)"
		}
		line("%s", text)
	}
	if a.UCUM != "" {
		line("UCUM code: `%s`", a.UCUM)
	}
	if a.Exchange != "" {
		line("exchange name (WQX 3.0): %s", strings.TrimSpace(a.Exchange+" "+a.Speciation))
	}
	if a.CAS != "" {
		line("CAS number: %s", a.CAS)
	}
	if a.Typical != (Accuracy{}) {
		line("accuracy taken where none is declared (95 %%): ± %s; common practice, no source", a.accuracyText(a.Typical))
		from, source := a.Outside()
		line("of a laboratory's or supplier's figure that declares none: ± %s; %s", a.accuracyText(from), source)
	}
	if a.ID >= NumAnalytes {
		line("derived: computed from readings, never stored")
	}
	return b.String()
}

// accuracyText writes the parts of an accuracy: "5 mg/L + 8 % of the reading".
func (a *Analyte) accuracyText(t Accuracy) string {
	var parts []string
	if t.Absolute > 0 {
		parts = append(parts, strings.TrimSpace(fmt.Sprintf("%g %s", t.Absolute, a.Unit)))
	}
	if t.Relative > 0 {
		parts = append(parts, Round(100*t.Relative, 3)+" % of the reading")
	}
	return strings.Join(parts, " + ")
}

// factors lists the units that fit, each with what one of it is in the standard
// unit.
func factors(a *Analyte) []string {
	var list []string
	for _, u := range a.Units() {
		if u == a.Unit {
			continue
		}
		one, err := a.Convert(1, u, a.Unit)
		zero, err2 := a.Convert(0, u, a.Unit)
		switch {
		case err != nil || err2 != nil || math.IsNaN(one):
			continue
		case zero != 0: // a temperature scale: one pair of points says more than a factor
			at, _ := a.Convert(50, u, a.Unit)
			list = append(list, fmt.Sprintf("0 %s = %s %s, 50 %s = %s %s", u, Round(zero, 4), a.Unit, u, Round(at, 4), a.Unit))
		case u.Family() == MassPerVolume && (u.id == ugL || u.id == gL):
			continue // a thousandth and a thousandfold need no telling
		default:
			list = append(list, fmt.Sprintf("1 %s = %s %s", u, Round(one, 5), a.Unit))
		}
	}
	return list
}
