package evidence

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"

	"wj/journal"
	"wj/journal/history"
)

// HistoryBundle and HistoryNote are the files of a bag that carry the history:
// a bundle of git, and which commit and folder of it the journal is.
const (
	HistoryBundle = "history.bundle"
	HistoryNote   = "history.txt"
)

// plumbing calls the user's git so that nothing that a repository names is run.
func plumbing(ctx context.Context, program, dir string, args ...string) *exec.Cmd {
	hardened := []string{"--no-pager", "--no-replace-objects", "-c", "core.hooksPath=" + os.DevNull, "-c", "core.fsmonitor=false", "-c", "pack.threads=1", "-c", "gc.auto=0", "-c", "maintenance.auto=false"}
	cmd := exec.CommandContext(ctx, program, append(hardened, args...)...)
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "GIT_NO_LAZY_FETCH=1", "GIT_TERMINAL_PROMPT=0", "GIT_OPTIONAL_LOCKS=0")
	return cmd
}

// BundleHistory writes the history of the checked-out commit, of the branch that
// judges and of all tags as git bundles it.
func BundleHistory(ctx context.Context, dir string, m *Mainline) ([]byte, error) {
	program, err := history.GitProgram("bundle the history")
	if err != nil {
		return nil, err
	}
	args := []string{"bundle", "create", "-q", "-", "HEAD", "--tags"}
	if m.base.Ref != "" {
		args = append(args, m.base.Ref)
	}
	if place := m.repo.Place(); place.Bare {
		dir = place.GitDir // the journal's folder is in its commits alone
	}
	cmd := plumbing(ctx, program, dir, args...)
	var out, complaint bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &complaint
	if err := cmd.Run(); err != nil {
		return nil, fmt.Errorf("bundle the history: %w: %s", err, strings.TrimSpace(complaint.String()))
	}
	return out.Bytes(), nil
}

// HistoryText is the note beside the bundle.
func HistoryText(m *Mainline) []byte {
	return fmt.Appendf(nil, "commit: %s\nbranch: %s\nfolder: %s\n", m.head.Hash, m.base.Ref, m.repo.Place().Prefix)
}

