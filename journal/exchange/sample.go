package exchange

import (
	"fmt"
	"slices"
	"strings"
	"sync"

	"wj/journal"
	"wj/render"
	"wj/water/spelling"
)

// of reads a text that all rows share or that a column holds.
func (v *valueSource) of(l *Line) (text string, ok bool) {
	if !v.column.set() {
		return v.text, true
	}
	text = l.cell(v.column.n).Text
	if mapped, found := v.values[text]; found {
		return mapped, true
	}
	return text, v.values == nil
}

// session reads what a row says of its sample.
func (im *importer) session(l *Line) (in *incoming, faults []located, skipped string) {
	in = &incoming{}
	m := im.m
	bad := func(v *valueSource, help, format string, args ...any) {
		where := 0
		if v.column.set() {
			where = v.column.n + 1
		}
		faults = append(faults, located{where, faultf(help, format, args...)})
	}
	var ok bool
	in.source, ok = m.Source.of(l)
	if s := in.source; !ok || !slices.Contains(journal.Names(journal.Sources), s) {
		bad(&m.Source, "sources are bench, lab and utility; explain the file's words under values", "%q is no source", s)
	}
	if in.laboratory, ok = m.Laboratory.of(l); !ok {
		bad(&m.Laboratory, "explain it under values", "the laboratory %q is not in the map", in.laboratory)
	}
	in.sample = journal.SampleRoutine
	if m.Sample.set() {
		if in.sample, ok = m.Sample.of(l); in.sample == "" {
			in.sample, ok = journal.SampleRoutine, true
		}
		if !ok || !slices.Contains(journal.Names(journal.SampleKinds), in.sample) {
			bad(&m.Sample, "kinds are "+strings.Join(journal.Names(journal.SampleKinds), ", ")+"; explain the file's words under values", "%q is no kind of sample", in.sample)
		}
	}
	in.by = im.opt.By
	if m.By.set() {
		in.by, ok = m.By.of(l)
		if !ok || !im.j.Exists(journal.KindPerson, in.by) {
			bad(&m.By, "explain it under values, or make a record in people/", "there is no person %q", in.by)
		}
	}
	if in.id, ok = m.ID.of(l); !ok {
		bad(&m.ID, "explain it under values", "the id %q is not in the map", in.id)
	}
	var f *fault
	var where int
	if in.site, where, f, skipped = im.site(l); skipped != "" {
		return nil, nil, skipped
	}
	if f != nil {
		faults = append(faults, located{where, f})
	}
	at, assumed, where, f := m.Sampled.moment(l)
	if f != nil {
		faults = append(faults, located{where + 1, f})
	}
	in.sampled = at
	in.notes = append(in.notes, assumed...)
	if m.Latitude.set() || m.Longitude.set() {
		if in.place, f = readPlace(l, m.Latitude, m.Longitude); f != nil {
			faults = append(faults, located{m.Latitude.n + 1, f})
		}
	}
	var group []string
	for _, c := range m.Group {
		group = append(group, l.cell(c.n).Text)
	}
	in.group = strings.Join(group, "\n")
	for _, c := range append(append([]column{}, m.Group...), m.Notes...) {
		if text := l.cell(c.n).Text; text != "" {
			in.notes = append(in.notes, render.Line(c.name)+": "+render.Line(text))
		}
	}
	if len(faults) > 0 {
		return nil, faults, ""
	}
	return in, nil, ""
}

// readPlace reads a latitude and a longitude; both may be empty.
func readPlace(l *Line, latitude, longitude column) (journal.Place, *fault) {
	a, b := l.cell(latitude.n).Text, l.cell(longitude.n).Text
	if a == "" && b == "" {
		return journal.Place{}, nil
	}
	read := func(s string, limit float64) (float64, bool) {
		var v float64
		n, err := fmt.Sscanf(strings.Replace(s, ",", ".", 1)+"\n", "%g\n", &v)
		return v, n == 1 && err == nil && v >= -limit && v <= limit
	}
	lat, ok1 := read(a, 90)
	lon, ok2 := read(b, 180)
	if !ok1 || !ok2 {
		return journal.Place{}, faultf("degrees on WGS 84 are needed; leave grid coordinates out of the map", "%q, %q is not a latitude and a longitude", a, b)
	}
	return journal.Place{Latitude: lat, Longitude: lon, Set: true}, nil
}

