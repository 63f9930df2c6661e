// Package exchange brings results into a journal and out of it: a journal in,
// bytes of an open format out; rows of a table in, drafts of records out. It
// opens no file, knows no Git and no clock.
//
// Out: tables of results (Table) as CSV, JSON Lines, SQLite, Parquet and Data
// Package, in long form (one row a result) and wide form (one row a session);
// GeoJSON, iCalendar, the column names of the water-quality exchange, a map as
// SVG, and a message with the sessions of one owner.
//
// In: a Sheet (CSV, TSV, XLSX) and a Mapping (which column is what, in which
// unit) give a Plan: the records to write and a verdict on every row.
//
// A bound is never given as a number. In every table a result of "<5 mg/L" has
// an empty value, "<" as its bound and 5 as its bound_value.
//
//	sheet, err := exchange.ReadDelimited(src, 0, "")                 // a laboratory's table
//	mapping, problems := exchange.ParseMapping("lab.yaml", yaml)     // which column is what
//	plan, missing := exchange.Import(j, mapping, sheet, exchange.ImportOptions{File: "results.csv", By: "jonas"})
//	for _, r := range plan.Records {
//		fmt.Println(r.Path) // nothing is written yet: package writer does that
//	}
package exchange
