package history

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	format "github.com/go-git/go-git/v5/plumbing/format/config"

	"wj/journal"
)

// Place says where a journal lies in its Git repository. All folders are
// absolute, with symbolic links resolved.
type Place struct {
	Journal   string        // the folder that was asked about
	Top       string        // top of the working tree
	Prefix    string        // slash path from Top to Journal, "" where they are the same
	GitDir    string        // per working tree: HEAD, index
	CommonDir string        // shared by all working trees: objects, refs, config
	Bare      bool          // there is no working tree: the journal can be read at a revision alone
	Linked    bool          // a linked working tree (git worktree add)
	Branch    string        // short name of the checked-out branch, "" where HEAD is detached
	State     string        // operation under way: "", merge, rebase, am, cherry-pick, revert, bisect
	Format    string        // how objects are named: sha1 or sha256
	RefFormat string        // how references are stored: files or reftable
	Limits    []Restriction // what cannot be read, or is read with a restriction
	explicit  bool          // found by GIT_DIR, not by looking upwards
}

// Restriction is something about the repository that stops or narrows reading.
type Restriction struct {
	Name    string // version, extension; sha256, reftable, partial, shallow, replace, owner
	Stops   bool   // history cannot be read at all
	Message string // one plain sentence
}

// FindBare is [Find] where dir is in a repository without a working tree.
func FindBare(dir string) (Place, bool) {
	abs, err := filepath.Abs(dir)
	if err != nil || !new(Place).bareAbove(abs) {
		return Place{}, false
	}
	p, err := Find(dir)
	return p, err == nil
}

// Find says where the repository of the folder dir is. It looks upwards from
// dir as git does, honouring GIT_DIR and GIT_WORK_TREE where they lead to a
// working tree that holds dir, and GIT_CEILING_DIRECTORIES. Where dir is at or
// below a repository without a working tree, it need not be there: it means a
// folder of what is committed. No program is run.
// The error is [ErrNoRepository] where there is none; a repository that cannot
// be read is found all the same, and Limits says why.
func Find(dir string) (Place, error) {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return Place{}, fmt.Errorf("find the repository of %s: %w", dir, err)
	}
	p := Place{}
	if !p.bareAbove(abs) {
		if p.Journal, err = filepath.EvalSymlinks(abs); err != nil {
			return Place{}, fmt.Errorf("find the repository of %s: %w", dir, err)
		}
		if !p.fromEnvironment() && !p.lookUpwards() {
			return Place{}, &Trouble{Reason: ErrNoRepository, Doing: "find the repository of " + dir, Hint: "git init"}
		}
	}
	p.CommonDir = p.GitDir
	if raw, err := readRegular(filepath.Join(p.GitDir, "commondir")); err == nil {
		common := strings.TrimSpace(string(raw))
		if !filepath.IsAbs(common) {
			common = filepath.Join(p.GitDir, common)
		}
		p.CommonDir = filepath.Clean(common)
		p.Linked = true
	}
	cfg, err := readConfig(filepath.Join(p.CommonDir, "config"))
	if err != nil {
		return Place{}, fmt.Errorf("find the repository of %s: %w", dir, err)
	}
	p.useWorktreeSetting(cfg)
	rel, err := filepath.Rel(p.Top, p.Journal)
	if err != nil || rel == ".." || strings.HasPrefix(rel, ".."+string(filepath.Separator)) {
		return Place{}, &Trouble{Reason: ErrNoRepository, Doing: "find the repository of " + dir,
			Hint: "the repository at " + p.GitDir + " has its working tree at " + p.Top + ", which does not hold the journal"}
	}
	if rel != "." {
		p.Prefix = filepath.ToSlash(rel)
	}
	if raw, err := readRegular(filepath.Join(p.GitDir, "HEAD")); err == nil {
		if branch, ok := strings.CutPrefix(strings.TrimSpace(string(raw)), "ref: refs/heads/"); ok && branch != ".invalid" {
			p.Branch = branch
		}
	}
	p.State = stateOf(p.GitDir)
	p.Format, p.RefFormat, p.Limits = limitsOf(cfg, p.CommonDir)
	if (!ownedByUser(p.Top) || !ownedByUser(p.GitDir)) && !p.explicit && !isSafe(p.Top, safeDirectories()) {
		p.Limits = append(p.Limits, Restriction{"owner", false, "the repository belongs to another user: reading runs no program, and git refuses to commit until safe.directory names it"})
	}
	return p, nil
}

// fromEnvironment takes GIT_DIR and GIT_WORK_TREE where they lead to a working
// tree that holds the journal. Elsewhere they are left aside: a hook of one
// repository may well run a command on the journal of another.
func (p *Place) fromEnvironment() bool {
	dir := os.Getenv("GIT_DIR")
	if dir == "" {
		return false
	}
	gitDir, err := realPath(dir)
	if err != nil || !isGitDir(gitDir) {
		return false
	}
	tree := os.Getenv("GIT_WORK_TREE")
	if tree == "" {
		tree = "."
		if filepath.Base(gitDir) == ".git" {
			tree = filepath.Dir(gitDir)
		}
	}
	top, err := realPath(tree)
	if err != nil || (p.Journal != top && !strings.HasPrefix(p.Journal, strings.TrimSuffix(top, string(filepath.Separator))+string(filepath.Separator))) {
		return false
	}
	p.GitDir, p.Top, p.explicit = gitDir, top, true
	return true
}

