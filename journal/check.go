package journal

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"wj/journal/frontmatter"
	"wj/water"
	"wj/water/substance"
)

// Problem is something that is wrong with the form of a record, with its place.
type Problem struct {
	Rule       string
	Path       string
	Start, End int // bytes in the file
	Line       int // from 1
	Column     int // from 1, in characters
	Message    string
	Help       string
	Warning    bool              // the record can still be used as it is
	Fix        *frontmatter.Edit // the one way to mend it, where there is one
	Unsafe     bool              // the fix touches a reading's value
}

// Index knows which records exist, so that references can be checked.
type Index interface {
	// Exists reports whether a record of the kind has the id.
	Exists(Kind, string) bool
	// IDs lists the ids of a kind.
	IDs(Kind) []string
}

// The rules that the form of a record can break.
const (
	RuleUnknownKey   = "format/unknown-key"
	RuleMissingKey   = "format/missing-key"
	RuleValue        = "format/value"
	RuleNumber       = "format/number"
	RuleDecimalComma = "format/decimal-comma"
	RuleDate         = "format/date"
	RuleID           = "format/id"
	RuleReference    = "ref/missing"
	RuleUnitMissing  = "unit/missing"
	RuleUnitKind     = "unit/kind"
	RuleUnitBasis    = "unit/basis"
)

// checker walks a document beside the schema of its kind.
type checker struct {
	d     *frontmatter.Document
	path  string
	index Index // nil: references are not checked
	out   []Problem
}

// Check compares a parsed file with the schema of its kind and returns all that
// is wrong with it, the parser's own problems first.
func Check(d *frontmatter.Document, kind Kind, path string, index Index) []Problem {
	c := checker{d: d, path: path, index: index}
	for _, p := range d.Problems {
		c.out = append(c.out, c.place(Problem{Rule: p.Rule, Start: p.Start, End: p.End, Message: p.Message, Help: p.Help, Warning: p.Warning, Fix: p.Fix}))
	}
	if d.OK() {
		c.mapping(0, kind.Fields(), context{kind: kind})
	}
	return c.out
}

// context is what a field's meaning depends on.
type context struct {
	kind    Kind
	analyte water.ID
	known   bool // analyte is set
	reading bool // inside a session's readings
}

func (c *checker) place(p Problem) Problem {
	p.Path = c.path
	p.Line, p.Column = c.d.Position(p.Start)
	return p
}

func (c *checker) report(rule string, node int32, message, help string) *Problem {
	n := c.d.Nodes[node]
	start, end := int(n.Start), int(n.End)
	if start == end && n.KeyStart >= 0 {
		start, end = int(n.KeyStart), int(n.KeyEnd)
	}
	c.out = append(c.out, c.place(Problem{Rule: rule, Start: start, End: end, Message: message, Help: help}))
	return &c.out[len(c.out)-1]
}

func (c *checker) reportKey(rule string, node int32, message, help string) *Problem {
	n := c.d.Nodes[node]
	c.out = append(c.out, c.place(Problem{Rule: rule, Start: int(n.KeyStart), End: int(n.KeyEnd), Message: message, Help: help}))
	return &c.out[len(c.out)-1]
}

// mapping checks the keys of a mapping with fixed fields.
func (c *checker) mapping(node int32, fields []Field, ctx context) {
	if c.d.Nodes[node].Kind != frontmatter.Mapping {
		c.report(RuleValue, node, "here stands "+c.d.Nodes[node].Kind.String()+" where keys are needed", "write one of "+nameList(fields))
		return
	}
	var seen uint64
	for i := c.d.Nodes[node].First; i != 0; i = c.d.Nodes[i].Next {
		at := fieldIndex(fields, c.d.KeyBytes(i))
		if at < 0 {
			c.unknownKey(i, fieldNames(fields), ctx)
			continue
		}
		seen |= 1 << at
		if ctx.reading && c.splitByComma(i) {
			i = c.d.Nodes[i].Next
			continue
		}
		c.value(i, &fields[at], ctx)
	}
	for i := range fields {
		if fields[i].Required && seen&(1<<i) == 0 {
			f := &fields[i]
			message := fmt.Sprintf("%s is missing", f.Key)
			if node == 0 {
				c.out = append(c.out, c.place(Problem{Rule: RuleMissingKey, Start: c.d.Front, End: c.d.Front, Message: message, Help: "add " + f.Key + ": " + f.Doc}))
			} else {
				c.report(RuleMissingKey, node, message, "add "+f.Key+": "+f.Doc)
			}
		}
	}
}

