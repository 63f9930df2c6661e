package main

import (
	"testing"

	"github.com/alecthomas/kong"
)

// A parser that is built for one command has its flags and arguments, and no other command.
func TestGrammarOfOneCommand(t *testing.T) {
	build := func(args ...string) *kong.Kong {
		parser, err := kong.New(grammar(new(commandLine), args), kong.Vars{"version": ""})
		if err != nil {
			t.Fatal(args, err)
		}
		return parser
	}
	whole := build().Model
	for _, n := range whole.Children {
		alone := build("-C", "lint", n.Name).Model
		switch len(alone.Children) {
		case len(whole.Children): // it asks for the parser, or nobody can type it
			if n.Name != "completion" && n.Name != "man" && n.Name != "explain" {
				t.Errorf("%s builds the grammar of all commands", n.Name)
			}
		case 1:
			if one := alone.Children[0]; one.Name != n.Name || len(one.Flags) != len(n.Flags) || len(one.Positional) != len(n.Positional) || len(alone.Flags) != len(whole.Flags) {
				t.Errorf("%s has another grammar alone", n.Name)
			}
		default:
			t.Errorf("%s: %d commands", n.Name, len(alone.Children))
		}
	}
}
