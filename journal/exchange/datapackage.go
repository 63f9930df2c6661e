package exchange

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"

	"wj/journal"
	"wj/render"
)

// File is a file of a folder or an archive: its name, without folders, and its
// content.
type File struct {
	Name    string
	Content []byte
}

// DataPackage describes tables so that they can be understood alone (Data
// Package and Table Schema, Frictionless Standards 1.0): datapackage.json, then
// one CSV file a table.
func DataPackage(j *journal.Journal, tables []Table, created time.Time) ([]File, error) {
	var files []File
	var resources []any
	for i := range tables {
		t := &tables[i]
		var b bytes.Buffer
		if err := t.WriteCSV(&b, false); err != nil {
			return nil, err
		}
		sum := sha256.Sum256(b.Bytes())
		files = append(files, File{t.Name + ".csv", b.Bytes()})
		resources = append(resources, render.Object{
			{Name: "name", Value: t.Name}, {Name: "path", Value: t.Name + ".csv"}, {Name: "description", Value: t.Doc},
			{Name: "profile", Value: "tabular-data-resource"}, {Name: "format", Value: "csv"}, {Name: "mediatype", Value: "text/csv"}, {Name: "encoding", Value: "utf-8"},
			{Name: "bytes", Value: b.Len()}, {Name: "hash", Value: "sha256:" + hex.EncodeToString(sum[:])},
			{Name: "dialect", Value: render.Object{{Name: "delimiter", Value: ","}, {Name: "lineTerminator", Value: "\r\n"}, {Name: "doubleQuote", Value: true}, {Name: "header", Value: true}}},
			{Name: "schema", Value: tableSchema(t)},
		})
	}
	title := "Water test results"
	if j.Settings.Name != "" {
		title += " of " + j.Settings.Name
	}
	text, err := render.JSON(render.Object{
		{Name: "profile", Value: "tabular-data-package"}, {Name: "name", Value: "water-results"}, {Name: "title", Value: title},
		{Name: "description", Value: "values in standard units and as they were typed; where only a bound is known the value is empty and the bound and its limit are given"},
		{Name: "created", Value: created.UTC().Format(time.RFC3339)}, {Name: "resources", Value: resources},
	})
	if err != nil {
		return nil, fmt.Errorf("describe the data package: %w", err)
	}
	return append([]File{{"datapackage.json", []byte(text + "\n")}}, files...), nil
}

// tableSchema is a table's schema: the type of each column and what it means.
func tableSchema(t *Table) render.Object {
	types := map[Type][2]string{Text: {"string", ""}, Real: {"number", ""}, Integer: {"integer", ""}, Flag: {"boolean", ""}, Moment: {"datetime", "any"}, Date: {"date", ""}}
	var fields, key []any
	for _, c := range t.Columns {
		field := render.Object{{Name: "name", Value: c.Name}, {Name: "type", Value: types[c.Type][0]}}
		if format := types[c.Type][1]; format != "" {
			field = append(field, render.Member{Name: "format", Value: format})
		}
		if c.Doc != "" {
			field = append(field, render.Member{Name: "description", Value: c.Doc})
		}
		if c.Unit != "" {
			field = append(field, render.Member{Name: "unit", Value: c.Unit})
		}
		fields = append(fields, field)
	}
	for _, k := range t.Key {
		key = append(key, k)
	}
	schema := render.Object{{Name: "fields", Value: fields}, {Name: "missingValues", Value: []any{""}}}
	if len(key) > 0 {
		schema = append(schema, render.Member{Name: "primaryKey", Value: key})
	}
	return schema
}

// Zip packs files into an archive; the same files and time give the same bytes.
func Zip(files []File, modified time.Time) ([]byte, error) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, f := range files {
		w, err := z.CreateHeader(&zip.FileHeader{Name: f.Name, Method: zip.Deflate, Modified: modified.UTC()})
		if err != nil {
			return nil, fmt.Errorf("pack %s: %w", f.Name, err)
		}
		if _, err := w.Write(f.Content); err != nil {
			return nil, fmt.Errorf("pack %s: %w", f.Name, err)
		}
	}
	if err := z.Close(); err != nil {
		return nil, fmt.Errorf("close the archive: %w", err)
	}
	return b.Bytes(), nil
}
