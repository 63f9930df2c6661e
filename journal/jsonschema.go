package journal

import (
	"encoding/json"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"wj/water"
)

// Patterns of the written forms, for editors; the linter's own checks are
// stricter and name the mistake.
const (
	datePattern   = `^\d{4}-\d{2}-\d{2}$`
	monthPattern  = `^\d{4}-\d{2}(-\d{2})?$`
	timePattern   = `^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(:\d{2})?(Z|[+-]\d{2}:\d{2})$`
	numberPattern = `-?\d{1,9}(\.\d{1,6})?`
	digestPattern = `^[0-9a-f]{64}$`
	idPattern     = `^[a-z0-9][a-z0-9-]*$`
	lotPattern    = `^[A-Za-z0-9][A-Za-z0-9-]*$`
)

type object = map[string]any

// RuleDoc is what a schema says of a lint rule: its name, what is wrong when it fires, and
// its thresholds with what they mean.
type RuleDoc struct {
	Name, Title string
	Settings    map[string]string
}

// JSONSchema describes the front matter of a kind of record as a JSON Schema,
// draft 2020-12, for editors that complete and check YAML. Without rules any name of a rule
// is right.
func JSONSchema(k Kind, rules []RuleDoc) ([]byte, error) {
	s := mappingSchema(k.Fields(), nil)
	if defs := ruleSchemas(rules); len(rules) > 0 {
		s["$defs"] = defs
		useRules(s)
	}
	s["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	s["title"] = "wj " + k.String()
	s["description"] = k.What()
	return json.MarshalIndent(s, "", "  ")
}

func mappingSchema(fields []Field, id *water.ID) object {
	properties := object{}
	var required []string
	for i := range fields {
		f := &fields[i]
		properties[f.Key] = f.schema(id)
		if f.Required {
			required = append(required, f.Key)
		}
	}
	s := object{"type": "object", "properties": properties, "additionalProperties": false}
	if required != nil {
		s["required"] = required
	}
	return s
}

// schema describes one value; id is the analyte that it is of, if that is
// known from the key above it.
func (f *Field) schema(id *water.ID) object {
	s := f.bare(id)
	if f.Doc != "" {
		s["description"] = f.Doc
	}
	return s
}

func pattern(p string) object { return object{"type": "string", "pattern": p} }

func (f *Field) bare(id *water.ID) object {
	switch f.Type {
	case TypeRef:
		one := pattern(idPattern)
		for _, k := range f.To {
			if k == KindLot {
				one = pattern(lotPattern)
			}
		}
		if slices.Contains(f.To, KindSettings) {
			one = object{"anyOf": []any{one, object{"const": SettingsFile}}}
		}
		if f.Fields != nil {
			return object{"anyOf": []any{one, mappingSchema(f.Fields, id)}}
		}
		return one
	case TypeDate:
		return pattern(datePattern)
	case TypeMonth:
		return pattern(monthPattern)
	case TypeTime:
		return pattern(timePattern)
	case TypeDateOrTime:
		return object{"anyOf": []any{pattern(datePattern), pattern(timePattern)}}
	case TypeChoice:
		if f.Key == "substance" {
			return object{"enum": substanceKeys()}
		}
		return object{"enum": f.Choices}
	case TypeNumber:
		return object{"type": "number"}
	case TypeInteger:
		return object{"type": "integer", "minimum": 0}
	case TypeFlag:
		return object{"type": "boolean"}
	case TypeAnalyteName:
		return object{"enum": water.AnalyteKeys()}
	case TypeValueName:
		return object{"enum": water.Keys()}
	case TypeAccuracy, TypeText:
		return object{"type": []any{"string", "number", "boolean"}} // a bare 0.15 or a name such as 2026 is a number to a YAML reader
	case TypeDigest:
		return pattern(digestPattern)
	case TypePlace:
		return object{"type": "array", "prefixItems": []any{object{"type": "number", "minimum": -90, "maximum": 90}, object{"type": "number", "minimum": -180, "maximum": 180}}, "minItems": 2, "maxItems": 2}
	case TypeReading:
		one := readingSchema(id)
		if f.Fields == nil {
			return one
		}
		long := mappingSchema(f.Fields, id)
		long["properties"].(object)["value"] = object{"anyOf": []any{one, object{"type": "array", "items": one, "minItems": 1}}}
		return object{"anyOf": []any{one, object{"type": "array", "items": one, "minItems": 1}, long}}
	case TypeQuantity:
		return pattern(quantityPattern(familyPattern(f.Families)))
	case TypeAmount:
		return object{"anyOf": []any{pattern(`^` + numberPattern + `\s?(` + familyPattern(f.Families) + `)$`), mappingSchema(f.Fields, id)}}
	case TypeUnitName:
		return pattern(`^(` + familyPattern(nil) + `)$`)
	case TypeMap:
		return mappingSchema(f.Fields, id)
	case TypeList:
		return object{"type": "array", "items": f.Of.schema(id)}
	case TypeOneOrList:
		of := f.Of.schema(id)
		return object{"anyOf": []any{of, object{"type": "array", "items": of}}}
	case TypeRuleSetting:
		return object{"anyOf": []any{object{"enum": severities}, object{"type": "object", "properties": object{"severity": object{"enum": severities}}}}}
	case TypeDict:
		return f.dictSchema()
	}
	return object{"type": "string"}
}

func (f *Field) dictSchema() object {
	var names []string
	switch f.Keys {
	case AnalyteKey:
		names = water.AnalyteKeys()
	case ValueKey:
		names = water.Keys()
	case TargetKey:
		names = append(water.Keys(), "mash_pH")
	case SubstanceKey:
		names = substanceKeys()
	case HouseKey:
		return object{"type": "object", "patternProperties": object{"^" + HousePrefix + idPattern[1:]: f.Of.schema(nil)}, "additionalProperties": false}
	case RuleKey:
		return object{"type": "object", "additionalProperties": f.Of.schema(nil), "$comment": ruleMark}
	default:
		return object{"type": "object", "additionalProperties": f.Of.schema(nil)}
	}
	properties := object{}
	for _, name := range names {
		if id, ok := water.Lookup(name); ok && f.Keys != SubstanceKey {
			s := f.Of.schema(&id)
			s["description"] = id.Info().Doc
			properties[name] = s
			continue
		}
		properties[name] = f.Of.schema(nil)
	}
	return object{"type": "object", "properties": properties, "additionalProperties": false}
}

// readingSchema is a written quantity: a bare number where the analyte has no
// unit, else a number with one of the units that fit.
func readingSchema(id *water.ID) object {
	if id == nil {
		return object{"type": []any{"string", "number"}}
	}
	info := id.Info()
	if info.Unit.IsNone() {
		return object{"anyOf": []any{object{"type": "number"}, pattern(`^[<>]?` + numberPattern + `( ± ` + numberPattern + `)?$`)}}
	}
	var examples []string
	for _, u := range info.Units() {
		if examples = append(examples, "84 "+u.String()); len(examples) == 4 {
			break
		}
	}
	var heads []string
	for _, u := range info.Units() {
		heads = append(heads, u.Spellings()...)
	}
	return object{"type": "string", "pattern": quantityPattern(unitPattern(heads)), "examples": examples,
		"description": "a number with its unit: " + strings.Join(examples, ", ")}
}

// quantityPattern is a number, with a half-width or without, and a unit.
func quantityPattern(unit string) string {
	return `^[<>]?\s?` + numberPattern + `(\s?(±|\+/-)\s?` + numberPattern + `)?\s?(` + unit + `)$`
}

// familyPattern is a pattern of the units of some families; of all where none is named.
func familyPattern(families []water.Family) string {
	var heads []string
	for _, name := range water.UnitNames() {
		if u, ok := water.ParseUnit(name); ok && (len(families) == 0 || slices.Contains(families, u.Family())) {
			heads = append(heads, u.Spellings()...)
		}
	}
	return unitPattern(heads)
}

// signs are the characters of a unit that people write in several ways.
var signs = map[rune]string{'u': "[uUµμ]", 'o': "[oO°º˚]", '2': "[2²]", '3': "[3³]", '-': "[-−⁻]", '1': "[1¹]", ' ': "[ _]?", '_': "[ _]?", '.': `[.·]`, '/': "( ?[/⁄∕] ?| ?per )"}

// unitPattern is a regular expression (ECMA 262) of units in any case, each with a basis or
// without: "mg/L", "mg/l as CaCO3", "mg/L{CaCO3}".
func unitPattern(heads []string) string {
	slices.Sort(heads)
	var parts []string
	for _, head := range slices.Compact(heads) {
		var b strings.Builder
		for _, r := range head {
			lower, upper := unicode.ToLower(r), unicode.ToUpper(r)
			switch sign, ok := signs[lower]; {
			case ok:
				b.WriteString(sign)
			case lower != upper:
				b.WriteString("[" + string(lower) + string(upper) + "]")
			default:
				b.WriteString(regexp.QuoteMeta(string(r)))
			}
		}
		parts = append(parts, b.String())
	}
	return "(" + strings.Join(parts, "|") + `)([ _{(\[].*)?`
}

// ruleMark is where the schemas of rules go.
const ruleMark = "rules"

// ruleSchemas are the settings of each rule.
func ruleSchemas(rules []RuleDoc) object {
	properties := object{}
	for _, r := range rules {
		settings := object{"severity": object{"enum": severities}}
		for key, doc := range r.Settings {
			settings[key] = object{"type": []any{"string", "number"}, "description": doc}
		}
		properties[r.Name] = object{"description": r.Title, "anyOf": []any{object{"enum": severities}, object{"type": "object", "properties": settings, "additionalProperties": false}}}
	}
	names := object{}
	for _, r := range rules {
		names[r.Name] = object{"type": "string", "description": "why it does not matter here: " + r.Title}
	}
	house := "^" + HousePrefix + idPattern[1:]
	return object{
		"lint":   object{"type": "object", "properties": properties, "patternProperties": object{house: object{"enum": severities}}, "additionalProperties": false},
		"ignore": object{"type": "object", "properties": names, "patternProperties": object{house: object{"type": "string"}}, "additionalProperties": false},
	}
}

// useRules puts the rules in the places that are marked for them.
func useRules(v any) {
	switch v := v.(type) {
	case []any:
		for _, item := range v {
			useRules(item)
		}
	case object:
		for key, item := range v {
			if o, ok := item.(object); ok && o["$comment"] == ruleMark {
				ref := "#/$defs/ignore"
				if key == "lint" {
					ref = "#/$defs/lint"
				}
				v[key] = object{"$ref": ref, "description": o["description"]}
				continue
			}
			useRules(item)
		}
	}
}