// site finds the site of a row, or plans a new one.
func (im *importer) site(l *Line) (id string, column int, f *fault, skipped string) {
	v := &im.m.Site
	if v.column.set() {
		column = v.column.n + 1
	}
	text, ok := v.of(l)
	switch {
	case text == "":
		return "", column, faultf("leave such rows out with skip: {column: …, empty: true}", "the site is empty"), ""
	case im.j.Exists(journal.KindSite, text):
		return text, column, nil, ""
	case im.names[strings.ToLower(text)] != "":
		return im.names[strings.ToLower(text)], column, nil, ""
	case !ok && v.skip:
		return "", column, nil, fmt.Sprintf("the map leaves out the site %q", text)
	}
	slug := Slug(text)
	if im.j.Exists(journal.KindSite, slug) {
		return slug, column, nil, ""
	}
	n := im.m.NewSites
	if n == nil {
		help := "explain it under site, values, or let the import make sites with new_sites: {owner: …, stage: …}"
		help = strings.TrimSpace(spelling.Hint(slug, im.j.IDs(journal.KindSite)) + " " + help)
		return "", column, faultf(help, "there is no site %q", text), ""
	}
	if slug == "" {
		return "", column, faultf("give it an id under site, values", "%q has no letter that an id could be made of", text), ""
	}
	if other, made := im.named[slug]; made && other != text {
		return "", column, faultf("give one of them another id under site, values", "%q would have the same id as %q", text, other), ""
	}
	if im.fresh[slug] == nil {
		site := &journal.Site{Record: journal.Record{Kind: journal.KindSite, ID: slug}, Name: text, Owner: n.owner, Stage: n.stage}
		if n.name.set() && l.cell(n.name.n).Text != "" {
			site.Name = l.cell(n.name.n).Text
		}
		if n.latitude.set() || n.longitude.set() {
			if site.Place, f = readPlace(l, n.latitude, n.longitude); f != nil {
				return "", n.latitude.n + 1, f, ""
			}
		}
		if f := checkPlanned(composeSite(site), known{im}); f != nil {
			return "", column, f, ""
		}
		im.fresh[slug], im.named[slug] = site, text
	}
	return slug, column, nil, ""
}

// Slug makes an id of a name: lower-case letters, digits and hyphens. Letters
// with marks lose them; what has no likeness becomes a hyphen.
func Slug(s string) string {
	var b strings.Builder
	hyphen := false
	for _, r := range strings.ToLower(s) {
		part := likeness()[r]
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			part = string(r)
		}
		if part == "" {
			hyphen = true
			continue
		}
		if hyphen && b.Len() > 0 {
			b.WriteByte('-')
		}
		hyphen = false
		b.WriteString(part)
	}
	out := b.String()
	if len(out) > 80 {
		out = strings.TrimRight(out[:80], "-")
	}
	return out
}

// likeness are Latin letters with marks and what stands for them in an id.
var likeness = sync.OnceValue(func() map[rune]string {
	m := map[rune]string{'ß': "ss", 'æ': "ae", 'œ': "oe", 'ø': "o", 'đ': "d", 'ð': "d", 'þ': "th", 'ł': "l", 'ı': "i"}
	for plain, marked := range map[string]string{"a": "àáâãäåāăą", "c": "çćĉċč", "d": "ď", "e": "èéêëēĕėęě", "g": "ĝğġģ", "h": "ĥ", "i": "ìíîïĩīĭį", "j": "ĵ", "k": "ķ", "l": "ĺļľ",
		"n": "ñńņň", "o": "òóôõöōŏő", "r": "ŕŗř", "s": "śŝşšș", "t": "ţťț", "u": "ùúûüũūŭůűų", "w": "ŵ", "y": "ýÿŷ", "z": "źżž"} {
		for _, r := range marked {
			m[r] = plain
		}
	}
	return m
})
