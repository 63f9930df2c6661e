// Package start writes what a new journal begins with: settings, the brewery, the first person,
// taps with a schedule, meters typed from their leaflets, and a page for whoever takes the
// journal over one day.
//
//	files, err := start.Files(start.Answers{Name: "Hill Brewery", Country: "LT", Timezone: "Europe/Vilnius"}, nil)
package start

import (
	"regexp"
	"slices"
	"strings"
	"sync"

	"wj/journal"
	"wj/journal/frontmatter"
	"wj/journal/merge"
	"wj/journal/writer"
	"wj/water"
	"wj/water/spelling"
)

// Answers are what a newcomer knows.
type Answers struct {
	Name, Country, Timezone string // the country as ISO 3166-1 writes it in two letters; "" where it is not said
	Person, FullName, Email string
	Taps                    []Tap
	Every                   string // how often the taps are tested, "30 d"; "" for no schedule
	Tests                   []string
	Meters                  []Meter
}

// Tap is a sampling point.
type Tap struct{ ID, Name, Stage string }

// Meter is an instrument as its leaflet has it.
type Meter struct {
	ID       string
	Template Template
	Measures []journal.Entry
}

// Template is a sort of meter and what it usually measures.
type Template struct {
	Key, Name, Sort string
	Tests           []string // analytes, with the unit that is usual
}

// Templates are sorts of meters, in the words of the trade.
var Templates = []Template{
	{"photometer", "Photometer", "photometer", []string{"pH", "alkalinity mg/L CaCO3", "calcium_hardness mg/L CaCO3", "total_hardness mg/L CaCO3", "chloride mg/L", "sulfate mg/L", "free_chlorine mg/L", "total_chlorine mg/L", "nitrate mg/L NO3", "iron mg/L"}},
	{"titration", "Titration kit", "other", []string{"alkalinity mg/L CaCO3", "calcium_hardness mg/L CaCO3", "total_hardness mg/L CaCO3", "chloride mg/L"}},
	{"electrode", "pH meter", "electrode", []string{"pH", "temperature degC"}},
	{"conductivity", "Conductivity meter", "conductivity", []string{"conductivity uS/cm", "temperature degC"}},
	{"thermometer", "Thermometer", "thermometer", []string{"temperature degC"}},
}

// TemplateNamed finds a template by its key.
func TemplateNamed(key string) (Template, error) {
	var keys []string
	for _, t := range Templates {
		if keys = append(keys, t.Key); t.Key == key {
			return t, nil
		}
	}
	return Template{}, journal.Hint(spelling.HintOr(key, keys, "sorts: "+strings.Join(keys, ", ")), "there is no sort of meter %q", key)
}

// union are the states of the European Union on 30 November 2026, by ISO 3166-1.
const union = " AT BE BG CY CZ DE DK EE ES FI FR GR HR HU IE IT LT LU LV MT NL PL PT RO SE SI SK "

// Jurisdiction is whose limits are shown for a country: its own law where wj has it, otherwise
// the guideline values of the World Health Organization.
func Jurisdiction(country string) string {
	switch country = strings.ToUpper(strings.TrimSpace(country)); {
	case country == "":
		return ""
	case strings.Contains(union, " "+country+" "):
		return "eu"
	case country == "US":
		return "us"
	}
	return "who"
}

// CheckCountry makes sure that a country is written in two letters.
func CheckCountry(country string) error {
	if country != "" && !regexp.MustCompile(`^[A-Za-z]{2}$`).MatchString(country) {
		return journal.Hint("two letters, such as DE, US or NO", "%q is not a country's code", country)
	}
	return nil
}

var notSlug = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`[^a-z0-9]+`) })

// folds writes letters of the Latin alphabet without their marks.
var folds = strings.NewReplacer("ä", "ae", "ö", "oe", "ü", "ue", "ß", "ss", "å", "a", "à", "a", "á", "a", "â", "a", "ã", "a", "ą", "a", "č", "c", "ç", "c", "ć", "c", "é", "e", "è", "e", "ê", "e", "ë", "e",
	"ę", "e", "ė", "e", "ě", "e", "í", "i", "ì", "i", "î", "i", "ï", "i", "į", "i", "ł", "l", "ñ", "n", "ń", "n", "ò", "o", "ó", "o", "ô", "o", "õ", "o", "ø", "oe", "ř", "r", "š", "s", "ś", "s", "ù", "u", "ú", "u", "û", "u",
	"ų", "u", "ū", "u", "ů", "u", "ý", "y", "ž", "z", "ź", "z", "ż", "z", "æ", "ae", "œ", "oe", "'", "", "’", "")

