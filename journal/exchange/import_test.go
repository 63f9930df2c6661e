package exchange

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"wj/journal"
	"wj/water"
)

func mapping(t testing.TB, text string) *Mapping {
	t.Helper()
	m, problems := ParseMapping("map.yaml", []byte(text))
	for _, p := range problems {
		t.Fatalf("map.yaml:%d:%d: %s; %s", p.Line, p.Column, p.Message, p.Help)
	}
	return m
}

func sheet(t testing.TB, text string) *Sheet {
	t.Helper()
	s, err := ReadDelimited([]byte(text), 0, "")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func plan(t testing.TB, j *journal.Journal, m *Mapping, s *Sheet) *Plan {
	t.Helper()
	p, err := Import(j, m, s, ImportOptions{File: "lab.csv", By: "ines"})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// verdicts writes a plan's rows, one a line.
func verdicts(p *Plan) string {
	var b strings.Builder
	for _, r := range p.Rows {
		fmt.Fprintf(&b, "%d:%d %s %s\n", r.Row, r.Column, r.RowState, r.Message)
	}
	return b.String()
}

const wideHead = "header: 1\nsource: lab\nsite: {column: Well}\nsampled: {column: Date, layout: \"YYYY-MM-DD HH:mm\", zone: Europe/Vilnius}\n"

// TestNumerals: a number of the file is taken digit by digit, or refused. The
// spellings are those of laboratories' files and of spreadsheets.
func TestNumerals(t *testing.T) {
	point, comma := &Mapping{Decimal: '.', Round: -1}, &Mapping{Decimal: ',', Thousands: ".", Round: 2}
	for _, c := range []struct {
		m        *Mapping
		in, want string // want "" : refused
	}{
		{point, "84", "84"}, {point, "84.20", "84.20"}, {point, "0.5", "0.5"}, {point, ".5", "0.5"}, {point, "5.", "5"}, {point, "+5", "5"}, {point, "007.0", "7.0"},
		{point, "1.2E-3", "0.0012"}, {point, "1e3", "1000"}, {point, "7,42", ""}, {point, "1,234.5", ""}, {point, "12 J", ""}, {point, "5*", ""}, {point, "0x10", ""}, {point, "1_000", ""},
		{point, "NaN", ""}, {point, "Inf", ""}, {point, "1e999", ""}, {point, "--5", ""}, {point, "12.3456789", ""}, {point, "12.345678", "12.345678"}, {point, "−4", "-4"}, {point, "", ""}, {point, "trace", ""},
		{comma, "7,42", "7.42"}, {comma, "1.234,5", "1234.5"}, {comma, "12,3456789", "12.35"}, {comma, "1,2,3", ""}, {comma, "=1+1", ""},
	} {
		got, f := c.m.numeral(c.in)
		if (f == nil) != (c.want != "") || got != c.want {
			t.Errorf("%q: got %q, %v, want %q", c.in, got, f, c.want)
		}
	}
}

// TestQuantities: what is in a cell and beside it becomes one quantity.
func TestQuantities(t *testing.T) {
	m := &Mapping{Decimal: '.', Round: -1, Missing: []string{"n.a."}, Nondetect: []string{"ND"}}
	below := &Mapping{Decimal: '.', Round: -1, NegativeBelow: true}
	mg := water.MilligramLitre
	for _, c := range []struct {
		m    *Mapping
		c    cellValue
		want string // "refused", or the quantity, or "" for none
	}{
		{m, cellValue{analyte: water.Chloride, unit: mg, value: "21"}, "21 mg/L"},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: "<5"}, "<5 mg/L"},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: "< 5.0"}, "<5.0 mg/L"},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: "5", qualifier: "<"}, "<5 mg/L"},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: "", qualifier: "<", limit: "5"}, "<5 mg/L"},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: "", qualifier: "<"}, "refused"},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: "ND", limit: "0.5"}, "<0.5 mg/L"},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: "nd"}, "refused"},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: "nd", limit: "0.5"}, "<0.5 mg/L"},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: "n.a."}, ""},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: "N.A."}, ""},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: ""}, ""},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: ">200"}, ">200 mg/L"},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: ">200", qualifier: "<"}, "refused"},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: "5", qualifier: "U"}, "refused"},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: "5", qualifier: "U", flags: map[string]string{"U": "below"}}, "<5 mg/L"},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: "5", qualifier: "R", flags: map[string]string{"R": "missing"}}, ""},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: "≤5"}, "refused"},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: "-5"}, "refused"},
		{below, cellValue{analyte: water.Chloride, unit: mg, value: "-5"}, "<5 mg/L"},
		{m, cellValue{analyte: water.SampleTemperature, unit: water.DegreeCelsius, value: "-0.5"}, "-0.5 degC"},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: "21", uncertainty: "3"}, "21 ± 3 mg/L"},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: "21 mg/L"}, "21 mg/L"},
		{m, cellValue{analyte: water.Chloride, unit: mg, value: "21 ug/L"}, "refused"},
		{m, cellValue{analyte: water.Chloride, value: "21"}, "refused"}, // no unit is ever guessed
		{m, cellValue{analyte: water.Nitrate, unit: mg, value: "10"}, "refused"},
		{m, cellValue{analyte: water.PHValue, value: "7.40"}, "7.40"},
	} {
		got, f := c.m.quantity(c.c)
		if f != nil {
			got = "refused"
		}
		if got != c.want {
			t.Errorf("%+v: got %q (%v), want %q", c.c, got, f, c.want)
		}
	}
}

