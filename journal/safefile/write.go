// Package safefile writes the files of a journal so that nothing is lost: a reader, a crash
// or a full disk finds either the old bytes or the new ones, and bytes that somebody else
// wrote in the meantime are never overwritten.
//
//	unlock, err := safefile.Lock(folder)
//	defer unlock()
//	err = safefile.Write(path, old, content) // ErrChanged if the file is no longer old
package safefile

import (
	"bytes"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"
)

// TempPrefix starts the name of every temporary file. One that a crash left behind can be
// deleted.
const TempPrefix = ".wj-tmp-"

// ErrChanged says that the file no longer holds the bytes that the new ones were made from.
var ErrChanged = errors.New("the file changed in the meantime")

// ErrExists says that a file that was to be new is there already.
var ErrExists = errors.New("the file exists already")

// hook is called before each step; tests make it fail or kill the process there.
var hook = func(step) error { return nil }

// step is a point at which a write can be interrupted.
type step string

// The steps of a write, in order.
const (
	stepCreate  step = "create the temporary file"
	stepWrite   step = "write"
	stepSync    step = "flush"
	stepClose   step = "close"
	stepCompare step = "compare"
	stepPlace   step = "put into place"
	stepFolder  step = "flush the folder"
	stepDone    step = "done"
)

var steps = []step{stepCreate, stepWrite, stepSync, stepClose, stepCompare, stepPlace, stepFolder, stepDone}

// Write replaces the content of the file at path, which must be old, by content. Where old
// is nil the file must not exist and is made, with the folders above it; of two that make
// it at the same time one gets [ErrExists]. Mode bits are kept. A symbolic link, a device
// or a read-only file is refused. The bytes are flushed to the disk before Write returns.
//
// The errors wrap [ErrChanged], [ErrExists] or what the system reports. After an error the
// file is as it was, unless flushing the folder failed: then the new content is in place
// and the error says so.
//
// Two writers that both pass the last comparison within the same instant could still
// overwrite each other; hold [Lock] where that matters.
func Write(path string, old, content []byte) error {
	if err := write(path, old, content); err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	return nil
}

func write(path string, old, content []byte) error {
	folder := filepath.Dir(path)
	if old == nil {
		if err := absent(path); err != nil {
			return err
		}
		if err := makeFolders(folder); err != nil {
			return err
		}
	}
	mode := fs.FileMode(0)
	if old != nil {
		var err error
		if mode, err = compare(path, old); err != nil {
			return err
		}
	}
	temp, err := writeTemp(folder, content, mode)
	if err != nil {
		return err
	}
	defer os.Remove(temp) // after a rename there is nothing left to remove

	if err := hook(stepCompare); err != nil {
		return err
	}
	if old == nil {
		err = placeNew(temp, path)
	} else {
		err = placeOver(temp, path, old)
	}
	if err != nil {
		return err
	}
	if err := hook(stepFolder); err != nil {
		return fmt.Errorf("the new content is in place, but flushing the folder failed: %w", err)
	}
	if err := syncFolder(folder); err != nil {
		return fmt.Errorf("the new content is in place, but flushing the folder failed: %w", err)
	}
	return hook(stepDone)
}

// absent makes sure that nothing, not even a dangling link, is at path.
func absent(path string) error {
	_, err := os.Lstat(path)
	switch {
	case err == nil:
		return ErrExists
	case errors.Is(err, fs.ErrNotExist):
		return nil
	}
	return err
}

// compare makes sure that path is a regular file that holds old, and returns its mode.
func compare(path string, old []byte) (fs.FileMode, error) {
	info, err := os.Lstat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return 0, fmt.Errorf("%w: it is gone", ErrChanged)
	}
	if err != nil {
		return 0, err
	}
	switch {
	case info.Mode()&fs.ModeSymlink != 0:
		return 0, errors.New("it is a symbolic link; write to the file that it points to")
	case !info.Mode().IsRegular():
		return 0, errors.New("it is not a regular file")
	case info.Mode().Perm()&0o200 == 0:
		return 0, errors.New("it is read-only; make it writable first")
	case info.Size() != int64(len(old)):
		return 0, ErrChanged
	}
	file, err := os.Open(path)
	if err != nil {
		return 0, err
	}
	defer file.Close()
	if opened, err := file.Stat(); err != nil || !os.SameFile(info, opened) {
		return 0, errors.Join(ErrChanged, err)
	}
	now, err := io.ReadAll(io.LimitReader(file, int64(len(old))+1))
	if err != nil {
		return 0, err
	}
	if !bytes.Equal(now, old) {
		return 0, ErrChanged
	}
	return info.Mode(), nil
}