// Slug makes an id of a name.
func Slug(name, otherwise string) string {
	id := strings.Trim(notSlug().ReplaceAllString(folds.Replace(strings.ToLower(name)), "-"), "-")
	if id == "" {
		return otherwise
	}
	return id
}

// ParseTap reads NAME or NAME=STAGE.
func ParseTap(text string) (Tap, error) {
	name, stage, _ := strings.Cut(text, "=")
	name, stage = strings.TrimSpace(name), strings.TrimSpace(stage)
	if stage == "" {
		stage = journal.StageIntake
	}
	if !slices.Contains(journal.Names(journal.Stages), stage) {
		return Tap{}, journal.Hint(spelling.HintOr(stage, journal.Names(journal.Stages), "stages: "+strings.Join(journal.Names(journal.Stages), ", ")), "%q is not a stage", stage)
	}
	id := Slug(name, "")
	if !journal.ValidID(id, journal.KindSite) {
		return Tap{}, journal.Hint("lower-case letters, digits and hyphens", "%q cannot be a site's id", name)
	}
	if name == id {
		name = journal.Capital(strings.ReplaceAll(id, "-", " "))
	}
	return Tap{id, name, stage}, nil
}

// ParseMeasure reads what the leaflet says of one test: a unit, the lowest and the highest
// reading, and how far it may be off (95 %), such as "mg/L 2 200 5 mg/L + 8 %". The parts after
// the unit may be left away.
func ParseMeasure(analyte, text string) (journal.Entry, error) {
	id, ok := water.LookupAnalyte(analyte)
	if !ok {
		return journal.Entry{}, journal.Hint(spelling.HintOr(analyte, water.AnalyteKeys(), "wj explain lists the analytes"), "%q is no analyte", analyte)
	}
	const as = "unit, lowest, highest, accuracy: mg/L 2 200 5 mg/L + 8 %"
	wrong := func(why string, args ...any) (journal.Entry, error) {
		return journal.Entry{}, journal.Hint(as, "%s %q: "+why, append([]any{id, text}, args...)...)
	}
	unit, rest := water.None, strings.Fields(text)
	if id.Info().FitUnit(water.None) != nil {
		words := 0
		for n := min(2, len(rest)); n > 0 && words == 0; n-- { // "mg/L CaCO3" before "mg/L"
			if u, ok := water.ParseUnit(strings.Join(rest[:n], " ")); ok && id.Info().FitUnit(u) == nil {
				unit, words = u, n
			}
		}
		if words == 0 {
			return wrong("no unit of it comes first")
		}
		rest = rest[words:]
	}
	var parts []string
	if !unit.IsNone() {
		parts = append(parts, "units: "+frontmatter.Quote(unit.String()))
	}
	if len(rest) == 1 {
		return wrong("a range has two ends")
	}
	if len(rest) >= 2 {
		var ends []string
		var values []float64
		for _, number := range rest[:2] {
			q, err := water.ParseQuantity(strings.TrimSpace(number + " " + unit.String()))
			if err != nil || q.Bound != water.Exact {
				return wrong("%q is not a number", number)
			}
			ends, values = append(ends, frontmatter.Quote(q.String())), append(values, q.Value)
		}
		if values[0] >= values[1] {
			return wrong("the lowest reading is not below the highest")
		}
		parts = append(parts, "range: ["+strings.Join(ends, ", ")+"]")
	}
	if accuracy := strings.TrimPrefix(strings.Join(rest[min(2, len(rest)):], " "), "± "); accuracy != "" {
		parts = append(parts, "accuracy: "+frontmatter.Quote(accuracy))
	}
	return journal.Entry{Key: id.String(), Value: "{" + strings.Join(parts, ", ") + "}"}, nil
}