func TestImportWholeSamplesOnly(t *testing.T) {
	j := smallJournal(t, nil)
	m := mapping(t, wideHead+"results:\n  Ca: {analyte: calcium, unit: mg/L}\n  Cl: {analyte: chloride, unit: mg/L}\n")
	s := sheet(t, "Well,Date,Ca,Cl,Remark\nnorth-well,2026-05-01 08:00,80,20,x\nNorth well,2026-05-02 08:00,81,oops,\nelsewhere,2026-05-03 08:00,1,1,\nnorth-well,2026-05-01 08:00,80,21,\nnorth-well,2026-05-04 08:00,,,\n")
	p := plan(t, j, m, s)
	if len(p.Records) != 0 {
		t.Errorf("records although rows are refused: %d", len(p.Records))
	}
	if strings.Join(p.NotTaken, ",") != "Remark" {
		t.Errorf("not taken: %v", p.NotTaken)
	}
	got := verdicts(p)
	for _, want := range []string{"3:4 refused column \"Cl\": \"oops\" is not a number", "4:1 refused there is no site \"elsewhere\"", "5:0 refused the same site and time as in row 2", "2:0 refused", "6:0 skipped it holds no result"} {
		if !strings.Contains(got, want) {
			t.Errorf("lacks %q in\n%s", want, got)
		}
	}
	partial, err := Import(j, m, sheet(t, "Well,Date,Ca,Cl\nnorth-well,2026-05-01 08:00,80.0,20\nnorth-well,2026-05-02 08:00,81,oops\n"), ImportOptions{File: "lab.csv", By: "ines", Partial: true})
	if err != nil || len(partial.Records) != 1 {
		t.Fatalf("%v %v", partial, err)
	}
	if text := string(partial.Records[0].Source); !strings.Contains(text, "calcium:  80.0 mg/L\n") || !strings.Contains(text, "sampled: 2026-05-01T08:00+03:00") || !strings.Contains(text, "source: lab") {
		t.Errorf("record:\n%s", text)
	}
}

// TestSkippedInAnyCase: a rule that leaves rows out finds its word in capitals too.
func TestSkippedInAnyCase(t *testing.T) {
	m := mapping(t, wideHead+"results:\n  Ca: {analyte: calcium, unit: mg/L}\nskip:\n  - {column: State, is: [rejected]}\n")
	p := plan(t, smallJournal(t, nil), m, sheet(t, "Well,Date,Ca,State\nnorth-well,2026-05-01 08:00,80,Rejected\nnorth-well,2026-05-02 08:00,81,valid\n"))
	if got := verdicts(p); len(p.Records) != 1 || !strings.Contains(got, "2:4 skipped") {
		t.Errorf("%d records, %s", len(p.Records), got)
	}
}

