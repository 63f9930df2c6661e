package main

import (
	"fmt"

	"wj/journal"
	"wj/journal/evidence"
	"wj/lint/server"
)

type lspCmd struct {
	Stdio bool `hidden:"" help:"Some editors add this; there is no other way of speaking."`
}

func (c *lspCmd) Help() string {
	return "Not for the command line: an editor starts it. It finds the journal of each file that is opened, shows what the linter finds while you type, " +
		"explains values and records, completes keys, ids and units, leads to the record that is named, and offers fixes. It never writes a file.\n\n" +
		"Exit status: 0 when the editor said shutdown and exit, 1 when it went away without, 2 when the connection broke."
}

func (c *lspCmd) Run(a *app) error {
	opt := server.Options{Version: version(), Now: a.Now, Pages: a.env("WJ_PAGES"), Mainline: func(j *journal.Journal, root string) (evidence.Facts, func()) {
		w := a.ProvenanceOrNone(j, root)
		return a.Facts(j, w), w.Close
	}}
	if a.env("WJ_TRACE") != "" {
		opt.Trace = a.stderr
	}
	clean, err := server.Serve(a.Context, a.stdin, a.stdout, opt)
	switch {
	case err != nil:
		return fmt.Errorf("serve the editor: %w", err)
	case !clean:
		return errFindings
	}
	return nil
}
