package exchange

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"wj/journal"
	"wj/journal/exchange/dataset"
)

// Restoration is what became of the records of a complete export.
type Restoration struct {
	dataset.Header
	New      int                // records that the folder does not have
	Same     int                // records that it has, byte for byte
	Edited   []string           // new ones whose columns were changed after the export
	Differ   []string           // records that it has otherwise: they stay as they are
	Problems []*dataset.Problem // records that cannot be restored
}

// restoreBatch is how many records are handed on together.
const restoreBatch = 5000

// maxUnpacked bounds what an archive unpacks to.
const maxUnpacked = 8 << 30

// IsComplete reports whether a file or folder is a complete export, from which a
// journal can be restored.
func IsComplete(name string) bool { return dataset.Detect(name) != "" || isPackageZip(name) }

func isPackageZip(name string) bool {
	z, err := zip.OpenReader(name)
	if err != nil {
		return false
	}
	defer z.Close()
	for _, f := range z.File {
		if f.Name == "datapackage.json" {
			return true
		}
	}
	return false
}

// Restore reads a complete export and compares it with the folder. Of an export of several journals it takes journalID,
// which may be the beginning of one's id; if that is "", the journal that the folder holds. write, unless it is nil, gets the records that the folder does not have, some thousand at a time;
// memory does not grow with their number.
func Restore(folder fs.FS, name, journalID string, write func([]dataset.Record) error) (r Restoration, err error) {
	if isPackageZip(name) {
		dir, err := unpack(name)
		if err != nil {
			return r, err
		}
		defer os.RemoveAll(dir)
		name = dir
	}
	var batch []dataset.Record
	hand := func() error {
		if write == nil || len(batch) == 0 {
			return nil
		}
		err := write(batch)
		batch = batch[:0]
		return err
	}
	if journalID == "" {
		if s, err := journal.ReadSettings(folder); err == nil {
			journalID = s.Journal
		}
	} else if journalID, err = chosen(name, journalID); err != nil {
		return r, err
	}
	r.Header, err = dataset.Restore(name, journalID, func(record dataset.Record) error {
		old, err := fs.ReadFile(folder, record.Path)
		switch {
		case err == nil && bytes.Equal(old, record.Content):
			r.Same++
			return nil
		case err == nil && journal.Digest(old) == journal.Digest(record.Content):
			r.Same++
			return nil
		case err == nil:
			r.Differ = append(r.Differ, record.Path)
			return nil
		case !errors.Is(err, fs.ErrNotExist):
			return fmt.Errorf("compare %s: %w", record.Path, err)
		}
		r.New++
		if record.Edited {
			r.Edited = append(r.Edited, record.Path)
		}
		if write == nil {
			return nil
		}
		if batch = append(batch, record); len(batch) < restoreBatch {
			return nil
		}
		return hand()
	}, func(p *dataset.Problem) { r.Problems = append(r.Problems, p) })
	if err != nil {
		return r, err
	}
	return r, hand()
}

// chosen is the id of the one journal of an export that begins so.
func chosen(name, start string) (string, error) {
	ids, err := dataset.Journals(name)
	if err != nil {
		return "", err
	}
	var found []string
	for _, id := range ids {
		if id == start {
			return id, nil
		}
		if strings.HasPrefix(id, start) {
			found = append(found, id)
		}
	}
	if len(found) == 1 {
		return found[0], nil
	}
	return "", &dataset.Several{IDs: ids}
}

// unpack puts the tables of an archived Data Package into a temporary folder.
func unpack(name string) (dir string, err error) {
	z, err := zip.OpenReader(name)
	if err != nil {
		return "", err
	}
	defer z.Close()
	if dir, err = os.MkdirTemp("", "wj-"); err != nil {
		return "", err
	}
	left := int64(maxUnpacked)
	for _, f := range z.File {
		if f.Name != "datapackage.json" && (!strings.HasSuffix(f.Name, ".csv") || strings.ContainsAny(f.Name, `/\:`)) {
			continue
		}
		n, err := unpackFile(f, filepath.Join(dir, f.Name), left)
		if left -= n; err == nil && left <= 0 {
			err = fmt.Errorf("it unpacks to more than %d GiB", maxUnpacked>>30)
		}
		if err != nil {
			return "", errors.Join(fmt.Errorf("unpack %s of %s: %w", f.Name, name, err), os.RemoveAll(dir))
		}
	}
	return dir, nil
}

func unpackFile(f *zip.File, name string, limit int64) (n int64, err error) {
	in, err := f.Open()
	if err != nil {
		return 0, err
	}
	defer in.Close()
	out, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return 0, err
	}
	n, err = io.Copy(out, io.LimitReader(in, limit))
	return n, errors.Join(err, out.Close())
}
