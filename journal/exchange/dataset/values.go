package dataset

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"maps"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/judge"
	"wj/water"
	"wj/water/substance"
)

// Value is one value of a session: what was measured, or what follows from it.
type Value struct {
	Session *journal.Session
	water.Value
	Reading *journal.Reading // nil where derived
	Assumed bool             // the uncertainty is the usual one of such a test, not declared
}

// Values calls do for the values of a session: its readings in their order, then what
// follows from them, where that is asked for. Check standards and blanks have readings
// only: nothing is computed of a water that is not one. a is used again and again.
func Values(j *journal.Journal, s *journal.Session, a *water.Analysis, derived bool, do func(Value)) {
	a.Reset()
	for i := range s.Readings {
		r := &s.Readings[i]
		m, ok := j.Measured(s, r)
		if !ok {
			continue
		}
		a.Set(r.Analyte, m)
		do(Value{s, water.Value{ID: r.Analyte, Bound: m.Bound, Value: m.Value, U: m.U, From: []water.ID{r.Analyte}}, r, m.Assumed})
	}
	if !derived || judge.SampleOf(s).Standard {
		return
	}
	var missing []water.ID
	for id := water.ID(0); id < water.NumNames; id++ {
		if _, measured := a.Measured(id); !measured {
			missing = append(missing, id)
		}
	}
	for _, d := range a.DeriveAll(missing...) {
		if d.Err == nil {
			do(Value{Session: s, Value: d.Value})
		}
	}
}

// bounds are what a value is; words, since a spreadsheet runs = as a formula.
var bounds = []string{"exact", "below", "above"}

func boundName(b water.Bound) string {
	switch b {
	case water.Below:
		return "below"
	case water.Above:
		return "above"
	}
	return "exact"
}

var resultsTable = &Table{Name: "results", Layer: Results, Key: 3, ByYear: true, Parent: "sessions", Index: []string{"analyte", "site_id", "sampled_unix"},
	Doc: "one row a measured or derived value, with what is asked of its session most often", Columns: []Column{
		journalColumn, needed(reference("session_id", journal.KindSession, "the test session")), needed(Column{Name: "analyte", To: "analytes", Doc: "name of the value"}),
		needed(Column{Name: "origin", Enum: []string{"measured", "derived"}, Doc: "read from a meter or a certificate, or computed"}),
		real("result_value", "", "the value in result_unit; empty where only a bound is known"), {Name: "result_bound", Enum: bounds, Required: true, Doc: "exact: the value is known; below: it is below known_high; above: it is above known_low"},
		real("known_low", "", "lowest amount that the result leaves possible; empty: no bound"), real("known_high", "", "highest amount that the result leaves possible; empty: no bound"),
		real("low95", "", "value less twice its standard uncertainty, or the bound"), real("high95", "", "value and twice its standard uncertainty, or the bound"),
		real("result_u", "", "standard uncertainty, four significant digits; twice this is the 95 % half-width"), flag("u_is_assumed", "1: nothing was declared, and the usual accuracy of such a test was taken"),
		plain("result_unit", "unit of the six columns before, with its basis"), plain("result_basis", "species that a concentration by mass counts, such as CaCO3"), plain("result_ucum", "the unit without its basis in UCUM"),
		{Name: "derivation_id", To: "derivations", Doc: "of a derived value: what it came from"},
		reference("site_id", journal.KindSite, "the sampling point"), reference("owner_id", journal.KindOwner, "owner of the water on that day"), plain("stage", "where in the plant the site is"),
		plain("sampled_typed", "when the sample was taken, as typed"), moment("sampled_utc", "when the sample was taken"), number("sampled_unix", "the same in seconds since 1970"), day("sampled_on", "the day in the journal's time zone"),
		moment("tested_utc", "when it was tested"), reference("tester_id", journal.KindPerson, "who tested"), plain("data_source", "bench, lab or utility"), plain("laboratory", "which laboratory or utility"),
		plain("sample_type", "routine, check-standard, blank, duplicate or verification"), reference("instrument_id", journal.KindInstrument, "the meter"), reference("lot_id", journal.KindLot, "the reagent lot"),
		plain("typed", "the reading as typed: replicates, dilution, unit"), plain("typed_unit", "unit that it was typed in"), number("replicate_count", "how many tests it is the mean of"), real("dilution", "1", "total volume over sample volume"),
		flag("is_void", "1: the record was declared wrong"), flag("is_water", "1: of the site's water, not void, no check standard, no blank"), flag("is_series", "1: of the site's water, each moment once: is_water without duplicates, what wj query counts"),
	}}

