// Duckdb runs SQL in DuckDB and prints the rows of its last statement as CSV, as duckdb -csv -c does. It is for tests and measurements where
// the program itself is not installed: it comes as a Go module, which is one of its own, so that wj does not depend on it.
//
//	cd testdata/duckdb && go run . -c "select count(*) from 'lake/results/*/*/*.parquet'" [DATABASE]
package main

import (
	"database/sql"
	"encoding/csv"
	"flag"
	"fmt"
	"os"
	"time"

	_ "github.com/duckdb/duckdb-go/v2"
)

func main() {
	text := flag.String("c", "", "the SQL")
	flag.Bool("csv", true, "CSV: there is no other form here")
	flag.Parse()
	if err := run(*text, flag.Arg(0)); err != nil {
		fmt.Fprintln(os.Stderr, "duckdb:", err)
		os.Exit(1)
	}
}

func run(text, name string) error {
	db, err := sql.Open("duckdb", name)
	if err != nil {
		return err
	}
	defer db.Close()
	rows, err := db.Query(text)
	if err != nil {
		return err
	}
	defer rows.Close()
	heads, err := rows.Columns()
	if err != nil {
		return err
	}
	w := csv.NewWriter(os.Stdout)
	if err := w.Write(heads); err != nil {
		return err
	}
	values, texts := make([]any, len(heads)), make([]string, len(heads))
	for rows.Next() {
		for i := range values {
			values[i] = new(any)
		}
		if err := rows.Scan(values...); err != nil {
			return err
		}
		for i := range values {
			switch v := (*values[i].(*any)).(type) {
			case nil:
				texts[i] = ""
			case time.Time:
				texts[i] = v.Format("2006-01-02 15:04:05")
			default:
				texts[i] = fmt.Sprint(v)
			}
		}
		if err := w.Write(texts); err != nil {
			return err
		}
	}
	w.Flush()
	if err := rows.Err(); err != nil {
		return err
	}
	return w.Error()
}
