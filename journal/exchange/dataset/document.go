package dataset

// Format is a form of an export: what it holds, and what of the journal it has no place for.
type Format struct{ Name, Title, Holds, Loses string }

// lost is what no view has.
const lost = "every record but sessions with results; of these notes, remarks, amendments, methods, and what refers to other records"

// Formats are those of wj export; the complete ones lose nothing.
var Formats = []Format{
	{"sqlite", "SQLite", "all tables, keys, constraints, indexes, views", ""},
	{"parquet", "Parquet folder", "all tables; results, readings and sessions parted as `journal=/year=`", ""},
	{"datapackage", "Data Package", "all tables as CSV, keys without journal_id", ""},
	{"jsonl", "JSON Lines", "a line a record: fields as typed, file, results, references", ""},
	{"csv", "CSV", "results with what is asked of their session most often", lost + "; where it was sampled"},
	{"csv --wide", "CSV --wide", "a row a session", lost + "; where it was sampled, what was typed, uncertainty, replicates, dilution, lots, meters, when it was tested"},
	{"wqx", "WQX 3.0 (XML)", "sites as locations, sessions as activities, results with their 95 % limits, readings as typed in a comment", lost + "; values that the exchange has no name for"},
	{"wqx-csv", "WQX (CSV)", "the same results in the columns of the exchange's portal", lost + "; values that the exchange has no name for, uncertainty that was not typed"},
	{"geojson", "GeoJSON", "sessions with their values as properties", lost + "; uncertainty that was not typed"},
}

// Loses says what a format has no place for, "" where it is complete.
func Loses(name string) string {
	for _, f := range Formats {
		if f.Name == name {
			return f.Loses
		}
	}
	return ""
}
