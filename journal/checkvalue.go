package journal

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"wj/journal/frontmatter"
	"wj/water"
	"wj/water/spelling"
	"wj/water/substance"
)

// value checks one value against its field.
func (c *checker) value(node int32, f *Field, ctx context) {
	n := &c.d.Nodes[node]
	if n.Kind == frontmatter.Scalar && n.Start == n.End {
		c.report(RuleValue, node, f.label()+" has no value", "write "+f.Doc+", or remove the key")
		return
	}
	if f.Key == "email" && n.Kind == frontmatter.Scalar && !strings.Contains(c.d.Text(node), "@") {
		c.report(RuleValue, node, fmt.Sprintf("%q is no address", c.d.Text(node)), "write it as name@place")
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
	case TypeRef:
		if n.Kind == frontmatter.Mapping && f.Fields != nil {
			c.mapping(node, f.Fields, ctx)
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
		case HouseKey:
			if name, ok := strings.CutPrefix(key, HousePrefix); !ok || !ValidID(name, KindSite) {
				c.reportKey(RuleValue, i, fmt.Sprintf("%q is no name of a house rule", key), "write house/ and a word in lower case, such as house/iron")
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
	known := substanceKeys()
	if forms := formsOf(key, known); len(forms) > 0 {
		c.reportKey("additive/form", node, fmt.Sprintf("%q does not say which form", key), "write which: "+strings.Join(forms, ", ")+"; the ions per gram differ up to twofold")
		return
	}
	p := c.reportKey(RuleUnknownKey, node, fmt.Sprintf("%q is not a known salt, acid or base", key), spelling.HintOr(key, known, "known: "+strings.Join(known, ", ")))
	n := c.d.Nodes[node]
	for _, name := range spelling.Meant(key, known) {
		p.Near = append(p.Near, frontmatter.Edit{Start: int(n.KeyStart), End: int(n.KeyEnd), New: name})
	}
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
		c.report(RuleValue, node, "here is "+n.Kind.String()+" where "+f.label()+" needs one value", "write "+f.Doc)
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
			if forms := formsOf(s, choices); f.Key == "substance" && len(forms) > 0 {
				help = "write which: " + strings.Join(forms, ", ") + "; the ions per gram differ up to twofold"
			} else if near := spelling.Hint(s, choices); near != "" {
				help = near + " " + help
			}
			c.meant(c.report(RuleValue, node, fmt.Sprintf("%q is no %s", s, f.label()), help), node, s, choices)
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
			known := water.AnalyteKeys()
			c.meant(c.report(RuleValue, node, fmt.Sprintf("%q is no analyte", s), spelling.HintOr(s, known, "known: "+strings.Join(known, ", "))), node, s, known)
		}
	case TypeUnitName:
		u, ok := water.ParseUnit(s)
		if !ok {
			if e := quantityError("1 " + s); e != nil {
				e.Start, e.End = e.Start-2, e.End-2
				c.quantityProblem(node, s, e, ctx)
			}
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
			help := "write the 95 % half-width, such as 5 mg/L CaCO3 + 5 %"
			if bare := strings.TrimLeft(s, "±+- "); bare != s {
				if _, err := ParseAccuracy(bare, ctx.analyte); err == nil {
					help = "leave the sign away: " + bare
				}
			}
			c.report(RuleValue, node, err.Error(), help)
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
	if id == SettingsFile && slices.Contains(to, KindSettings) {
		return
	}
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
	help := spelling.Hint(id, known)
	if help == "" && len(to) == 1 {
		help = fmt.Sprintf("write %s/%s.md first", to[0].Folder(), id)
	}
	for _, k := range Kinds() {
		if c.index.Exists(k, id) {
			help = fmt.Sprintf("%s is a %s, not a %s", id, k, what)
		}
	}
	c.meant(c.report(RuleReference, node, fmt.Sprintf("there is no %s %q", what, id), help), node, id, known)
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
