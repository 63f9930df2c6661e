package exchange

import (
	"archive/zip"
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/exchange/dataset"
	"wj/journal/safefile"
)

// Formats are what an export can be written in: complete ones, from which the
// journal can be restored, and views.
var (
	CompleteFormats = []string{"sqlite", "parquet", "datapackage", "jsonl"}
	ViewFormats     = []string{"csv", "geojson", "wqx", "wqx-csv"}
)

// Export says what is written where.
type Export struct {
	Format   string // one of CompleteFormats or ViewFormats
	Wide     bool   // csv: one row a session
	Raw      bool   // csv, wqx-csv: no apostrophe before what a spreadsheet would run
	Output   string // a file, or for parquet and datapackage a folder (datapackage: or a .zip); "" or - for standard output
	Stdout   io.Writer
	Progress func(done int) // called now and then; may be nil
}

// ErrNeedsName says that a format cannot go to standard output.
var ErrNeedsName = errors.New("it is written to a folder: name one")

// Source is one journal of an export: what several are called, and what of it goes.
type Source struct {
	Name    string
	Records int
	*journal.Journal
	dataset.Options
}

// Write exports a journal, or several in the formats that hold more than one: each row
// says whose it is. What is at Output is replaced as a whole, once all is written. notes
// say what was left out.
func (x *Export) Write(list []Source) (notes []string, err error) {
	names := map[string]string{} // by id
	before := 0
	for i, s := range list {
		if x.Progress != nil {
			from := before
			list[i].Progress = func(done int) { x.Progress(from + done) }
			before += s.Records
		}
		if was, there := names[s.JournalID]; there {
			return nil, journal.Hint("export one of them; or if one began as a copy of the other and is a journal of its own now, give it another journal: in wj.yaml", "%s and %s are one journal, %s: two copies of it do not go into one export", was, s.Name, s.JournalID)
		}
		if names[s.JournalID] = s.Name; !safeName(s.JournalID) {
			return nil, fmt.Errorf("the journal's id %q cannot be the name of a folder: give it letters, digits and hyphens in wj.yaml", s.JournalID)
		}
	}
	if !x.toStdout() {
		if err := journal.Outside(x.Output); err != nil {
			return nil, err
		}
	}
	switch x.Format {
	case "parquet":
		return x.parquet(list)
	case "sqlite":
		return x.sqlite(list)
	}
	if len(list) != 1 {
		return nil, fmt.Errorf("%s is of one journal, and here are %d", x.Format, len(list))
	}
	j, opt := list[0].Journal, list[0].Options
	if x.Format == "datapackage" {
		return x.dataPackage(j, opt)
	}
	err = x.stream(func(w io.Writer) error {
		notes, err = x.text(w, j, opt)
		return err
	})
	return notes, err
}

// text writes the formats that are one stream of text.
func (x *Export) text(w io.Writer, j *journal.Journal, opt dataset.Options) ([]string, error) {
	switch x.Format {
	case "jsonl":
		return dataset.Export(j, opt, dataset.NewJSONLines(w))
	case "geojson":
		return dataset.Export(j, opt, NewGeoJSON(w, j, opt.Origin))
	case "wqx":
		first := NewWQX(j)
		silent := opt
		silent.Progress = nil
		if _, err := dataset.Export(j, silent, first); err != nil {
			return nil, err
		}
		notes, err := dataset.Export(j, opt, first.Document(w, opt.Origin))
		if first.LeftOut > 0 {
			notes = append(notes, journal.Count(first.LeftOut, "value")+" left out: the exchange has no characteristic for such")
		}
		if first.NoPlace > 0 {
			notes = append(notes, journal.Count(first.NoPlace, "site")+" without a place: the exchange has no location for them, and their sessions name them in a comment")
		}
		return notes, err
	case "wqx-csv":
		sink := NewWaterQuality(w, x.Raw, j, opt.Origin)
		notes, err := dataset.Export(j, opt, sink)
		if sink.LeftOut > 0 {
			notes = append(notes, journal.Count(sink.LeftOut, "value")+" left out: the exchange has no characteristic for such")
		}
		return notes, err
	case "csv":
		if !x.Wide {
			return dataset.Export(j, opt, NewCSV(w, x.Raw, opt.Origin))
		}
		first := NewWide(j)
		silent := opt
		silent.Progress = nil
		if _, err := dataset.Export(j, silent, first); err != nil {
			return nil, err
		}
		return dataset.Export(j, opt, first.Rows(w, x.Raw, opt.Origin))
	}
	return nil, fmt.Errorf("there is no format %q", x.Format)
}

