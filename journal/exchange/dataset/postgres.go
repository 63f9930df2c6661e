package dataset

import (
	"fmt"
	"slices"
	"strings"
)

// postgresSQL is what loads a Data Package into PostgreSQL with its program psql, in
// one transaction: the tables, where they are not there yet, and the rows. What was
// there of this journal is replaced; of an export of changes, the records that it holds
// and those that are gone.
func postgresSQL(o Origin) string {
	var b strings.Builder
	journal := "'" + strings.ReplaceAll(o.JournalID, "'", "''") + "'"
	b.WriteString("-- Loads this package into a PostgreSQL database, beside other journals: cd to this folder, then psql DATABASE -f postgresql.sql\n" +
		"\\set ON_ERROR_STOP on\nBEGIN;\nSELECT to_regclass('exports') IS NULL AS is_new \\gset\n\\if :is_new\n")
	for _, t := range AllTables() {
		b.WriteString(createTable(t, false) + ";\n")
	}
	for _, t := range AllTables() {
		for _, f := range foreignKeys(t) {
			fmt.Fprintf(&b, "ALTER TABLE %s ADD %s DEFERRABLE INITIALLY DEFERRED;\n", t.Name, f.sql())
		}
	}
	b.WriteString(indexSQL() + viewsSQL + "\\endif\n\n")
	for _, t := range AllTables() {
		fmt.Fprintf(&b, "CREATE TEMPORARY TABLE new_%s (LIKE %s) ON COMMIT DROP;\n\\copy new_%s FROM '%s.csv' WITH (FORMAT csv, HEADER true)\n", t.Name, t.Name, t.Name, t.Name)
	}
	if o.Since != "" {
		b.WriteString("\nCREATE TEMPORARY TABLE gone ON COMMIT DROP AS\n  SELECT record_kind, record_id FROM new_records UNION SELECT record_kind, record_id FROM new_tombstones;\n" +
			"DO $$ BEGIN\n  IF NOT EXISTS (SELECT FROM exports e JOIN new_exports n ON n.since_commit_sha = e.commit_sha AND n.journal_id = e.journal_id) THEN\n" +
			"    RAISE EXCEPTION 'these changes begin at a commit whose export is not in this database: load a full export';\n  END IF;\nEND $$;\n")
	}
	kinds := tableKinds()
	for _, t := range slices.Backward(AllTables()) {
		id, kind := idAt(t)
		where := "journal_id = " + journal
		switch {
		case !t.ownKey():
			continue
		case o.Since == "" || t == journalsTable || t.Name == "exports" || t.Name == "tombstones":
		case t.Name == "record_links":
			where += " AND (from_kind, from_id) IN (SELECT record_kind, record_id FROM gone)"
		case t == derivationsTable:
			where += " AND derivation_id IN (SELECT derivation_id FROM new_derivations)"
		case kind > 0:
			where += fmt.Sprintf(" AND (%s, %s) IN (SELECT record_kind, record_id FROM gone)", t.Columns[kind].Name, t.Columns[id].Name)
		default:
			where += fmt.Sprintf(" AND %s IN (SELECT record_id FROM gone WHERE record_kind = '%s')", t.Columns[id].Name, kinds[t.Name])
		}
		fmt.Fprintf(&b, "DELETE FROM %s WHERE %s;\n", t.Name, where)
	}
	for _, t := range AllTables() {
		fmt.Fprintf(&b, "INSERT INTO %s SELECT * FROM new_%s", t.Name, t.Name)
		if !t.ownKey() || o.Since != "" {
			b.WriteString(" ON CONFLICT DO NOTHING") // lists that other journals brought; records that are named alone
		}
		b.WriteString(";\n")
	}
	b.WriteString("COMMIT;\nANALYZE;\n")
	return b.String()
}

// tableKinds are the kinds of record that tables with an id alone are of.
func tableKinds() map[string]string {
	out := map[string]string{resultsTable.Name: "sessions"}
	for name := range theKinds {
		for _, t := range tablesOf(name) {
			if _, kind := idAt(t); kind == 0 {
				out[t.Name] = name
			}
		}
	}
	return out
}