// TestImportTwice: the same sample is never taken twice, also after a value was
// amended; a void record does not count; a changed value is told.
func TestImportTwice(t *testing.T) {
	m := mapping(t, wideHead+"results:\n  Ca: {analyte: calcium, unit: mg/L}\n")
	s := sheet(t, "Well,Date,Ca\nnorth-well,2026-05-01 08:00,80\n")
	first := plan(t, smallJournal(t, nil), m, s)
	if len(first.Records) != 1 {
		t.Fatal(verdicts(first))
	}
	r := first.Records[0]
	text := string(r.Source)
	again := func(text string) *Plan { return plan(t, smallJournal(t, map[string]string{r.Path: text}), m, s) }
	if p := again(text); p.Count(Already) != 1 || len(p.Records) != 0 {
		t.Error(verdicts(p))
	}
	amended := strings.Replace(text, "calcium: 80 mg/L", "calcium: 88 mg/L", 1)
	if p := again(amended); p.Count(Refused) != 1 || !strings.Contains(verdicts(p), "calcium 88 mg/L (here 80 mg/L)") {
		t.Error(verdicts(p))
	}
	amended = strings.Replace(amended, "note:", "amended:\n  - {key: readings.calcium, was: 80 mg/L, by: ines, on: 2026-05-02T08:00+03:00, reason: typed wrong}\nnote:", 1)
	if p := again(amended); p.Count(Already) != 1 {
		t.Error(verdicts(p))
	}
	void := strings.Replace(text, "note:", "void: {by: ines, on: 2026-05-02T08:00+03:00, reason: wrong well}\nnote:", 1)
	if p := again(void); p.Count(Taken) != 1 || p.Records[0].ID != r.ID+"-2" {
		t.Error(verdicts(p))
	}
	// Typed by hand before: the same site, time and source.
	if p := again(strings.Replace(text, "note: "+importMark().FindString(text)+"\n", "", 1)); p.Count(Already) != 1 {
		t.Error(verdicts(p))
	}
}

func TestImportLongForm(t *testing.T) {
	j := smallJournal(t, nil)
	m := mapping(t, wideHead+`group: [Sample]
result:
  analyte: {column: Parameter, values: {Nitrat-N: {analyte: nitrate, basis: N}, Sulfat: sulfate, Arsen: ignore}}
  value: Result
  unit: {column: Unit, values: {mg/l SO4: mg/L}}
  qualifier: {column: Flag, values: {U: below}}
`)
	s := sheet(t, "Sample;Well;Date;Parameter;Result;Unit;Flag\n1;north-well;2026-05-01 08:00;Nitrat-N;2.0;mg/l;\n1;north-well;2026-05-01 08:00;Sulfat;5;mg/l SO4;U\n1;north-well;2026-05-01 08:00;Arsen;1;ug/l;\n2;north-well;2026-05-01 08:00;Sulfat;6;mg/l SO4;\n")
	p := plan(t, j, m, s)
	if len(p.Records) != 2 || p.Count(Taken) != 3 || p.Count(Skipped) != 1 {
		t.Fatal(verdicts(p))
	}
	if text := string(p.Records[0].Source); !strings.Contains(text, "sulfate: <5 mg/L\n  nitrate: 2.0 mg/L N\n") || !strings.Contains(text, "rows 2 to 3") {
		t.Errorf("record:\n%s", text)
	}
	if p.Records[1].ID != "2026-05-01-north-well-2" {
		t.Errorf("the second sample is %s", p.Records[1].ID)
	}
	strange := plan(t, j, m, sheet(t, "Sample;Well;Date;Parameter;Result;Unit;Flag\n1;north-well;2026-05-01 08:00;Unobtainium;2.0;mg/l;\n1;north-well;2026-05-01 08:00;Sulfat;2.0;furlong;\n"))
	if got := verdicts(strange); !strings.Contains(got, `2:4 refused "Unobtainium" is not explained`) || !strings.Contains(got, `3:6 refused "furlong" is not a known unit`) {
		t.Error(got)
	}
}