func (x *Export) toStdout() bool { return x.Output == "" || x.Output == "-" }

// stream writes to standard output, or to a file that is put into place when it
// is whole. What is no regular file, such as a pipe, is written to as it is.
func (x *Export) stream(write func(io.Writer) error) error {
	if x.toStdout() {
		return write(x.Stdout)
	}
	info, err := os.Lstat(x.Output)
	switch {
	case err == nil && info.IsDir():
		return fmt.Errorf("%s is a folder: name a file in it", x.Output)
	case err == nil && info.Mode()&os.ModeSymlink == 0 && !info.Mode().IsRegular():
		f, err := os.OpenFile(x.Output, os.O_WRONLY, 0)
		if err != nil {
			return err
		}
		return errors.Join(write(f), f.Close())
	}
	return x.placed(func(temp string) error {
		f, err := os.OpenFile(temp, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
		if err != nil {
			return err
		}
		out := bufio.NewWriterSize(f, 256<<10)
		err = write(out)
		return errors.Join(err, out.Flush(), f.Sync(), f.Close())
	})
}

// placed makes a file under a temporary name beside Output and puts it into place.
func (x *Export) placed(make func(temp string) error) error {
	dir, err := os.MkdirTemp(filepath.Dir(x.Output), safefile.TempPrefix)
	if err != nil {
		return fmt.Errorf("write %s: %w", x.Output, err)
	}
	defer os.RemoveAll(dir)
	temp := filepath.Join(dir, filepath.Base(x.Output))
	if err := make(temp); err != nil {
		return err
	}
	if err := os.Rename(temp, x.Output); err != nil {
		return fmt.Errorf("write %s: %w", x.Output, err)
	}
	return nil
}

// together exports journals into one sink.
func together(list []Source, sink dataset.Sink) (notes []string, err error) {
	all := dataset.NewTogether(sink)
	for _, s := range list {
		said, err := dataset.Export(s.Journal, s.Options, all)
		for _, n := range said {
			if len(list) > 1 {
				n = s.Name + ": " + n
			}
			notes = append(notes, n)
		}
		if err != nil {
			return notes, err
		}
	}
	return notes, all.Close()
}

func (x *Export) sqlite(list []Source) (notes []string, err error) {
	fill := func(temp string) error {
		sink, err := dataset.NewSQLite(temp)
		if err == nil {
			notes, err = together(list, sink)
		}
		return err
	}
	if !x.toStdout() {
		if info, err := os.Stat(x.Output); err == nil && !info.Mode().IsRegular() {
			return nil, fmt.Errorf("%s is not a regular file: name another", x.Output)
		}
		return notes, x.placed(fill)
	}
	dir, err := os.MkdirTemp("", "wj-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	temp := filepath.Join(dir, "water.db")
	if err := fill(temp); err != nil {
		return nil, err
	}
	f, err := os.Open(temp)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	_, err = io.Copy(x.Stdout, f)
	return notes, err
}

// parquet writes a folder. Where other journals are in it already, theirs stays:
// the folders of these are replaced, by an export of the same part.
func (x *Export) parquet(list []Source) ([]string, error) {
	if x.toStdout() {
		return nil, ErrNeedsName
	}
	for _, s := range list {
		if _, err := os.Stat(filepath.Join(x.Output, "exports", partition(s))); err == nil && s.Since != "" {
			return nil, fmt.Errorf("%s holds an export of this journal, which changes alone would replace: name another folder", x.Output)
		}
		switch was, err := dataset.PartOf(x.Output, s.JournalID); {
		case err != nil:
			return nil, err
		case was != "" && was != s.Part():
			return nil, journal.Hint("name another folder, or remove this one first", "%s holds %s, and this export is of %s", x.Output, was, s.Part())
		}
	}
	if err := os.MkdirAll(x.Output, 0o777); err != nil {
		return nil, fmt.Errorf("make the folder %s: %w", x.Output, err)
	}
	temp, err := os.MkdirTemp(x.Output, safefile.TempPrefix)
	if err != nil {
		return nil, fmt.Errorf("write to %s: %w", x.Output, err)
	}
	defer os.RemoveAll(temp)
	notes, err := together(list, dataset.NewParquet(temp))
	if err != nil {
		return nil, err
	}
	for _, t := range dataset.AllTables() {
		if t.Columns[0].Name != "journal_id" {
			if err := replace(filepath.Join(temp, t.Name), filepath.Join(x.Output, t.Name)); err != nil {
				return nil, err
			}
			continue
		}
		for _, s := range list {
			if err := replace(filepath.Join(temp, t.Name, partition(s)), filepath.Join(x.Output, t.Name, partition(s))); err != nil {
				return nil, err
			}
		}
	}
	return notes, nil
}

// partition is the folder of a journal's rows below that of a table.
func partition(s Source) string { return "journal=" + s.JournalID }

// replace puts a folder in the place of another; a table without rows has none.
func replace(from, to string) error {
	if err := os.RemoveAll(to); err != nil {
		return fmt.Errorf("replace %s: %w", to, err)
	}
	if _, err := os.Stat(from); err != nil {
		return nil
	}
	if err := os.MkdirAll(filepath.Dir(to), 0o777); err != nil {
		return err
	}
	if err := os.Rename(from, to); err != nil {
		return fmt.Errorf("replace %s: %w", to, err)
	}
	return nil
}

// dataPackage writes a folder, or an archive of it.
func (x *Export) dataPackage(j *journal.Journal, opt dataset.Options) ([]string, error) {
	title := "Water journal"
	if j.Settings.Name != "" {
		title += " of " + j.Settings.Name
	}
	info, err := os.Stat(x.Output)
	isFolder := strings.HasSuffix(x.Output, "/") || strings.HasSuffix(x.Output, string(filepath.Separator)) || err == nil && info.IsDir()
	parent := os.TempDir()
	if isFolder {
		if err := os.MkdirAll(x.Output, 0o777); err != nil {
			return nil, fmt.Errorf("make the folder %s: %w", x.Output, err)
		}
		parent = x.Output
	}
	temp, err := os.MkdirTemp(parent, safefile.TempPrefix)
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(temp)
	notes, err := dataset.Export(j, opt, dataset.NewDataPackage(temp, title, opt.Origin))
	if err != nil {
		return nil, err
	}
	names := []string{"datapackage.json", "postgresql.sql"}
	for _, t := range dataset.AllTables() {
		names = append(names, t.Name+".csv")
	}
	if !isFolder {
		return notes, x.stream(func(w io.Writer) error { return zipFiles(w, temp, names, opt) })
	}
	for _, name := range slices.Backward(names) { // the description last
		if err := os.Rename(filepath.Join(temp, name), filepath.Join(x.Output, name)); err != nil {
			return nil, fmt.Errorf("write %s: %w", name, err)
		}
	}
	return notes, nil
}

// zipFiles packs files of a folder; the same files and commit give the same bytes.
func zipFiles(w io.Writer, dir string, names []string, opt dataset.Options) error {
	z := zip.NewWriter(w)
	for _, name := range names {
		f, err := os.Open(filepath.Join(dir, name))
		if err != nil {
			return err
		}
		into, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: opt.Time.UTC()})
		if err == nil {
			_, err = io.Copy(into, f)
		}
		if err = errors.Join(err, f.Close()); err != nil {
			return fmt.Errorf("pack %s: %w", name, err)
		}
	}
	return z.Close()
}