func fieldIndex(fields []Field, key []byte) int {
	for i := range fields {
		if fields[i].Key == string(key) {
			return i
		}
	}
	return -1
}

func fieldNames(fields []Field) []string {
	names := make([]string, len(fields))
	for i := range fields {
		names[i] = fields[i].Key
	}
	return names
}

func nameList(fields []Field) string {
	names := fieldNames(fields)
	if len(names) > 6 {
		names = append(names[:6:6], "…")
	}
	return strings.Join(names, ", ")
}

// misspellings are other spellings of analytes that people use; the hint names
// ours. IUPAC spells sulfate with f.
var misspellings = map[string]string{
	"sulphate": "sulfate", "sulfates": "sulfate", "so4": "sulfate", "SO4": "sulfate", "chlorides": "chloride", "Cl": "chloride", "ph": "pH", "PH": "pH", "Ph": "pH",
	"hardness": "total_hardness", "ec": "conductivity", "EC": "conductivity", "tds": "dissolved_solids", "TDS": "dissolved_solids", "Ca": "calcium", "Mg": "magnesium",
	"Na": "sodium", "K": "potassium", "natrium": "sodium", "kalium": "potassium", "HCO3": "bicarbonate", "hydrogencarbonate": "bicarbonate", "NO3": "nitrate", "temp": "temperature",
	"sulphur": "sulfate", "aluminium": "", "chlorine": "free_chlorine",
}

func (c *checker) unknownKey(node int32, known []string, ctx context) {
	key := c.d.Key(node)
	message := fmt.Sprintf("%q is not a key here", key)
	near := misspellings[key]
	if near != "" && !slices.Contains(known, near) {
		near = ""
	}
	if near == "" {
		near = water.Nearest(key, known)
	}
	help := ""
	switch {
	case near != "":
		help = "did you mean " + near + "?"
	case strings.TrimSpace(key) == "" || isDigit(key[0]):
		help = "a comma inside { } separates keys: write a decimal point, or put the value in quotes"
	default:
		help = "known keys: " + strings.Join(shorten(known, 12), ", ")
	}
	for _, r := range key {
		if near != "" && r >= utf8.RuneSelf { // all keys are ASCII: a Cyrillic or full-width letter looks right and is not
			help += fmt.Sprintf(" U+%04X stands here, which is no letter of it", r)
			break
		}
	}
	p := c.reportKey(RuleUnknownKey, node, message, help)
	if misspellings[key] == near && near != "" && !strings.EqualFold(key, "hardness") {
		n := c.d.Nodes[node]
		p.Fix = &frontmatter.Edit{Start: int(n.KeyStart), End: int(n.KeyEnd), New: near}
		if key != "sulphate" {
			p.Unsafe = true
		}
	}
}

func shorten(names []string, n int) []string {
	if len(names) > n {
		return append(names[:n:n], "…")
	}
	return names
}

// splitByComma reports {value: 7,42 mg/L}, where the flow mapping reads the
// digits after a decimal comma as a key of its own.
func (c *checker) splitByComma(node int32) bool {
	n := c.d.Nodes[node]
	if n.Next == 0 || n.Kind != frontmatter.Scalar {
		return false
	}
	return c.comma(int(n.Start), int(n.End), int(c.d.Nodes[n.Next].KeyStart), int(c.d.Nodes[n.Next].KeyEnd))
}

