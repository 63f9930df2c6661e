package main

import (
	"os"

	"wj/journal/writer"
)

type hookCmd struct {
	Install hookInstallCmd `cmd:"" help:"Have git check the records of each commit before it is made."`
	Remove  hookRemoveCmd  `cmd:"" help:"Take that hook away again."`
}

type hookInstallCmd struct{}

type hookRemoveCmd struct{}

func (c *hookInstallCmd) Run(a *app) error {
	root, err := a.root()
	if err != nil {
		return err
	}
	return a.installHook(root)
}

func (a *app) installHook(root string) error {
	program, err := os.Executable()
	if err != nil {
		program = "wj"
	}
	return writer.InstallHook(a.Context, root, program, a.say)
}

func (c *hookRemoveCmd) Run(a *app) error {
	root, err := a.root()
	if err != nil {
		return err
	}
	return writer.RemoveHook(a.Context, root, a.say)
}
