package dataset

import (
	flags "flag"
	"fmt"
	"os"
	"strings"
	"testing"
	"wj/journal"
)

var update = flags.Bool("update", false, "write docs/data.md")

// TestDocument: the page in docs is what the tables are.
func TestDocument(t *testing.T) {
	const name = "../../../docs/data.md"
	if *update {
		if err := os.WriteFile(name, []byte(document()), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	page, err := os.ReadFile(name)
	if err != nil || string(page) != document() {
		t.Errorf("%s is not what the tables are (%v): go test ./journal/exchange/dataset -run Document -update", name, err)
	}
}

func formatTable() string {
	var b strings.Builder
	b.WriteString("| format | holds | loses |\n| --- | --- | --- |\n")
	for _, f := range Formats {
		loses := f.Loses
		if loses == "" {
			loses = "nothing"
		}
		fmt.Fprintf(&b, "| %s | %s | %s |\n", f.Title, f.Holds, loses)
	}
	return b.String()
}

// document is the page on the tables: docs/data.md, made from the tables themselves.
func document() string {
	var b strings.Builder
	fmt.Fprintf(&b, `# The data model

Made by the program itself from its tables (`+"`go test ./journal/exchange/dataset -run Document -update`"+`). Schema version %s.

One model for every machine format. SQLite, Parquet, Data Package and JSON Lines are complete: `+"`wj import`"+` restores the
journal from them. CSV, WQX and GeoJSON are views of the table `+"`results`"+`: `+"`wj import`"+` brings back the results that
they hold.

## Three layers

- **Facts** are what the files state. A value stays as typed (`+"`*_typed`"+`), and what it means is beside it. The facts alone
  restore the records.
- **Results** follow from facts, settings and the version of the program: values in one unit, uncertainty, derived values.
- **Lists** are the same in every journal: analytes, units, substances.

Approvals, what is due and what is proven depend on a date and a history. They are not in an export.

## What every table has in common

- Every row begins with `+"`journal_id`"+`, so that several journals fit into one database. It is `+"`journal:`"+` in wj.yaml. A journal
  without one gets it from its first commit.
- `+"`*_id`"+` names a record, `+"`*_no`"+` a position, `+"`is_*`"+` is 0 or 1. Units are in the name (`+"`_g`, `_l`, `_s`, `_m`, `_cel`, `_deg`, `_fraction`"+`) or in a
  column beside the value.
- A time has four columns: as typed with its offset, `+"`_utc`"+`, `+"`_unix`"+` (seconds since 1970), `+"`_on`"+` (the day in the journal's zone).
- A record that is named and not there has a row with `+"`record_state`"+` missing, so that every reference holds.
- **Bounds.** A result of <5 mg/L has no `+"`result_value`"+`. `+"`known_low`"+` and `+"`known_high`"+` are what it leaves possible: 0 and 5. Of an
  exact value both are the value. Where the medians of the two agree the median is a number; otherwise it is a bound.
  `+"`low95`"+` and `+"`high95`"+` are the value less and plus twice its standard uncertainty.

## What the formats keep

%s
Photos and certificates are files beside the records. Tables hold their SHA-256; the files are copied by hand.

`+"`wj export --changed-since COMMIT`"+` holds the records that changed and all that depend on them. To take it in: delete what it
delivers and what is in `+"`tombstones`"+`, by record, then insert, in one transaction. Its `+"`since_commit_sha`"+` must be the `+"`commit_sha`"+`
of the export before.

An export with `+"`--owner`"+` holds that owner's records. Shared lots, meters, methods and people come without text, price, supplier
and address. A reference to another owner's record names the id `+"`withheld`"+`.

Examples for SQLite, DuckDB, PostgreSQL, Python, R and Spark are in [larger.md](larger.md); a test runs them.

## Tables

`, SchemaVersion, formatTable())
	for _, t := range AllTables() {
		fmt.Fprintf(&b, "### %s\n\n%s (%s)\n\n| column | type | what it is |\n| --- | --- | --- |\n", t.Name, journal.Capital(t.Doc)+".", t.Layer)
		for i, c := range t.Columns {
			name := c.Name
			if i < t.Key {
				name = "**" + name + "**"
			}
			kind := frictionlessTypes[c.Type]
			if c.Unit != "" {
				kind += ", " + c.Unit
			}
			doc := c.Doc
			if len(c.Enum) > 0 {
				doc += ": " + strings.Join(c.Enum, ", ")
			}
			if c.To != "" {
				doc += " → " + c.To
			}
			fmt.Fprintf(&b, "| %s | %s | %s |\n", name, kind, strings.ReplaceAll(doc, "|", `\|`))
		}
		b.WriteString("\n")
	}
	b.WriteString("## Views in SQLite\n\nThe same text runs in PostgreSQL and DuckDB. `postgresql.sql`, in a Data Package, makes the tables, loads them and makes the views.\n\n```sql\n" + strings.TrimSpace(viewsSQL) + "\n```\n")
	return b.String()
}