// comma reports a decimal comma between two pieces of the source that stand
// side by side.
func (c *checker) comma(start, end, next, nextEnd int) bool {
	src := c.d.Source
	if next != end+1 || src[end] != ',' || !isDigit(src[end-1]) || !isDigit(src[next]) {
		return false
	}
	whole, part := string(src[start:end]), string(src[next:nextEnd])
	if _, ok := parsePlain(strings.TrimLeft(whole, "<")); !ok || strings.Contains(whole, ".") {
		return false
	}
	p := Problem{Rule: RuleDecimalComma, Start: start, End: nextEnd, Message: fmt.Sprintf("\"%s,%s\" has a comma in a number", whole, part), Help: "write a decimal point: " + whole + "." + part}
	n := 0
	for n < len(part) && isDigit(part[n]) {
		n++
	}
	if n != 3 || whole == "0" {
		p.Fix = &frontmatter.Edit{Start: end, End: next, New: "."}
	}
	c.out = append(c.out, c.place(p))
	return true
}

// value checks one value against its field.
func (c *checker) value(node int32, f *Field, ctx context) {
	n := &c.d.Nodes[node]
	if n.Kind == frontmatter.Scalar && n.Start == n.End {
		c.report(RuleValue, node, f.label()+" has no value", "write "+f.Doc+", or remove the key")
		return
	}
	switch f.Type {
	case TypeMap:
		c.mapping(node, f.Fields, ctx)
		return
	case TypeDict:
		c.dict(node, f, ctx)
		return
	case TypeList, TypeOneOrList:
		if n.Kind == frontmatter.Sequence {
			for i := n.First; i != 0; i = c.d.Nodes[i].Next {
				c.value(i, f.Of, ctx)
			}
			return
		}
		if f.Type == TypeList {
			c.report(RuleValue, node, f.label()+" must be a list", "write the items between [ ], or each on its line after a dash")
			return
		}
		c.value(node, f.Of, ctx)
		return
	case TypePlace:
		c.coordinates(node, f)
		return
	case TypeReading, TypeAmount:
		if n.Kind == frontmatter.Mapping && f.Fields != nil {
			c.mapping(node, f.Fields, ctx)
			return
		}
		if n.Kind == frontmatter.Sequence && ctx.reading {
			for i := n.First; i != 0; i = c.d.Nodes[i].Next {
				if m, next := c.d.Nodes[i], c.d.Nodes[i].Next; next != 0 && m.Kind == frontmatter.Scalar && m.Style == frontmatter.Plain &&
					!strings.ContainsAny(c.d.Text(i), " %") && c.comma(int(m.Start), int(m.End), int(c.d.Nodes[next].Start), int(c.d.Nodes[next].End)) {
					i = next
					continue
				}
				c.scalar(i, f, ctx)
			}
			return
		}
	case TypeRuleSetting:
		if n.Kind == frontmatter.Mapping {
			return // thresholds: the rule knows its own
		}
	}
	c.scalar(node, f, ctx)
}

func (f *Field) label() string {
	if f.Key == "" {
		return "the value"
	}
	return f.Key
}

func (c *checker) dict(node int32, f *Field, ctx context) {
	if c.d.Nodes[node].Kind != frontmatter.Mapping {
		c.report(RuleValue, node, f.label()+" must be keys with values", "write each as `key: value` on its own line")
		return
	}
	for i := c.d.Nodes[node].First; i != 0; i = c.d.Nodes[i].Next {
		inner := ctx
		inner.reading = ctx.kind == KindSession && f.Key == "readings"
		key := c.d.Key(i)
		switch f.Keys {
		case AnalyteKey, ValueKey, TargetKey:
			id, ok := water.Lookup(key)
			if f.Keys == TargetKey && key == "mash_pH" {
				id, ok = water.PHValue, true
			}
			if ok && f.Keys == AnalyteKey && id >= water.NumAnalytes {
				c.reportKey(RuleUnknownKey, i, fmt.Sprintf("%q is computed, never a reading", key), "remove the line: the program derives it from the readings")
				continue
			}
			if !ok {
				known := water.AnalyteKeys()
				if f.Keys != AnalyteKey {
					known = water.Keys()
				}
				c.unknownKey(i, known, inner)
				continue
			}
			inner.analyte, inner.known = id, true
		case SubstanceKey:
			if _, ok := substance.ByKey(key); !ok {
				c.unknownSubstance(i, key)
				continue
			}
		case PathKey:
			if !safePath(key) {
				c.reportKey(RuleValue, i, fmt.Sprintf("%q is no file of this journal", key), "write the path from the journal's root, with forward slashes")
				continue
			}
		}
		c.value(i, f.Of, inner)
	}
}