// TestMapMistakes: each mistake in a map is told with its place.
func TestMapMistakes(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"results:\n  Ca: {analyte: calcium}\n", "6:7 calcium has no unit"},
		{"results:\n  Ca: {analyte: calcium, unit: }\n", "6:26 calcium has no unit"},
		{"results:\n  Ca: {analyte: calcium, unit: furlong}\n", `6:32 "furlong" is not a known unit`},
		{"results:\n  NO3: {analyte: nitrate, unit: mg/L}\n", "6:33 nitrate in mg/L does not say as what"},
		{"results:\n  Cl: {analyte: chloride, unit: dKH}\n", "6:33 chloride cannot be in dKH"},
		{"results:\n  SO4: {analyte: sulphate, unit: mg/L}\n", `6:18 "sulphate" is not an analyte; did you mean sulfate?`},
		{"results:\n  Ca: {analyt: calcium, unit: mg/L}\n", `6:8 "analyt" is not a key of a map; did you mean analyte?`},
		{"results:\n  A: {analyte: calcium, unit: mg/L}\n  B: {analyte: calcium, unit: mg/L}\n", `7:3 calcium is in the column "A" already`},
		{"", "the map needs either results"},
		{"encoding: latin-9\nresults: {pH: {analyte: pH}}\n", `5:11 "latin-9" is not allowed here`},
	} {
		_, problems := ParseMapping("map.yaml", []byte(wideHead+c.text))
		found := ""
		for _, p := range problems {
			found += fmt.Sprintf("%d:%d %s; %s\n", p.Line, p.Column, p.Message, p.Help)
		}
		if !strings.Contains(found, c.want) {
			t.Errorf("%q: want %q in\n%s", c.text, c.want, found)
		}
	}
	m := mapping(t, wideHead+"results: {Calcium: {analyte: calcium, unit: mg/L}}\n")
	if _, err := Import(smallJournal(t, nil), m, sheet(t, "Well,Date,Calcum\nx,y,z\n"), ImportOptions{}); err == nil || !strings.Contains(err.Error(), `no column "Calcium"; did you mean "Calcum"?`) {
		t.Errorf("a head that is not there: %v", err)
	}
}

// TestTimes: the day and the hour are those of the file in the zone of the map.
func TestTimes(t *testing.T) {
	vilnius, err := time.LoadLocation("Europe/Vilnius")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ layout, clock, text, want string }{
		{"YYYY-MM-DD HH:mm", "", "2026-03-04 08:15", "2026-03-04T08:15+02:00"},
		{"D.M.YYYY H:mm", "", "4.3.2026 8:15", "2026-03-04T08:15+02:00"},
		{"D.M.YYYY H:mm", "", "04.07.2026 08:15", "2026-07-04T08:15+03:00"},
		{"M/D/YYYY h:mm AM", "", "3/4/2026 8:15 PM", "2026-03-04T20:15+02:00"},
		{"D-MMM-YY", "12:00", "4-Mar-26", "2026-03-04T12:00+02:00"},
		{"YYYYMMDD", "12:00", "20260304", "2026-03-04T12:00+02:00"},
		{"YYYY-MM-DDTHH:mm:ssoffset", "", "2026-03-04T08:15:00Z", "2026-03-04T08:15+00:00"},
		{"YYYY-MM-DD", "", "2026-03-04", "no time of day"},
		{"YYYY-MM-DD HH:mm", "", "2026-02-30 08:15", "is not written like that"},
		{"YYYY-MM-DD HH:mm", "", "2026-03-29 03:30", "did not exist"}, // the clocks go forward at 03:00 (Directive 2000/84/EC)
		{"YYYY-MM-DD HH:mm", "", "", "the time is empty"},
		{"YYYY", "12:00", "2025", "2025-07-01T12:00+03:00"}, // a year alone, with the map's day
		{"YYYY-MM", "12:00", "2025-03", "2025-03-01T12:00+02:00"},
		{"YYYY HH:mmoffset", "", "2025 08:15Z", "2025-07-01T08:15+00:00"},
		{"YYYY-MM", "12:00", "2026-02", "has no day 31"},
	} {
		layout, err := goLayout(c.layout)
		if err != nil {
			t.Fatal(err)
		}
		src := timeSource{columns: []column{{name: "Date"}}, layouts: []string{layout}, zone: vilnius, clock: c.clock, day: "01-31"}
		if strings.HasPrefix(c.text, "2025") {
			src.day = "07-01"
		}
		got, _, _, f := src.moment(&Line{Cells: []Cell{{Text: c.text}}})
		text := journal.FormatTime(got)
		if f != nil {
			text = f.message
		}
		if !strings.Contains(text, c.want) {
			t.Errorf("%s %q: %s, want %s", c.layout, c.text, text, c.want)
		}
	}
	for _, bad := range []string{"", "DD.MM", "YYYY-MM-DD'at'HH", "Q YYYY MM DD"} {
		if l, err := goLayout(bad); err == nil {
			t.Errorf("the layout %q became %q", bad, l)
		}
	}
}

