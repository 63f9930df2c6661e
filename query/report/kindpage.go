package report

import (
	"fmt"
	"strings"

	"wj/journal"
	"wj/water"
	"wj/water/substance"
)

// kindExamples are commands that write a record of the kind, or what writes
// one. The script explain-kind runs those that begin with wj new, in the order
// of journal.Kinds.
var kindExamples = map[journal.Kind][]string{
	journal.KindPerson: {`wj new person mara name="Mara Lind" email=mara@brewery.example roles="[{role: tester}, {role: reviewer}]"`},
	journal.KindOwner:  {`wj new owner mill-lane name="Mill Lane Brewing" email=brewer@mill-lane.example units.alkalinity=dKH`},
	journal.KindSite: {`wj new site mill-tap name="Mill Lane tap" owner=mill-lane stage=intake place="[54.6872, 25.2797]"`,
		`wj new site mill-ro name="Mill Lane RO" owner=mill-lane stage=ro-permeate fed_by=mill-tap schedule="[{every: 7 d, analytes: [pH, conductivity]}]" limits.conductivity="{max: 30 uS/cm, action: change the membrane}"`},
	journal.KindLot: {`wj new lot SU-2704 analyte=sulfate expires=2029-04 tests=50`,
		`wj new lot GY-2701 substance=gypsum assay="100 ± 1 %" amount="5 kg" price="2.10 EUR/kg" grade="food grade"`,
		`wj new lot LA-2701 substance=lactic_acid strength="80 % w/w" amount="5 L" grade="food grade"`,
		`wj new lot CK-2701 standard.sulfate="100 mg/L" expires=2029-04`},
	journal.KindInstrument: {`wj new instrument meter-1 name="Photometer" sort=photometer measures.sulfate="{units: mg/L, range: [2 mg/L, 200 mg/L], resolution: 1 mg/L, accuracy: 5 mg/L + 8 %}" measures.pH="{range: [6.5, 8.5], resolution: 0.1, accuracy: 0.1}"`},
	journal.KindMethod:     {`wj new method turbidity-sulfate name="Sulfate by turbidity" analyte=sulfate steps="[{do: fill the tube to the mark}, {do: add the powder, mix: 30 s, wait: 5 min}, {do: read}]"`},
	journal.KindSession:    {`wj new session mill-tap pH=7.4 alkalinity="6.6 dKH" sulfate="84 mg/L" sulfate.dilution=2 -m "second portion"`, `wj enter mill-tap`},
	journal.KindTarget:     {`wj new target pale name="Pale ale" ranges.sulfate="{min: 120 mg/L, max: 180 mg/L}" ranges.residual_alkalinity="{max: 60 mg/L CaCO3}"`},
	journal.KindChange:     {`wj treat --site mill-tap --target pale --volume "1000 L" --write pale`},
	journal.KindSignoff:    {`wj sign 2027-03-04-pale --meaning "reviewed calculation and limits"`},
	journal.KindBatch:      {`wj new batch 2027-001 beer=pale volume="1000 L" mash_pH=5.36`},
	journal.KindEvent:      {`wj new event new-membrane what="membrane changed" site=mill-ro`},
	journal.KindAction:     {`wj new action high-ro about=mill-ro deviation="conductivity over the limit"`},
	journal.KindReport:     {`wj mail 2027-03-04-mill-tap --to brewer@mill-lane.example -o results.eml`},
}

// KindPage is the page of a record kind: where its records live, what can stand
// in them, a command that writes one.
func KindPage(kind journal.Kind) string {
	var b strings.Builder
	place := "`" + kind.Folder() + "/ID.md`"
	switch kind {
	case journal.KindSettings:
		place = "`" + journal.SettingsFile + "`"
	case journal.KindSession:
		place = "`sessions/YEAR/DATE-SITE.md`"
	}
	fmt.Fprintf(&b, "# %s\n\n%s. It is in %s.\n\n", kind, journal.Capital(kind.What()), place)
	if examples := kindExamples[kind]; len(examples) > 0 {
		b.WriteString("```\n")
		for _, e := range examples {
			b.WriteString(shellLines(e) + "\n")
		}
		b.WriteString("```\n\n")
	}
	b.WriteString("## What it holds\n\n`!` must be there. `›` is a part of what is above it: on the command line `a.b=…`, in the file `a: {b: …}`.\n\n")
	b.WriteString("| field | written as | meaning |\n| --- | --- | --- |\n")
	for _, f := range kind.Fields() {
		if kind == journal.KindSettings || !inEveryRecord[f.Key] {
			kindRows(&b, "", f)
		}
	}
	if kind != journal.KindSettings {
		b.WriteString("\nIn every record: `note: …`, a remark in one line; `ignore: {RULE: reason}` silences a lint rule; `attachments: {FILE: SHA-256}`, which `wj attach` writes; and what `wj amend` and `wj void` write.\n")
	}
	fmt.Fprintf(&b, "\n`wj explain` lists what ANALYTE, VALUE (an analyte or a derived value) and RULE may be; `wj schema %s` gives this page to editors.\n", kind)
	return b.String()
}