func (c *checker) unknownSubstance(node int32, key string) {
	help := ""
	known := substanceKeys()
	if forms := formsOf(key, known); len(forms) > 0 {
		c.reportKey("additive/form", node, fmt.Sprintf("%q does not say which form", key), "write which: "+strings.Join(forms, ", ")+"; the ions per gram differ up to twofold")
		return
	}
	if near := water.Nearest(key, known); near != "" {
		help = "did you mean " + near + "?"
	} else {
		help = "known: " + strings.Join(known, ", ")
	}
	c.reportKey(RuleUnknownKey, node, fmt.Sprintf("%q is not a known salt, acid or base", key), help)
}

func substanceKeys() []string {
	all := substance.All()
	keys := make([]string, len(all))
	for i := range all {
		keys[i] = all[i].Key
	}
	return keys
}

// formsOf lists the substances that a bare name could mean: the hydrates and
// the anhydrous form.
func formsOf(name string, known []string) []string {
	var forms []string
	for _, k := range known {
		if strings.HasPrefix(k, name+"_") {
			forms = append(forms, k)
		}
	}
	if name == "magnesium_sulfate" {
		forms = append(forms, "epsom_salt")
	}
	return forms
}

// safePath accepts relative paths with forward slashes and no way out.
func safePath(p string) bool {
	if p == "" || strings.HasPrefix(p, "/") || strings.Contains(p, "\\") {
		return false
	}
	for _, part := range strings.Split(p, "/") {
		if part == "" || part == "." || part == ".." || strings.EqualFold(part, ".git") {
			return false
		}
	}
	return true
}

func (c *checker) coordinates(node int32, f *Field) {
	n := &c.d.Nodes[node]
	var v [2]float64
	count := 0
	if n.Kind == frontmatter.Sequence {
		for i := n.First; i != 0; i = c.d.Nodes[i].Next {
			x, ok := parsePlain(c.d.Text(i))
			if !ok || count == 2 {
				count = -1
				break
			}
			v[count] = x
			count++
		}
	}
	if count != 2 || v[0] < -90 || v[0] > 90 || v[1] < -180 || v[1] > 180 {
		c.report(RuleValue, node, f.label()+" is not a latitude and a longitude", "write [latitude, longitude] in degrees with decimal points, such as [54.6872, 25.2797]")
	}
}