// OpenBundled reads the history that lies beside the data folder of an unpacked
// bag, into a temporary repository with the journal's files as they are; remove
// takes it away. ok is false where root is not in such a bag.
func OpenBundled(ctx context.Context, root string) (dir string, remove func(), ok bool, err error) {
	bag := filepath.Dir(root)
	for _, name := range []string{"bagit.txt", HistoryBundle, HistoryNote} {
		if info, err := os.Lstat(filepath.Join(bag, name)); err != nil || !info.Mode().IsRegular() {
			return "", nil, false, nil
		}
	}
	note, err := readSmall(journal.Dir(bag), HistoryNote)
	if err != nil {
		return "", nil, false, fmt.Errorf("read %s: %w", HistoryNote, err)
	}
	said := map[string]string{}
	for line := range strings.Lines(string(note)) {
		if key, value, ok := strings.Cut(line, ":"); ok {
			said[key] = strings.TrimSpace(value)
		}
	}
	folder := said["folder"]
	if folder != "" && (!fs.ValidPath(folder) || inGit(folder)) || strings.HasPrefix(said["commit"], "-") {
		return "", nil, false, errors.New("read history.txt: it names no folder and commit of a repository")
	}
	program, err := history.GitProgram("read " + HistoryBundle)
	if err != nil {
		return "", nil, false, &history.Trouble{Reason: history.ErrUnsupported, Doing: "read " + HistoryBundle, Hint: err.Error()}
	}
	top, err := os.MkdirTemp("", "wj-history-*")
	if err != nil {
		return "", nil, false, fmt.Errorf("read %s: %w", HistoryBundle, err)
	}
	remove = func() { _ = os.RemoveAll(top) }
	defer func() {
		if !ok {
			_ = os.RemoveAll(top)
		}
	}()
	format := "sha1"
	if head, err := headOf(filepath.Join(bag, HistoryBundle)); err == nil && bytes.Contains(head, []byte("@object-format=sha256")) {
		format = "sha256"
	}
	bundle, err := filepath.Abs(filepath.Join(bag, HistoryBundle))
	if err != nil {
		return "", nil, false, err
	}
	for _, args := range [][]string{
		{"init", "-q", "--template=", "--object-format=" + format, "--initial-branch=unpacked", "."},
		{"fetch", "-q", "--no-auto-gc", "--update-head-ok", "--no-write-fetch-head", "--", bundle, "+refs/*:refs/*", "+HEAD:refs/wj/head"},
		{"update-ref", "--no-deref", "HEAD", said["commit"]},
	} {
		if out, err := plumbing(ctx, program, top, args...).CombinedOutput(); err != nil {
			return "", nil, false, fmt.Errorf("unpack %s: git %s: %w: %s", HistoryBundle, args[0], err, strings.TrimSpace(string(out)))
		}
	}
	_ = plumbing(ctx, program, top, "update-ref", "-d", "refs/wj/head").Run()
	if said["branch"] != "" && strings.HasPrefix(said["branch"], "refs/heads/") {
		// On the branch that judged, the checked-out branch is that branch again.
		if out, err := plumbing(ctx, program, top, "rev-parse", "--verify", "-q", said["branch"]).Output(); err == nil && strings.TrimSpace(string(out)) == said["commit"] {
			_ = plumbing(ctx, program, top, "symbolic-ref", "HEAD", said["branch"]).Run()
		}
	}
	dir = filepath.Join(top, filepath.FromSlash(folder))
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", nil, false, fmt.Errorf("unpack %s: %w", HistoryBundle, err)
	}
	data := journal.Dir(root)
	if err := fs.WalkDir(data, ".", func(p string, _ fs.DirEntry, err error) error {
		if err == nil && inGit(p) {
			err = fmt.Errorf("%s: no bundle holds it", p)
		}
		return err
	}); err != nil {
		return "", nil, false, fmt.Errorf("unpack %s: %w", HistoryBundle, err)
	}
	if err := os.CopyFS(dir, data); err != nil {
		return "", nil, false, fmt.Errorf("unpack %s: %w", HistoryBundle, err)
	}
	return dir, remove, true, nil
}

// inGit reports whether a path leads into a folder of Git.
func inGit(p string) bool {
	return slices.ContainsFunc(strings.Split(p, "/"), func(part string) bool { return strings.EqualFold(part, ".git") })
}

func headOf(name string) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	head := make([]byte, 512)
	n, err := f.Read(head)
	return head[:n], err
}

// SignersFile lists the keys of people/ as ssh-keygen reads them (ssh-keygen(1),
// ALLOWED SIGNERS): each person's id, for the purpose of this program alone.
func SignersFile(j *journal.Journal) []byte {
	var b bytes.Buffer
	for _, p := range j.People.List {
		for _, k := range p.Keys {
			f := strings.Fields(k.Key)
			if len(f) < 2 || strings.Contains(k.Key, "BEGIN PGP") || p.Void != nil {
				continue
			}
			options := `namespaces="` + Namespace + `"`
			if !k.Until.IsZero() {
				options += `,valid-before="` + k.Until.AddDate(0, 0, 1).Format("20060102") + `"`
			}
			if k.Revoked != nil {
				fmt.Fprintf(&b, "# revoked on %s: what came before counts\n", journal.FormatDate(k.Revoked.On))
			}
			fmt.Fprintf(&b, "%s %s %s %s\n", p.ID, options, f[0], f[1])
		}
	}
	return b.Bytes()
}

// Only leaves of a report what is about the records that are kept: what was
// looked at besides is of the whole journal and shown to nobody else.
func (r *Report) Only(keep func(path string) bool, fact string) {
	var signoffs []Judged
	for _, s := range r.Signoffs {
		if keep(s.Signoff.Path) {
			signoffs = append(signoffs, s)
		}
	}
	kept := func(list []Finding) []Finding {
		var out []Finding
		for _, f := range list {
			if _, ok := journal.FileOf(f.Subject); ok && keep(f.Subject) {
				out = append(out, f)
			}
		}
		return out
	}
	r.Signoffs, r.Wrong, r.Unknown, r.Facts = signoffs, kept(r.Wrong), kept(r.Unknown), []string{fact}
}
