package history

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	format "github.com/go-git/go-git/v5/plumbing/format/config"
)

// maxConfigSize bounds a configuration file that is read: git's own are a few
// kilobytes, and a repository may come from a stranger.
const maxConfigSize = 4 << 20

// readConfig parses one git configuration file. A file that does not exist is
// an empty configuration. Includes are not followed: git itself does not take
// extensions from an included file either (gitrepository-layout(5)).
func readConfig(name string) (*format.Config, error) {
	cfg := format.New()
	info, err := os.Stat(name)
	if os.IsNotExist(err) {
		return cfg, nil
	}
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() || info.Size() > maxConfigSize {
		return nil, fmt.Errorf("read %s: not a regular file of at most %d bytes", name, maxConfigSize)
	}
	raw, err := readRegular(name)
	if err != nil {
		return nil, err
	}
	if err := format.NewDecoder(bytes.NewReader(raw)).Decode(cfg); err != nil {
		return nil, fmt.Errorf("read %s: %w", name, err)
	}
	return cfg, nil
}

// setting gives the last value of section.key, "" where it is absent. git
// compares both names without regard to case.
func setting(cfg *format.Config, section, key string) string {
	value := ""
	for _, s := range cfg.Sections {
		if !s.IsName(section) {
			continue
		}
		for _, o := range s.Options {
			if strings.EqualFold(o.Key, key) {
				value = o.Value
			}
		}
	}
	return value
}

// isTrue reads a boolean as git-config(1) defines it, as far as extensions and
// remotes use it.
func isTrue(value string) bool {
	switch strings.ToLower(value) {
	case "true", "yes", "on", "1":
		return true
	}
	return false
}

// harmless lists the extensions that change nothing for a reader of objects
// and refs (git's documentation, technical/repository-version).
var harmless = map[string]bool{
	"noop": true, "noop-v1": true, "preciousobjects": true, "partialclone": true,
	"worktreeconfig": true, "relativeworktrees": true, "compatobjectformat": true,
}

// limitsOf says how the repository names objects and stores references, and what
// about it stops or narrows reading, from its configuration and the files in its
// common directory.
func limitsOf(cfg *format.Config, common string) (objects, references string, limits []Restriction) {
	objects, references = "sha1", "files"
	const rest = "; everything that needs only files still works, and recording goes through git"
	version, _ := strconv.Atoi(setting(cfg, "core", "repositoryformatversion"))
	if version > 1 {
		limits = append(limits, Restriction{"version", true, fmt.Sprintf("repository format version %d is newer than this program knows%s", version, rest)})
	}
	for _, s := range cfg.Sections {
		if !s.IsName("extensions") {
			continue
		}
		for _, o := range s.Options {
			key, value := strings.ToLower(o.Key), strings.ToLower(o.Value)
			switch {
			case key == "objectformat" && value == "sha1", key == "refstorage" && value == "files", harmless[key]:
			case key == "objectformat" && value == "sha256":
				objects = value
				limits = append(limits, Restriction{"sha256", false, "objects have SHA-256 names: history is read by the git program alone"})
			case key == "refstorage" && value == "reftable":
				references = value
				limits = append(limits, Restriction{"reftable", false, "references are stored as reftable: history is read by the git program alone (2.45 or newer)"})
			case version >= 1 || key == "objectformat" || key == "refstorage":
				limits = append(limits, Restriction{"extension", true, "repository extension " + strconv.Quote(o.Key) + " is not known" + rest})
			}
		}
	}
	partial := setting(cfg, "extensions", "partialclone") != ""
	for _, s := range cfg.Sections {
		if s.IsName("remote") {
			for _, sub := range s.Subsections {
				partial = partial || isTrue(sub.Option("promisor"))
			}
		}
	}
	if partial {
		limits = append(limits, Restriction{"partial", false, "partial clone: old file contents may be missing here; a full clone (without --filter) has them"})
	}
	if info, err := os.Stat(filepath.Join(common, "shallow")); err == nil && info.Size() > 0 {
		limits = append(limits, Restriction{"shallow", false, "shallow clone: history before its boundary is not here; fetch it with: git fetch --unshallow"})
	}
	if entries, _ := os.ReadDir(filepath.Join(common, "refs", "replace")); len(entries) > 0 {
		limits = append(limits, Restriction{"replace", false, "refs/replace is ignored: history is shown as it was recorded"})
	}
	return objects, references, limits
}

// safeDirectories gives the values of safe.directory from the system's and the
// user's configuration, as git does: never from the repository itself, and an
// empty value clears what came before (git-config(1), safe.directory).
func safeDirectories() []string {
	var files []string
	if os.Getenv("GIT_CONFIG_NOSYSTEM") == "" {
		system := os.Getenv("GIT_CONFIG_SYSTEM")
		if system == "" {
			system = "/etc/gitconfig"
		}
		files = append(files, system)
	}
	if global, ok := os.LookupEnv("GIT_CONFIG_GLOBAL"); ok {
		files = append(files, global)
	} else if home, err := os.UserHomeDir(); err == nil {
		xdg := os.Getenv("XDG_CONFIG_HOME")
		if xdg == "" {
			xdg = filepath.Join(home, ".config")
		}
		files = append(files, filepath.Join(xdg, "git", "config"), filepath.Join(home, ".gitconfig"))
	}
	var safe []string
	for _, name := range files {
		cfg, err := readConfig(name)
		if err != nil {
			continue
		}
		for _, s := range cfg.Sections {
			if !s.IsName("safe") {
				continue
			}
			for _, o := range s.Options {
				switch {
				case !strings.EqualFold(o.Key, "directory"):
				case o.Value == "":
					safe = nil
				default:
					safe = append(safe, o.Value)
				}
			}
		}
	}
	return safe
}

// isSafe says whether safe.directory lists the folder.
func isSafe(folder string, safe []string) bool {
	for _, s := range safe {
		if parent, ok := strings.CutSuffix(s, "/*"); ok && strings.HasPrefix(folder, parent+"/") {
			return true
		}
		if s == "*" || s == folder {
			return true
		}
	}
	return false
}
