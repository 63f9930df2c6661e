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
