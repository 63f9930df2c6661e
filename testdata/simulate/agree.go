package main

import (
	"crypto/sha256"
	"encoding/csv"
	"encoding/json"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

func digest(b []byte) []byte { d := sha256.Sum256(b); return d[:] }

// agree is the oracle that all commands say the same, and what the ledger says.
func (s *sim) agree() error {
	if err := s.verdict(); err != nil {
		return err
	}
	if err := s.numbers(); err != nil {
		return err
	}
	if err := s.approval(); err != nil {
		return err
	}
	return s.duties()
}

// verdict holds wj verify to the ledger: it finds something wrong exactly while a forgery, an edit or a deletion is in the journal.
func (s *sim) verdict() error {
	r, err := s.wj(s.person("ines"), at(s.day, 20, 30), "verify", "--format", "json")
	if err != nil {
		return err
	}
	var doc struct {
		Verdict  string
		Wrong    int
		Findings []struct{ Subject, Text string }
		Signoffs []struct {
			ID, Of, By, Standing string
			Why                  []string
			InForce              bool `json:"in_force"`
		}
	}
	if err := json.Unmarshal([]byte(r.Out), &doc); err != nil {
		return s.fail("wj verify: %v: %s%s", err, r.Out, r.Talk)
	}
	wrong := ""
	for _, m := range s.ledger.mistakes {
		if m.tamper && s.arrived(m) {
			wrong = m.kind + " " + m.record
		}
	}
	later := 0 // batches whose sheet was good, and which what was recorded later makes unapproved: counted, not yet right
	for _, x := range doc.Findings {
		if strings.HasPrefix(x.Subject, "batches/") && strings.Contains(x.Text, "had expired") && !s.slipped(strings.TrimSuffix(strings.TrimPrefix(x.Subject, "batches/"), ".md")) {
			later++
		}
	}
	s.ledger.backward = max(s.ledger.backward, later)
	voided := 0 // sign-offs that rightly end, since a reading under them was amended
	for _, x := range doc.Signoffs {
		if x.Standing == "void" && slices.ContainsFunc(s.ledger.facts, func(f *fact) bool { return f.amended && strings.Contains(strings.Join(x.Why, " "), f.record) }) {
			voided++
		}
	}
	if later+voided > 0 && doc.Wrong > 0 && doc.Wrong <= later+voided && wrong == "" {
		doc.Wrong, doc.Verdict = 0, "proven"
	}
	if (doc.Wrong > 0) != (wrong != "") {
		return s.fail("wj verify finds %d wrong (%s), and the ledger holds %q:\n%s", doc.Wrong, doc.Verdict, wrong, r.Out)
	}
	if wrong == "" && doc.Verdict != "proven" || wrong != "" && doc.Verdict != "wrong" {
		return s.fail("wj verify says %s, and the ledger holds %q:\n%s", doc.Verdict, wrong, r.Out)
	}
	s.force = map[string]bool{}
	for _, x := range doc.Signoffs {
		if x.InForce && x.By != "pia" {
			s.force[x.Of] = true
		}
	}
	return nil
}

// arrived reports whether what somebody did to the journal has come to the bench.
func (s *sim) arrived(m *mistake) bool {
	return m.by == "pia" || s.day > m.day || s.synced
}

// numbers holds the query's numbers to the ledger.
func (s *sim) numbers() error {
	r, err := s.wj(s.person("ines"), at(s.day, 20, 40), "query", "--all-samples", "--void", "--columns", "id,site,sampled,chloride,sulfate,conductivity", "--format", "csv")
	if err != nil {
		return err
	}
	rows, err := csv.NewReader(strings.NewReader(r.Out)).ReadAll()
	if err != nil || len(rows) == 0 {
		return s.fail("wj query: %v: %s%s", err, r.Out, r.Talk)
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	values := map[string]string{}
	for _, row := range rows[1:] {
		for _, key := range []string{"chloride", "sulfate", "conductivity"} {
			values[row[column["site"]]+" "+row[column["sampled"]]+" "+key] = row[column[key]]
		}
	}
	for _, f := range s.ledger.facts {
		if f.gone || f.key != "chloride" && f.key != "sulfate" && f.key != "conductivity" || !f.here || strings.ContainsAny(f.value, "<>") {
			continue
		}
		got, ok := values[f.site+" "+f.sampled+" "+f.key]
		if !ok {
			return s.fail("wj query leaves the %s of %s at %s out", f.key, f.site, f.sampled)
		}
		want := number(f.value)
		if _, d, diluted := strings.Cut(f.value, "× "); diluted {
			n, _ := strconv.Atoi(d)
			want *= float64(n)
		}
		if v, err := strconv.ParseFloat(got, 64); err != nil || math.Abs(v-want) > 1e-6*want {
			return s.fail("wj query gives %s of %s at %s as %q, recorded is %s", f.key, f.site, f.sampled, got, f.value)
		}
	}
	return nil
}

// approval holds review, sheet and verify to each other about the change that is brewed with.
func (s *sim) approval() error {
	b := &s.brewing
	if b.change == "" {
		return nil
	}
	now := at(s.day, 20, 50)
	r, err := s.wj(s.person("ines"), now, "review", b.change, "--format", "json")
	if err != nil {
		return err
	}
	var doc struct {
		State  string
		Change struct {
			NoSheet []string `json:"no_sheet"`
		}
	}
	if err := json.Unmarshal([]byte(r.Out), &doc); err != nil {
		return s.fail("wj review %s: %v: %s%s", b.change, err, r.Out, r.Talk)
	}
	sheet, err := s.wj(s.person("ines"), now, "sheet", b.change, "--volume", "1200 L")
	if err != nil {
		return err
	}
	printed := sheet.Status == 0
	allowed := (doc.State == "signed" || doc.State == "in use" || doc.State == "verified") && len(doc.Change.NoSheet) == 0
	if printed && !allowed {
		return s.fail("a sheet is printed of %s, and wj review says it is %q: %q", b.change, doc.State, doc.Change.NoSheet)
	}
	if allowed && !printed {
		return s.fail("wj review says %s is %q, and no sheet is printed: %s", b.change, doc.State, sheet.Talk)
	}
	if printed && !b.signed {
		return s.fail("a sheet is printed of %s, which nobody signed", b.change)
	}
	if printed && !s.force[b.change] {
		return s.fail("a sheet is printed of %s, and wj verify knows no sign-off in force", b.change)
	}
	return nil
}

// duties holds wj due to wj status.
func (s *sim) duties() error {
	now := at(s.day, 20, 55)
	r, err := s.wj(s.person("ines"), now, "due", "--format", "json")
	if err != nil {
		return err
	}
	var due struct {
		Tests []struct {
			Site    string
			Overdue bool
		}
	}
	if err := json.Unmarshal([]byte(r.Out), &due); err != nil {
		return s.fail("wj due: %v: %s%s", err, r.Out, r.Talk)
	}
	late := 0
	for _, t := range due.Tests {
		if t.Overdue {
			late++
		}
	}
	status, err := s.wj(s.person("ines"), now, "status", "--format", "json")
	if err != nil {
		return err
	}
	var doc struct{ Answer []string }
	if err := json.Unmarshal([]byte(status.Out), &doc); err != nil {
		return s.fail("wj status: %v: %s%s", err, status.Out, status.Talk)
	}
	text, said := strings.Join(doc.Answer, " "), 0
	if m := overdue.FindStringSubmatch(text); m != nil {
		said, _ = strconv.Atoi(m[1])
	}
	if said != late {
		return s.fail("wj due counts %d overdue, and wj status says: %s", late, text)
	}
	return nil
}

var overdue = regexp.MustCompile(`(\d+) tests? (?:is|are) (?:over)?due`)