// ResultColumns are the columns of the results, in order.
func ResultColumns() []Column { return resultsTable.Columns }

var derivationsTable = &Table{Name: "derivations", Layer: Results, Key: 2, Doc: "what derived values were computed from", Columns: []Column{
	journalColumn, needed(plain("derivation_id", "digest of the four columns that follow")), plain("analyte", "name of the value"), plain("inputs", "the readings that it came from"), plain("description", "what the value is"), plain("program_version", "version of wj"),
}}

// resultRow is the row of a value. derivation is the id of what it came from, and shared what the session gives to each of
// its values.
func resultRow(shared []any, derivation string, v Value) []any {
	s, info := v.Session, v.ID.Info()
	row := slices.Clone(shared)
	set := func(column string, value any) { row[resultAt[column]] = value }
	row[2], row[3] = info.Key, "measured"
	set("result_bound", "exact")
	switch amount := realOrNil(v.Value.Value); v.Bound {
	case water.Exact:
		set("result_value", amount)
		set("known_low", amount)
		set("known_high", amount)
		if u := rounded(v.U, 4); u != nil && v.U >= 0 {
			set("result_u", u)
			set("low95", realOrNil(v.Value.Value-2*v.U))
			set("high95", realOrNil(v.Value.Value+2*v.U))
			set("u_is_assumed", flagValue(v.Assumed))
		}
	case water.Below:
		set("result_bound", "below")
		set("known_high", amount)
		set("high95", amount)
		if v.Reading != nil && info.Unit.Family() != water.Temperature {
			set("known_low", 0.0)
			set("low95", 0.0)
		}
	case water.Above:
		set("result_bound", "above")
		set("known_low", amount)
		set("low95", amount)
	}
	unit := info.Unit
	set("result_unit", textOrNil(unit.String()))
	set("result_basis", textOrNil(unit.Basis().String()))
	set("result_ucum", textOrNil(unit.With(water.NoBasis).UCUM()))
	r := v.Reading
	if r == nil {
		row[3] = "derived"
		set("derivation_id", derivation)
		return row
	}
	if !r.Tested.IsZero() {
		set("tested_utc", utc(r.Tested))
	}
	set("instrument_id", textOrNil(cmp.Or(r.Instrument, s.Instrument)))
	set("lot_id", textOrNil(r.Lot))
	set("typed", journal.TypedReading(r))
	set("typed_unit", textOrNil(r.First.Unit.String()))
	set("replicate_count", int64(r.Replicates()))
	set("dilution", cmp.Or(r.Dilution, 1))
	return row
}

// sharedColumns are those of a results row that are the session's.
func sharedColumns(j *journal.Journal, journalID string, s *journal.Session) []any {
	row := make([]any, len(resultsTable.Columns))
	set := func(column string, value any) { row[resultAt[column]] = value }
	row[0], row[1] = journalID, s.ID
	set("site_id", textOrNil(s.Site))
	if site, ok := j.Sites.Get(s.Site); ok {
		set("owner_id", textOrNil(site.OwnerAt(s.Sampled)))
		set("stage", textOrNil(site.Stage))
	}
	if !s.Sampled.IsZero() {
		set("sampled_typed", journal.FormatTime(s.Sampled))
		set("sampled_utc", utc(s.Sampled))
		set("sampled_unix", s.Sampled.Unix())
		set("sampled_on", journal.FormatDate(s.Sampled.In(j.Settings.Zone)))
	}
	set("tested_utc", utc(s.Tested))
	set("tester_id", textOrNil(s.By))
	set("data_source", textOrNil(s.Source))
	set("laboratory", textOrNil(s.Laboratory))
	set("sample_type", textOrNil(s.Sample))
	set("instrument_id", textOrNil(s.Instrument))
	set("is_void", flagValue(s.Void != nil))
	set("is_water", flagValue(judge.SiteWater(s)))
	set("is_series", flagValue(judge.InSeries(s)))
	return row
}