// scalar checks one written value.
func (c *checker) scalar(node int32, f *Field, ctx context) {
	n := &c.d.Nodes[node]
	if n.Kind != frontmatter.Scalar {
		c.report(RuleValue, node, "here stands "+n.Kind.String()+" where "+f.label()+" needs one value", "write "+f.Doc)
		return
	}
	s := c.d.Text(node)
	switch f.Type {
	case TypeText:
	case TypeRuleSetting:
		if !slices.Contains(severities, s) {
			c.report(RuleValue, node, fmt.Sprintf("%q is no severity", s), "write error, warning, info or off")
		}
	case TypeRef:
		c.reference(node, s, f.To)
	case TypeDate:
		_, err := ParseDate(s)
		c.timeError(node, err)
	case TypeMonth:
		_, err := ParseMonth(s)
		c.timeError(node, err)
	case TypeTime:
		_, err := ParseTime(s)
		c.timeError(node, err)
	case TypeDateOrTime:
		if _, err := ParseTime(s); err != nil {
			if _, err := ParseDate(s); err != nil {
				c.timeError(node, err)
			}
		}
	case TypeChoice:
		choices := f.Choices
		if f.Key == "substance" {
			choices = substanceKeys()
		}
		if !slices.Contains(choices, s) {
			help := "one of " + strings.Join(choices, ", ")
			if near := water.Nearest(s, choices); near != "" {
				help = "did you mean " + near + "? " + help
			}
			c.report(RuleValue, node, fmt.Sprintf("%q is no %s", s, f.label()), help)
		}
	case TypeNumber:
		if _, ok := parsePlain(s); !ok {
			if err := quantityError(s); err != nil && err.Fault == water.FaultDecimalComma {
				c.quantityProblem(node, s, err, ctx)
				return
			}
			c.report(RuleNumber, node, fmt.Sprintf("%q is not a plain number", s), "write digits with a decimal point and no unit, such as 2 or 2.5")
		}
	case TypeInteger:
		if _, ok := digits(s); !ok || s == "" || len(s) > 9 {
			c.report(RuleNumber, node, fmt.Sprintf("%q is not a whole number", s), "write digits only")
		}
	case TypeFlag:
		if s != "true" && s != "false" {
			c.report(RuleValue, node, fmt.Sprintf("%q is neither true nor false", s), "write true or false")
		}
	case TypeAnalyteName:
		if _, ok := water.LookupAnalyte(s); !ok {
			help := "known: " + strings.Join(water.AnalyteKeys(), ", ")
			if near := water.Nearest(s, water.AnalyteKeys()); near != "" {
				help = "did you mean " + near + "?"
			}
			c.report(RuleValue, node, fmt.Sprintf("%q is no analyte", s), help)
		}
	case TypeUnitName:
		u, ok := water.ParseUnit(s)
		if !ok {
			c.quantityProblem(node, s, quantityError("1 "+s), ctx)
			return
		}
		if ctx.known {
			if err := ctx.analyte.Info().FitUnit(u); err != nil {
				c.quantityProblem(node, s, asQuantityError(err), ctx)
			}
		}
	case TypeDigest:
		if !isDigest(s) {
			c.report(RuleValue, node, fmt.Sprintf("%q is no SHA-256", short(s)), "write the 64 hexadecimal digits that sha256sum prints")
		}
	case TypeAccuracy:
		if _, err := ParseAccuracy(s, ctx.analyte); err != nil {
			c.report(RuleValue, node, err.Error(), "write the 95 % half-width, such as 5 mg/L CaCO3 + 5 %")
		}
	case TypeQuantity, TypeAmount:
		c.quantity(node, s, f, ctx)
	case TypeReading:
		q, err := water.ParseQuantity(s)
		if err != nil {
			c.quantityProblem(node, s, asQuantityError(err), ctx)
			return
		}
		if ctx.known {
			if err := ctx.analyte.Info().Fit(q); err != nil {
				c.quantityProblem(node, s, asQuantityError(err), ctx)
			}
		}
	}
}

var severities = []string{"error", "warning", "info", "off"}

func short(s string) string {
	if len(s) > 20 {
		return s[:20] + "…"
	}
	return s
}

func isDigest(s string) bool {
	if len(s) != 64 {
		return false
	}
	for i := 0; i < len(s); i++ {
		if !isDigit(s[i]) && (s[i] < 'a' || s[i] > 'f') {
			return false
		}
	}
	return true
}

func (c *checker) timeError(node int32, err error) {
	if err == nil {
		return
	}
	var te *TimeError
	if errors.As(err, &te) {
		c.report(RuleDate, node, te.Message, te.Help)
	}
}

func (c *checker) reference(node int32, id string, to []Kind) {
	if !ValidID(id, to...) {
		c.report(RuleReference, node, fmt.Sprintf("%q is no record id", short(id)), "an id is the file name without .md: lower-case letters, digits and hyphens")
		return
	}
	if c.index == nil {
		return
	}
	for _, k := range to {
		if c.index.Exists(k, id) {
			return
		}
	}
	var known []string
	for _, k := range to {
		known = append(known, c.index.IDs(k)...)
	}
	what := "record"
	if len(to) == 1 {
		what = to[0].String()
	}
	help := ""
	if near := water.Nearest(id, known); near != "" {
		help = "did you mean " + near + "?"
	} else if len(to) == 1 {
		help = fmt.Sprintf("write %s/%s.md first", to[0].Folder(), id)
	}
	for _, k := range Kinds() {
		if c.index.Exists(k, id) {
			help = fmt.Sprintf("%s is a %s, not a %s", id, k, what)
		}
	}
	c.report(RuleReference, node, fmt.Sprintf("there is no %s %q", what, id), help)
}

