package main

import (
	"runtime/debug"
	"strings"

	"wj/journal"
	"wj/render"
)

type versionCmd struct {
	Format string `enum:"text,json" default:"text" help:"${enum}; json also has the commit, the Go version and the journal format."`
	JSON   bool   `name:"json" help:"The same as --format json."`
}

// released and releasedCommit are set by a release (.goreleaser.yaml): the tag and its commit.
var released, releasedCommit string

// build is what the program knows of its own making (Go's build information); empty where it was built without it.
type build struct {
	version, commit, time, goVersion string
	modified                         bool // files were changed after the commit
}

func buildInfo() build {
	b := build{version: "unknown build", commit: releasedCommit}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return b
	}
	b.goVersion = strings.TrimPrefix(info.GoVersion, "go")
	if b.version = info.Main.Version; b.version == "" || b.version == "(devel)" {
		b.version = "development build"
	}
	if released != "" {
		b.version = released
	}
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			b.commit = s.Value
		case "vcs.time":
			b.time = s.Value
		case "vcs.modified":
			b.modified = s.Value == "true"
		}
	}
	return b
}

// version is the module's version, or that it has none.
func version() string { return "wj " + buildInfo().version }

func (c *versionCmd) Run(a *app) error {
	b := buildInfo()
	if c.Format == "text" && !c.JSON {
		return a.print(version() + "\n")
	}
	orNull := func(s string) any {
		if s == "" {
			return nil
		}
		return s
	}
	return a.document("version", render.Object{{Name: "version", Value: b.version}, {Name: "commit", Value: orNull(b.commit)}, {Name: "time", Value: orNull(b.time)},
		{Name: "modified", Value: b.modified}, {Name: "go", Value: orNull(b.goVersion)}, {Name: "format", Value: journal.Format}})
}