// ParseMeter reads SORT:ID:analyte=what the leaflet says;….
func ParseMeter(text string) (Meter, error) {
	parts := strings.SplitN(text, ":", 3)
	if len(parts) < 3 {
		return Meter{}, journal.Hint("electrode:ph-1:pH=5 9 0.1;temperature=degC 0 60", "%q is no meter", text)
	}
	t, err := TemplateNamed(parts[0])
	m := Meter{ID: parts[1], Template: t}
	for measure := range strings.SplitSeq(parts[2], ";") {
		analyte, leaflet, _ := strings.Cut(measure, "=")
		e, wrong := ParseMeasure(strings.TrimSpace(analyte), leaflet)
		if err == nil {
			err = wrong
		}
		m.Measures = append(m.Measures, e)
	}
	return m, err
}

// Entries are the record of a meter, without its first day in use, which nobody was asked.
func (m *Meter) Entries() []journal.Entry {
	return []journal.Entry{{Key: "name", Value: frontmatter.Quote(m.Template.Name)}, {Key: "sort", Value: m.Template.Sort}, {Key: "measures", Below: m.Measures}}
}

// Attributes are the .gitattributes of a journal.
func Attributes() []byte { return []byte(attributes + merge.Attributes()) }

// Files are the files of a new journal. ignore are patterns for .gitignore.
func Files(a Answers, ignore []string) ([]writer.File, error) {
	quote := frontmatter.Quote
	owner := Slug(a.Name, "brewery")
	files := []writer.File{
		{Path: journal.SettingsFile, New: []byte(settings(a))},
		{Path: IgnoreFile, New: []byte("# work that is not a record yet, files in the making, and drafts of wj mail, which hold addresses\n" + strings.Join(ignore, "\n") + "\n")},
		{Path: ".gitattributes", New: Attributes()},
		{Path: "README.md", New: []byte(readme(a))},
	}
	put := func(kind journal.Kind, id string, entries []journal.Entry) error {
		if !journal.ValidID(id, kind) {
			return journal.Hint("lower-case letters, digits and hyphens", "%q cannot be a %s's id", id, kind)
		}
		files = append(files, writer.File{Path: kind.Folder() + "/" + id + ".md", New: journal.Compose(kind, entries, "")})
		return nil
	}
	if err := put(journal.KindOwner, owner, []journal.Entry{{Key: "name", Value: quote(a.Name)}, {Key: "self", Value: "true"}}); err != nil {
		return nil, err
	}
	if a.Person != "" {
		name := a.FullName
		if name == "" {
			name = a.Person
		}
		entries := []journal.Entry{{Key: "name", Value: quote(name)}}
		if a.Email != "" {
			entries = append(entries, journal.Entry{Key: "email", Value: quote(a.Email)})
		}
		if err := put(journal.KindPerson, a.Person, entries); err != nil {
			return nil, err
		}
	}
	for i := range a.Meters {
		if err := put(journal.KindInstrument, a.Meters[i].ID, a.Meters[i].Entries()); err != nil {
			return nil, err
		}
	}
	for _, t := range a.Taps {
		entries := []journal.Entry{{Key: "name", Value: quote(t.Name)}, {Key: "owner", Value: owner}, {Key: "stage", Value: t.Stage}}
		if a.Every != "" {
			tests := a.tests()
			if len(tests) == 0 {
				return nil, journal.Hint("--tests pH,alkalinity,sulfate, or --meter", "a schedule of %s needs to know the tests", a.Every)
			}
			entries = append(entries, journal.Entry{Key: "schedule", Value: "[{every: " + quote(a.Every) + ", analytes: [" + strings.Join(tests, ", ") + "]}]"})
		}
		if err := put(journal.KindSite, t.ID, entries); err != nil {
			return nil, err
		}
	}
	return files, nil
}

// tests are those of the schedule: those that were named, or what the meters measure.
func (a *Answers) tests() []string {
	if len(a.Tests) > 0 {
		return a.Tests
	}
	var out []string
	for _, m := range a.Meters {
		for _, e := range m.Measures {
			if !slices.Contains(out, e.Key) {
				out = append(out, e.Key)
			}
		}
	}
	return out
}