// ValidID reports whether s can be the id of a record of the kinds: lower-case
// letters, digits and hyphens; lots may have upper case.
func ValidID(s string, kinds ...Kind) bool {
	if s == "" || len(s) > 120 || s[0] == '-' {
		return false
	}
	upper := false
	for _, k := range kinds {
		upper = upper || k == KindLot
	}
	for i := 0; i < len(s); i++ {
		c := s[i]
		if !('a' <= c && c <= 'z' || isDigit(c) || c == '-' || upper && 'A' <= c && c <= 'Z') {
			return false
		}
	}
	return true
}

func (c *checker) quantity(node int32, s string, f *Field, ctx context) {
	q, err := water.ParseQuantity(s)
	if err != nil {
		c.quantityProblem(node, s, asQuantityError(err), ctx)
		return
	}
	if len(f.Families) == 0 {
		return
	}
	for _, family := range f.Families {
		if q.Unit.Family() == family {
			return
		}
	}
	want := make([]string, len(f.Families))
	for i, family := range f.Families {
		want[i] = family.String()
	}
	rule, message := RuleUnitKind, fmt.Sprintf("%s is a %s, not %s", s, q.Unit.Family(), strings.Join(want, " or "))
	if q.Unit.IsNone() {
		rule, message = RuleUnitMissing, fmt.Sprintf("%s has no unit", s)
	}
	c.report(rule, node, message, "write "+example(f.Families[0]))
}

func example(f water.Family) string {
	switch f {
	case water.Mass:
		return "a mass such as 180 g"
	case water.Volume:
		return "a volume such as 140 mL, 1200 L or 15 hL"
	case water.Fraction:
		return "a share such as 40 %"
	case water.Duration:
		return "a time such as 20 s, 15 min, 24 h or 30 d"
	case water.Length:
		return "a distance such as 250 m"
	case water.Temperature:
		return "a temperature such as 20 degC"
	}
	return "a number with its unit"
}

func asQuantityError(err error) *water.QuantityError {
	var q *water.QuantityError
	if errors.As(err, &q) {
		return q
	}
	return &water.QuantityError{Message: err.Error()}
}

func quantityError(s string) *water.QuantityError {
	if _, err := water.ParseQuantity(s); err != nil {
		return asQuantityError(err)
	}
	return nil
}

var faultRules = map[water.Fault]string{
	water.FaultNumber: RuleNumber, water.FaultDecimalComma: RuleDecimalComma, water.FaultUnit: RuleUnitKind,
	water.FaultNoUnit: RuleUnitMissing, water.FaultKind: RuleUnitKind, water.FaultBasis: RuleUnitBasis, water.FaultSign: RuleNumber,
}

func (c *checker) quantityProblem(node int32, s string, e *water.QuantityError, ctx context) {
	if e == nil {
		return
	}
	message := e.Message
	if (e.Fault == water.FaultNoUnit || e.Fault == water.FaultKind || e.Fault == water.FaultBasis) && ctx.known {
		message = fmt.Sprintf("%s: %s", s, e.Message)
	}
	p := c.report(faultRules[e.Fault], node, message, e.Help)
	if e.Fix != "" {
		p.Fix = ptr(frontmatter.SetScalar(c.d, node, e.Fix))
	}
}

func ptr[T any](v T) *T { return &v }

// ParseAccuracy reads a promise of accuracy, such as "5 mg/L CaCO3 + 8 %": one
// or two parts, in units that fit the analyte or in percent.
func ParseAccuracy(s string, id water.ID) (water.Accuracy, error) {
	var a water.Accuracy
	info := id.Info()
	for _, part := range strings.Split(s, "+") {
		q, err := water.ParseQuantity(part)
		if err != nil {
			return a, fmt.Errorf("%q is no accuracy: %w", s, err)
		}
		if q.Bound != water.Exact || q.Expanded != 0 || q.Value < 0 {
			return a, fmt.Errorf("%q is no accuracy", s)
		}
		if q.Unit == water.Percent {
			a.Relative += q.Value / 100
			continue
		}
		if err := info.Fit(q); err != nil {
			return a, fmt.Errorf("%q is no accuracy: %w", s, err)
		}
		if info.Unit.Family() == water.Temperature {
			a.Absolute += q.Value * q.Unit.Scale()
			continue
		}
		a.Absolute += info.Standard(q)
	}
	return a, nil
}