// lookUpwards finds the nearest .git, a folder or a file that names one.
func (p *Place) lookUpwards() bool {
	ceilings := map[string]bool{}
	for _, c := range filepath.SplitList(os.Getenv("GIT_CEILING_DIRECTORIES")) {
		if real, err := realPath(c); err == nil && c != "" {
			ceilings[real] = true
		}
	}
	for dir := p.Journal; ; {
		if gitDir, ok := gitDirAt(filepath.Join(dir, ".git")); ok {
			p.GitDir, p.Top = gitDir, dir
			return true
		}
		parent := filepath.Dir(dir)
		if parent == dir || ceilings[parent] {
			return false
		}
		dir = parent
	}
}

// bareAbove finds a repository without a working tree at or above a folder,
// which may be one that is only in its commits: water.git/north means the folder
// north of what is committed in water.git.
func (p *Place) bareAbove(abs string) bool {
	for at := abs; ; at = filepath.Dir(at) {
		for _, working := range []string{".git", journal.SettingsFile} { // in a working tree what looks like a repository is only a folder
			if _, err := os.Lstat(filepath.Join(at, working)); err == nil || filepath.Base(at) == ".git" {
				return false
			}
		}
		if real, err := filepath.EvalSymlinks(at); err == nil && isGitDir(real) {
			cfg, err := readConfig(filepath.Join(real, "config"))
			if err != nil || !strings.EqualFold(setting(cfg, "core", "bare"), "true") {
				return false
			}
			below, err := filepath.Rel(at, abs)
			if err != nil {
				return false
			}
			p.Bare, p.GitDir, p.Top, p.Journal = true, real, real, filepath.Join(real, below)
			return true
		}
		if parent := filepath.Dir(at); parent == at {
			return false
		}
	}
}

// gitDirAt resolves a .git folder or a "gitdir: PATH" file.
func gitDirAt(name string) (string, bool) {
	info, err := os.Stat(name)
	if err != nil {
		return "", false
	}
	target := name
	if info.Mode().IsRegular() && info.Size() < 1<<16 {
		raw, err := readRegular(name)
		if err != nil {
			return "", false
		}
		line, ok := strings.CutPrefix(strings.TrimRight(string(raw), "\r\n"), "gitdir: ")
		if !ok {
			return "", false
		}
		if target = line; !filepath.IsAbs(target) {
			target = filepath.Join(filepath.Dir(name), target)
		}
	}
	real, err := filepath.EvalSymlinks(target)
	return real, err == nil && isGitDir(real)
}

// isGitDir is git's own test, simplified: a HEAD, and objects and refs either
// here or in the common directory.
func isGitDir(dir string) bool {
	if _, err := os.Lstat(filepath.Join(dir, "HEAD")); err != nil {
		return false
	}
	if _, err := os.Stat(filepath.Join(dir, "commondir")); err == nil {
		return true
	}
	objects, err := os.Stat(filepath.Join(dir, "objects"))
	refs, err2 := os.Stat(filepath.Join(dir, "refs"))
	return err == nil && err2 == nil && objects.IsDir() && refs.IsDir()
}

// useWorktreeSetting honours core.worktree, which submodules use; GIT_WORK_TREE
// is stronger.
func (p *Place) useWorktreeSetting(cfg *format.Config) {
	tree := setting(cfg, "core", "worktree")
	if tree == "" || p.Bare || p.Linked || (p.explicit && os.Getenv("GIT_WORK_TREE") != "") {
		return
	}
	if !filepath.IsAbs(tree) {
		tree = filepath.Join(p.GitDir, tree)
	}
	if real, err := filepath.EvalSymlinks(tree); err == nil {
		p.Top = real
	}
}

// states lists the files by which git remembers an operation under way, the
// first match wins: a rebase stopped at a conflict also has a CHERRY_PICK_HEAD.
var states = []struct{ file, state string }{
	{"rebase-merge", "rebase"},
	{"rebase-apply/applying", "am"},
	{"rebase-apply", "rebase"},
	{"MERGE_HEAD", "merge"},
	{"CHERRY_PICK_HEAD", "cherry-pick"},
	{"REVERT_HEAD", "revert"},
	{"sequencer", "cherry-pick"},
	{"BISECT_LOG", "bisect"},
}

func stateOf(gitDir string) string {
	for _, s := range states {
		if _, err := os.Lstat(filepath.Join(gitDir, filepath.FromSlash(s.file))); err == nil {
			return s.state
		}
	}
	return ""
}

// Unreadable gives the first limit that stops reading as an error that
// satisfies errors.Is with [ErrUnsupported], nil where history can be read.
func (p Place) Unreadable() error {
	for _, l := range p.Limits {
		if l.Stops {
			return &Trouble{Reason: ErrUnsupported, Doing: "read the history of " + p.Top, Hint: l.Message}
		}
	}
	return nil
}

// needsGit says that the repository is of a kind that only the git program reads.
func (p Place) needsGit() bool { return p.Format != "sha1" || p.RefFormat != "files" }

func (p Place) withoutGit() error {
	kind := "SHA-256 object names"
	if p.RefFormat != "files" {
		kind = "references stored as " + p.RefFormat
	}
	hint := "it has " + kind + ", which only the git program reads: install git"
	switch {
	case untrusted.Load():
		hint = "it has " + kind + ", which only the git program reads, and --untrusted runs none"
	case p.foreign():
		hint = "it has " + kind + ", which only the git program reads, and it belongs to another user: git config --global --add safe.directory " + p.Top
	}
	return &Trouble{Reason: ErrUnsupported, Doing: "read the history of " + p.Top, Hint: hint + "; everything that needs only files still works"}
}

// foreign says that another user could have made the repository.
func (p Place) foreign() bool {
	return slices.ContainsFunc(p.Limits, func(l Restriction) bool { return l.Name == "owner" })
}

func realPath(name string) (string, error) {
	abs, err := filepath.Abs(name)
	if err != nil {
		return "", err
	}
	return filepath.EvalSymlinks(abs)
}