// TestHeads: heads as laboratories and agencies write them.
func TestHeads(t *testing.T) {
	for _, c := range []struct{ head, want string }{
		{"Ca (mg/l)", "calcium mg/L"}, {"Ca [mg/L]", "calcium mg/L"}, {"Ca_mgL", "calcium mg/L"}, {"Ca_mg_l", "calcium mg/L"}, {"Mg, mg/L", "magnesium mg/L"}, {"SO4", "sulfate ?"}, {"SO₄²⁻ (mg/L)", "sulfate mg/L"},
		{"Alkalinity as CaCO3 mg/L", "alkalinity mg/L CaCO3"}, {"Alkalinity (as CaCO3) (mg/L)", "alkalinity mg/L CaCO3"}, {"Säurekapazität KS4.3 (mmol/l)", "alkalinity mmol/L"}, {"Gesamthärte °dH", "total_hardness dH"},
		{"Nitrate as N (mg/L)", "nitrate mg/L N"}, {"NO3-N mg/l", "nitrate mg/L N"}, {"NO3 mg/l", "nitrate mg/L"}, {"Leitfähigkeit (µS/cm)", "conductivity uS/cm"}, {"EC_uScm", "conductivity uS/cm"},
		{"Temperature (°C)", "temperature degC"}, {"pH-Wert", "pH ?"}, {"pH", "pH ?"}, {"Calcium, dissolved (mg/L)", "calcium mg/L"}, {"Na+ meq/L", "sodium meq/L"}, {"Fe [µg/l]", "iron ug/L"},
		{"calcium (mg/L)", "calcium mg/L"}, {"Well", "-"}, {"GH", "-"}, {"KH", "-"}, {"Remarks", "-"}, {"", "-"},
		{"Alkalinity (CaCO3) mg/L", "alkalinity mg/L CaCO3"}, {"Nitrate-N (mg/L)", "nitrate mg/L N"}, {"Nitrate-Nitrogen [mg/L]", "nitrate mg/L N"}, {"Nitrate (NO3) mg/L", "nitrate mg/L NO3"}, {"Temp (C)", "temperature degC"}, {"Ca_tot (mg/L)", "calcium mg/L"},
		{"EC value [microS/cm]", "conductivity uS/cm"}, {"Specific conductance (umho/cm)", "conductivity uS/cm"}, {"field pH", "pH ?"}, {"Hard [mg/L]", "-"}, {"TH", "-"},
	} {
		id, unit, exact, ok := readHead(c.head)
		got := "-"
		if ok {
			got = id.String() + " ?"
			if exact {
				got = id.String() + " " + unit.String()
			}
		}
		if got != c.want {
			t.Errorf("%q: got %q, want %q", c.head, got, c.want)
		}
	}
}