// shellLines breaks a command into lines that fit a narrow terminal and that a
// shell still takes as one: between arguments, or behind a comma of a list.
func shellLines(command string) string {
	const room = 74
	var pieces, lines []string
	quoted, whole := false, true
	for _, word := range strings.SplitAfter(command, " ") {
		if whole {
			pieces = append(pieces, "")
		}
		pieces[len(pieces)-1] += word
		quoted = quoted != (strings.Count(word, `"`)%2 == 1)
		whole = !quoted || strings.HasSuffix(word, ", ")
	}
	line := ""
	for _, piece := range pieces {
		if line != "" && len([]rune(line+piece)) > room {
			lines, line = append(lines, line+"\\"), "  "
		}
		line += piece
	}
	return strings.Join(append(lines, line), "\n")
}

// inEveryRecord are the fields that the page of a kind tells in one sentence.
var inEveryRecord = map[string]bool{"amended": true, "void": true, "ignore": true, "attachments": true, "note": true}

// kindRows writes a field and, behind ›, what lies below it.
func kindRows(b *strings.Builder, mark string, f journal.Field) {
	name := mark + f.Key
	if f.Required {
		name += " !"
	}
	fmt.Fprintf(b, "| %s | %s | %s |\n", name, fieldShape(f), f.Doc)
	below := f
	for below.Of != nil {
		below = *below.Of
	}
	if mark == "" {
		mark = " "
	}
	for _, part := range below.Fields {
		kindRows(b, "›"+mark, part)
	}
}

// dictKey is the word for a key that the writer chooses.
func dictKey(k journal.KeyType) string {
	return map[journal.KeyType]string{journal.AnalyteKey: "ANALYTE", journal.ValueKey: "VALUE", journal.TargetKey: "VALUE",
		journal.SubstanceKey: "SUBSTANCE", journal.PathKey: "FILE", journal.RuleKey: "RULE", journal.HouseKey: "house/NAME"}[k] + map[bool]string{true: "NAME"}[k == journal.AnyKey]
}

// fieldShapes say how a value is written.
var fieldShapes = map[journal.Type]string{
	journal.TypeText: "text", journal.TypeDate: "2026-03-04", journal.TypeMonth: "2026-11 or 2026-11-30", journal.TypeTime: "2026-03-04T08:15+01:00",
	journal.TypeDateOrTime: "2026-03-04, or with a time", journal.TypeNumber: "number", journal.TypeInteger: "whole number", journal.TypeFlag: "true or false",
	journal.TypeQuantity: "number with its unit", journal.TypeAnalyteName: "analyte", journal.TypeValueName: "analyte or derived value",
	journal.TypeReading: "84 mg/L", journal.TypeAmount: "210 g", journal.TypeAccuracy: "5 mg/L + 8 %",
	journal.TypeDigest: "SHA-256", journal.TypeUnitName: "unit", journal.TypePlace: "[latitude, longitude]", journal.TypeRuleSetting: "error, warning, info, off, or {…}",
}

func fieldShape(f journal.Field) string {
	if f.Key == "readings" {
		return "ANALYTE: 84 mg/L, <5 mg/L, \">200 mg/L\", [21 mg/L, 22 mg/L]; pH without unit"
	}
	switch f.Type {
	case journal.TypeRef:
		var kinds []string
		for _, k := range f.To {
			kinds = append(kinds, k.String())
		}
		if len(kinds) > 3 {
			return "id of a record"
		}
		return "id of: " + strings.Join(kinds, ", ")
	case journal.TypeChoice:
		choices := f.Choices
		if f.Key == "substance" {
			for _, s := range substance.All() {
				choices = append(choices, s.Key)
			}
		}
		return strings.Join(choices, ", ")
	case journal.TypeMap:
		return "{…}"
	case journal.TypeDict:
		if f.Of.Type == journal.TypeMap {
			return dictKey(f.Keys) + ": {…}"
		}
		return dictKey(f.Keys) + ": " + fieldShape(*f.Of)
	case journal.TypeList:
		return "[" + fieldShape(*f.Of) + ", …]"
	case journal.TypeOneOrList:
		return fieldShape(*f.Of) + "; or several in [ ]"
	case journal.TypeQuantity:
		if example := quantityExamples(f.Families); example != "" {
			return example
		}
	}
	return fieldShapes[f.Type]
}

func quantityExamples(families []water.Family) string {
	examples := map[water.Family]string{water.Mass: "5 kg", water.Volume: "1500 L", water.Length: "200 m", water.Duration: "7 d, 5 min", water.Temperature: "9.6 degC", water.Fraction: "98 %"}
	var out []string
	for _, family := range families {
		if e := examples[family]; e != "" {
			out = append(out, e)
		}
	}
	return strings.Join(out, " or ")
}
