package exchange

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"strings"
	"testing"

	"wj/journal"
	"wj/journal/exchange/dataset"
)

var testOrigin = dataset.Origin{JournalID: "quillmarsh-k7m3q9x2wd", Commit: "0123456789abcdef0123456789abcdef01234567", Program: "test"}

// written is what an export of a journal is in a format.
func written(t testing.TB, j *journal.Journal, x Export, opt dataset.Options) string {
	t.Helper()
	var b bytes.Buffer
	x.Stdout, opt.Origin = &b, testOrigin
	if _, err := x.Write([]Source{{Journal: j, Options: opt, Records: len(j.Files)}}); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestResultsNeverGiveABoundAsANumber(t *testing.T) {
	rows, err := csv.NewReader(strings.NewReader(written(t, smallJournal(t, nil), Export{Format: "csv"}, dataset.Options{}))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	at := map[string]int{}
	for i, h := range rows[0] {
		at[h] = i
	}
	seen := map[string][]string{}
	for _, r := range rows[1:] {
		seen[r[at["session_id"]]+" "+r[at["analyte"]]] = r
	}
	for _, c := range []struct{ row, column, want string }{
		{"2026-03-04-north-well chloride", "result_value", ""},
		{"2026-03-04-north-well chloride", "result_bound", "below"},
		{"2026-03-04-north-well chloride", "known_low", "0"},
		{"2026-03-04-north-well chloride", "known_high", "5"},
		{"2026-03-04-north-well chloride", "high95", "5"},
		{"2026-03-04-north-well chloride", "result_u", ""},
		{"2026-03-04-north-well sulfate", "result_value", "170"}, // mean of 84 and 86, times 2
		{"2026-03-04-north-well sulfate", "result_unit", "mg/L"},
		{"2026-03-04-north-well sulfate", "result_ucum", "mg/L"},
		{"2026-03-04-north-well sulfate", "typed", "84 mg/L, 86 mg/L × 2"},
		{"2026-03-04-north-well sulfate", "replicate_count", "2"},
		{"2026-03-04-north-well sulfate", "journal_id", testOrigin.JournalID},
		{"2026-03-04-north-well sulfate", "commit_sha", testOrigin.Commit},
		{"2026-03-04-north-well sulfate", "sampled_utc", "2026-03-04T06:15:00Z"},
		{"2026-03-04-north-well alkalinity", "result_basis", "CaCO3"},
		{"2026-03-04-north-well alkalinity", "result_ucum", "mg/L"},
		{"2026-03-04-north-well pH", "typed", "7.40"},
		{"2026-03-04-north-well bicarbonate", "origin", "derived"},
		{"2026-03-05-tarrow-bore alkalinity", "typed_unit", "gpg"},
		{"2026-03-05-tarrow-bore alkalinity", "sampled_typed", "2026-03-05T23:30-05:00"},
		{"2026-03-05-tarrow-bore alkalinity", "sampled_on", "2026-03-06"},         // in the journal's zone
		{"2026-03-05-tarrow-bore alkalinity", "laboratory", "'=cmd|'/C calc'!A0"}, // no formula
	} {
		if got := seen[c.row]; got == nil || got[at[c.column]] != c.want {
			t.Errorf("%s %s: got %q, want %q", c.row, c.column, got, c.want)
		}
	}
	// 1 grain CaCO3 per US gallon is 17.118 mg/L (Hem 1985, USGS Water-Supply Paper 2254, p. 159).
	if got := seen["2026-03-05-tarrow-bore alkalinity"][at["result_value"]]; !strings.HasPrefix(got, "260.1") {
		t.Errorf("15.2 gpg became %s mg/L CaCO3, want 260.2", got)
	}
}

func TestWideHasUnitsInItsHeads(t *testing.T) {
	rows, err := csv.NewReader(strings.NewReader(written(t, smallJournal(t, nil), Export{Format: "csv", Wide: true}, dataset.Options{Measured: true}))).ReadAll()
	if err != nil || len(rows) != 3 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	heads := strings.Join(rows[0], "|")
	for _, want := range []string{"|pH|", "|sulfate (mg/L)", "|chloride bound|chloride limit|", "|alkalinity (mg/L CaCO3)|"} {
		if !strings.Contains(heads, want) {
			t.Errorf("%q lacks %q", heads, want)
		}
	}
}

func TestOwnersAreToldApart(t *testing.T) {
	j := smallJournal(t, nil)
	if got := strings.Join(Owners(j, j.Sessions.List), " "); got != "quillmarsh tarrow-lane" {
		t.Errorf("owners: %s", got)
	}
}

// TestViews: GeoJSON is one JSON value whether there are sessions or not; the exchange's
// table says in a comment what it has no column for.
func TestViews(t *testing.T) {
	j := smallJournal(t, nil)
	for _, choose := range []func(journal.File) bool{nil, Sessions(map[string]bool{})} {
		var o struct {
			Type       string
			Journal_ID string
			Features   []struct{ Properties map[string]any }
		}
		if err := json.Unmarshal([]byte(written(t, j, Export{Format: "geojson"}, dataset.Options{Choose: choose})), &o); err != nil {
			t.Fatal(err)
		}
		if want := 2; o.Type != "FeatureCollection" || o.Journal_ID != testOrigin.JournalID || choose == nil && len(o.Features) != want || choose != nil && o.Features == nil {
			t.Errorf("%+v", o)
		}
	}
	text := written(t, j, Export{Format: "wqx-csv"}, dataset.Options{Measured: true})
	for _, want := range []string{`"Below Reporting Limit","","mg/L"`, "sample=routine; dilution=2; journal=quillmarsh-k7m3q9x2wd"} {
		if !strings.Contains(text, want) {
			t.Errorf("%s\nlacks %q", text, want)
		}
	}
}