// TestGuessOfTime: dates are found by what is in a column, in the layouts that
// occur; what a file of years lacks is asked.
func TestGuessOfTime(t *testing.T) {
	j := smallJournal(t, nil)
	for _, c := range []struct{ name, csv, want string }{
		{"two layouts under a head that says nothing", "Well,When,Ca mg/L,Cl mg/L\na,3-14-2023 5:47,80,20\na,3-15-2023 5:47:04,80,20\n", "column: When\n  layout: [\"M-D-YYYY H:mm\", \"M-D-YYYY H:mm:ss\"]"},
		{"either day first", "Well,Date,Ca mg/L,Cl mg/L\na,3/4/2023,80,20\n", "layout:  # ? \"3/4/2023\" can be read as \"D/M/YYYY\" or \"M/D/YYYY\""},
		{"years", "Well,Year,Ca mg/L,Cl mg/L\na,1992,80,20\n", "column: Year\n  layout: YYYY\n  day: \"07-01\"  # ?"},
		{"no date at all", "Well,Ca mg/L,Cl mg/L\na,80,20\n", "sampled:  # ? no column holds dates"},
		{"day and clock apart", "Well,Date,Time,Ca mg/L,Cl mg/L\na,14.3.2023,5:47,80,20\n", "columns: [Date, Time]\n  layout: \"D.M.YYYY H:mm\""},
	} {
		text, _, err := Guess(j, sheet(t, c.csv), "lab.csv", "ines")
		if err != nil || !strings.Contains(string(text), c.want) {
			t.Errorf("%s: %v, no %q in\n%s", c.name, err, c.want, text)
		}
	}
}

// TestGuessTellsMissing: numbers that stand for no number, and words that a person
// must explain.
func TestGuessTellsMissing(t *testing.T) {
	text, _, err := Guess(smallJournal(t, nil), sheet(t, "Sample,Date,Ca mg/L,Cl mg/L\na,2026-03-04,-9999,20\na,2026-03-05,80,ND\na,2026-03-06,trace,NA\na,2026-03-07,80,<0.1\n"), "lab.csv", "ines")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"column: Sample\n", "missing: [-9999, NA]  # ?", "nondetect: [ND]  # ?", "this file seems to have none", "# missing: [trace]  # ?"} {
		if !strings.Contains(string(text), want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
}

// TestGuessIsAMap: a drafted map is a map once its questions are answered, and the
// answers that it may not give itself are open.
func TestGuessIsAMap(t *testing.T) {
	j := smallJournal(t, nil)
	s := sheet(t, "Report 7;;;;\n\nWell;Date;Ca (mg/l);NO3 (mg/l);SO4\nNorth well;04.03.2026;84,2;12,5;20\nNew one;17.03.2026;80;n.a.;21\n")
	text, unsure, err := Guess(j, s, "lab.csv", "ines")
	if err != nil || unsure < 6 {
		t.Fatalf("%v, %d questions:\n%s", err, unsure, text)
	}
	_, problems := ParseMapping("map.yaml", text)
	var open []string
	for _, p := range problems {
		open = append(open, p.Message)
	}
	if got := strings.Join(open, "; "); len(open) != 2 || !strings.Contains(got, "nitrate in mg/L does not say") || !strings.Contains(got, "sulfate has no unit") {
		t.Errorf("open: %s in\n%s", got, text)
	}
	answered := strings.NewReplacer("unit: mg/L}  # ? as what", "unit: mg/L NO3}  #", "SO4: {analyte: sulfate, unit: }", "SO4: {analyte: sulfate, unit: mg/L}").Replace(string(text))
	p := plan(t, j, mapping(t, answered), s)
	if p.Count(Taken) != 2 || len(p.Records) != 3 || p.Records[0].Path != "sites/new-one.md" {
		t.Errorf("%s\n%s", verdicts(p), answered)
	}
}