var resultAt = func() map[string]int {
	at := map[string]int{}
	for i, c := range resultsTable.Columns {
		at[c.Name] = i
	}
	return at
}()

// derivations numbers what derived values came from.
type derivations struct {
	journalID, program string
	rows               map[string][]any
}

func (d *derivations) id(v Value) string {
	if v.Reading != nil {
		return ""
	}
	names := make([]string, len(v.From))
	for i, id := range v.From {
		names[i] = id.String()
	}
	info, inputs := v.ID.Info(), strings.Join(names, " ")
	sum := sha256.Sum256([]byte(strings.Join([]string{info.Key, inputs, info.Doc, d.program}, "\n")))
	id := hex.EncodeToString(sum[:6])
	if d.rows[id] == nil {
		d.rows[id] = []any{d.journalID, id, info.Key, inputs, info.Doc, d.program}
	}
	return id
}

func (d *derivations) all() []Row {
	var rows []Row
	for _, id := range slices.Sorted(maps.Keys(d.rows)) {
		rows = append(rows, Row{Table: derivationsTable, Values: d.rows[id]})
	}
	return rows
}

var (
	analytesTable = &Table{Name: "analytes", Layer: Lists, Key: 1, Doc: "what the names of values are", Columns: []Column{
		needed(plain("analyte", "the name")), plain("title", "in words"), plain("unit_name", "standard unit"), plain("ucum", "the same in UCUM"), plain("cas", "CAS registry number"),
		plain("wqx_characteristic", "name in the characteristic list of the water-quality exchange"), plain("wqx_speciation", "method speciation there"), flag("is_derived", "1: only ever computed"), flag("is_known", "0: a name that wj does not know"), plain("description", "what it is"),
	}}
	unitsTable = &Table{Name: "units", Layer: Lists, Key: 1, Doc: "the units that wj reads", Columns: []Column{
		needed(plain("unit_name", "as it is written")), plain("ucum", "in UCUM"), plain("family", "what it measures"), real("factor", "", "to the first unit of its family"),
	}}
	substancesTable = &Table{Name: "substances", Layer: Lists, Key: 1, Doc: "salts, acids and bases", Columns: []Column{
		needed(plain("substance", "the name, hydrate spelled out")), plain("title", "in words"), plain("substance_kind", "salt, acid, base or sulfite"), plain("formula", "formula"), real("molar_mass", "g/mol", "molar mass"), flag("is_known", "0: a name that wj does not know"),
	}}
)

// lists are the rows of the tables that are the same in every journal, with the names
// that this one uses and wj does not know.
func lists(unknown map[string]map[string]bool) []Row {
	var rows []Row
	for id := water.ID(0); id < water.NumNames; id++ {
		a := id.Info()
		rows = append(rows, Row{Table: analytesTable, Values: []any{a.Key, a.Title, textOrNil(a.Unit.String()), textOrNil(a.UCUM), textOrNil(a.CAS), textOrNil(a.Exchange), textOrNil(a.Speciation), flagValue(id >= water.NumAnalytes), int64(1), a.Doc}})
	}
	for _, name := range slices.Sorted(maps.Keys(unknown["analytes"])) {
		rows = append(rows, Row{Table: analytesTable, Values: []any{name, nil, nil, nil, nil, nil, nil, int64(0), int64(0), nil}})
	}
	for _, name := range slices.Sorted(slices.Values(water.UnitNames())) {
		u, _ := water.ParseUnit(name)
		rows = append(rows, Row{Table: unitsTable, Values: []any{name, textOrNil(u.UCUM()), u.Family().String(), realOrNil(u.Scale())}})
	}
	for _, s := range substance.All() {
		mass, _ := substance.MolarMass(s.Formula)
		rows = append(rows, Row{Table: substancesTable, Values: []any{s.Key, s.Name, string(s.Kind), s.Formula, realOrNil(mass), int64(1)}})
	}
	for _, name := range slices.Sorted(maps.Keys(unknown["substances"])) {
		rows = append(rows, Row{Table: substancesTable, Values: []any{name, nil, nil, nil, nil, int64(0)}})
	}
	return rows
}