// writeTemp writes content to a new file in folder, flushed and closed. A mode of 0 is
// that of a new file (0666 less the umask).
func writeTemp(folder string, content []byte, mode fs.FileMode) (_ string, err error) {
	if err := hook(stepCreate); err != nil {
		return "", err
	}
	name := filepath.Join(folder, TempPrefix+randomName())
	perm := fs.FileMode(0o666)
	if mode != 0 {
		perm = 0o600
	}
	file, err := os.OpenFile(name, os.O_CREATE|os.O_EXCL|os.O_WRONLY, perm)
	if err != nil {
		return "", err
	}
	defer func() {
		if err != nil {
			file.Close()
			os.Remove(name)
		}
	}()
	if mode != 0 {
		if err := file.Chmod(mode.Perm() | mode&(fs.ModeSetuid|fs.ModeSetgid|fs.ModeSticky)); err != nil {
			return "", err
		}
	}
	if err := hook(stepWrite); err != nil {
		return "", err
	}
	if _, err := file.Write(content); err != nil {
		return "", err
	}
	if err := hook(stepSync); err != nil {
		return "", err
	}
	if err := file.Sync(); err != nil {
		return "", err
	}
	if err := hook(stepClose); err != nil {
		return "", err
	}
	return name, file.Close()
}

// oldTemp is how old a temporary file is that no writer is still working on.
const oldTemp = time.Hour

// Clean takes the temporary files out of a folder that a crash left there an hour ago or
// earlier. What cannot be taken away stays.
func Clean(folder string) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return
	}
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), TempPrefix) || !e.Type().IsRegular() {
			continue
		}
		if info, err := e.Info(); err == nil && time.Since(info.ModTime()) > oldTemp {
			_ = os.Remove(filepath.Join(folder, e.Name()))
		}
	}
}

func randomName() string {
	var b [8]byte
	rand.Read(b[:]) // never fails (crypto/rand, Go 1.24)
	return hex.EncodeToString(b[:])
}

// placeNew gives temp the name path, which must be free. A hard link does both at once:
// link(2) fails where the name is taken, which rename(2) does not (POSIX.1-2017).
func placeNew(temp, path string) error {
	if err := hook(stepPlace); err != nil {
		return err
	}
	err := os.Link(temp, path)
	switch {
	case err == nil:
		return nil
	case errors.Is(err, fs.ErrExist):
		return ErrExists
	}
	// A file system without hard links: reserve the name, then move the content there. A
	// crash between the two leaves an empty file, never half of one.
	reserved, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o666)
	if errors.Is(err, fs.ErrExist) {
		return ErrExists
	}
	if err != nil {
		return err
	}
	reserved.Close()
	if err := os.Rename(temp, path); err != nil {
		os.Remove(path)
		return err
	}
	return nil
}

// placeOver moves temp to path, comparing once more right before.
func placeOver(temp, path string, old []byte) error {
	if _, err := compare(path, old); err != nil {
		return err
	}
	if err := hook(stepPlace); err != nil {
		return err
	}
	return os.Rename(temp, path)
}

// makeFolders makes folder and those above it, each flushed into its parent.
func makeFolders(folder string) error {
	if info, err := os.Stat(folder); err == nil && info.IsDir() {
		return nil
	}
	parent := filepath.Dir(folder)
	if parent != folder {
		if err := makeFolders(parent); err != nil {
			return err
		}
	}
	if err := os.Mkdir(folder, 0o777); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	return syncFolder(parent)
}

// syncFolder flushes the names in folder, without which a crash can undo a rename
// (fsync(2), notes).
func syncFolder(folder string) error {
	if runtime.GOOS == "windows" {
		return nil // folders cannot be flushed there
	}
	file, err := os.Open(folder)
	if err != nil {
		return err
	}
	return errors.Join(file.Sync(), file.Close())
}
