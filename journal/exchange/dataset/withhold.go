package dataset

import (
	"slices"
	"strings"

	"wj/journal"
)

// withheld is the id that stands for a record of another owner, whose own id could name
// the client.
const withheld = "withheld"

// withhold takes the ids of records that are not exported out of a record's rows, and
// its text where it names one.
func (e *exporter) withhold(entry *Entry) {
	hidden := func(kind, id string) bool {
		k, ok := theKinds[kind]
		return ok && e.j.Exists(k, id) && !e.exported(k, id)
	}
	found := false
	entry.Rows = slices.DeleteFunc(entry.Rows, func(row Row) bool {
		t := row.Table
		if t == linksTable {
			return hidden(asText(row.Values[4]), asText(row.Values[5]))
		}
		for i, c := range t.Columns {
			text, ok := row.Values[i].(string)
			if !ok {
				continue
			}
			kind := c.To
			if strings.HasSuffix(c.Name, "_id") && i > 0 && t.Columns[i-1].Name == strings.TrimSuffix(c.Name, "_id")+"_kind" && i >= t.Key {
				kind = asText(row.Values[i-1])
			}
			if hidden(kind, text) {
				row.Values[i], found = withheld, true
			}
			if f, ok := journal.FileOf(text); c.Name == "path" && ok && t != recordsTable && hidden(f.Kind.Folder(), f.ID) {
				found = true
				return true
			}
		}
		return false
	})
	if !found {
		return
	}
	rows := rowsOf{}
	for _, row := range entry.Rows {
		rows[row.Table.Name] = append(rows[row.Table.Name], row.Values)
	}
	record := rows[recordsTable.Name][0]
	record[5], record[6], record[8] = nil, nil, int64(0)
	entry.Meaning = rows.meaning(entry.Kind)
	record[7] = digest(entry.Kind, entry.ID, entry.Meaning, asText(record[9]))
}
