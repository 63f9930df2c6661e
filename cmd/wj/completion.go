package main

import (
	"fmt"
	"sort"
	"strings"

	"github.com/alecthomas/kong"

	"wj/journal"
	"wj/lint"
	"wj/render"
	"wj/water"
)

type completionCmd struct {
	Shell string `arg:"" enum:"bash,zsh,fish,words" help:"bash, zsh or fish; words prints what the other scripts ask for."`
	What  string `arg:"" optional:"" help:"With words: a kind of record, or record, analyte, rule, unit."`
}

func (c *completionCmd) Help() string {
	return "bash: source <(wj completion bash)\n    zsh: wj completion zsh > ~/.zfunc/_wj, with ~/.zfunc in fpath before compinit\n    fish: wj completion fish > ~/.config/fish/completions/wj.fish"
}

func (c *completionCmd) Run(a *app, k *kong.Kong) error {
	switch c.Shell {
	case "words":
		return a.print(strings.Join(append(a.words(c.What), ""), "\n"))
	case "zsh":
		return a.print(zshCompletion(k.Model))
	case "fish":
		return a.print(fishCompletion(k.Model))
	}
	return a.print(bashCompletion(k.Model))
}

// words lists what can stand in a place of the command line: ids come from the
// journal. Where there is none there are no words, and no complaint, since a
// shell asks while somebody is typing.
func (a *app) words(what string) []string {
	switch what {
	case "analyte":
		return water.Keys()
	case "rule":
		return append(lint.Names(), water.Keys()...)
	case "unit":
		return water.UnitNames()
	case "kind":
		var out []string
		for _, k := range journal.Kinds() {
			out = append(out, k.String())
		}
		return out
	}
	root, err := a.root()
	if err != nil {
		return nil
	}
	j, err := journal.Load(journal.Dir(root), journal.Options{})
	if err != nil {
		return nil
	}
	var out []string
	if what == "record" {
		for _, f := range j.Files {
			out = append(out, f.ID)
		}
	} else if kind, ok := journal.KindNamed(what); ok {
		out = j.IDs(kind)
	}
	safe := out[:0]
	for _, id := range out {
		if journal.ValidID(id, journal.KindLot) { // a shell would run what else a file may be called
			safe = append(safe, id)
		}
	}
	sort.Strings(safe)
	return safe
}

// wordsAfter tells which words a command's arguments and flags take, where
// their help alone does not: "command" or "command --flag" or "--flag".
var wordsAfter = map[string]string{
	"new": "kind", "ls": "kind", "schema": "kind", "show": "record", "amend": "record", "void": "record", "review": "record", "sign": "record",
	"log": "record", "blame": "record", "trace": "record", "diff": "record", "mail": "session", "verify": "record", "sheet": "change",
	"explain": "rule", "enter": "site", "method": "method", "chart": "analyte", "stats": "analyte", "completion": "",
	"--site": "site", "--owner": "owner", "--by": "", "--beer": "target", "--ions": "session", "--from": "site", "--to": "unit",
	"--change": "change", "--instrument": "instrument", "--tests": "analyte", "--lot": "lot",
}

// commandWords is one command as a completion needs it.
type commandWords struct {
	name, help, words string
	flags             []flagWords
}

type flagWords struct {
	long, help string
	short      rune
	takes      bool     // a value follows
	values     []string // the value is one of these
	words      string   // or one of the words of this kind
	file       bool
}

// commandList walks the command line's model.
func commandList(model *kong.Application) (global []flagWords, commands []commandWords) {
	for _, f := range model.Flags {
		global = append(global, flagOf(f, ""))
	}
	for _, n := range model.Children {
		if n.Hidden {
			continue
		}
		c := commandWords{name: n.Name, help: n.Help, words: wordsAfter[n.Name]}
		for _, p := range n.Positional {
			if p.Enum != "" && c.words == "" {
				c.words = "=" + strings.Join(p.EnumSlice(), " ")
			}
		}
		for _, f := range n.Flags {
			c.flags = append(c.flags, flagOf(f, n.Name))
		}
		commands = append(commands, c)
	}
	return global, commands
}

func flagOf(f *kong.Flag, command string) flagWords {
	w := flagWords{long: f.Name, help: f.Help, short: f.Short, takes: !f.IsBool(), file: f.PlaceHolder == "FILE" || f.PlaceHolder == "DIR"}
	if f.Enum != "" {
		w.values = f.EnumSlice()
	}
	w.words = wordsAfter["--"+f.Name]
	if command == "chart" && f.Name == "by" {
		w.values = []string{"site"}
	}
	return w
}

const completionHead = "# Completion for wj, made by wj completion %s from its own commands.\n"

// quoteShell writes a text so that a POSIX shell and fish both take it as one
// plain word (single quotes; fish also reads a backslash in them).
func quoteShell(s string) string {
	s = strings.NewReplacer("\\", "/", "'", "’", "\n", " ").Replace(s)
	return "'" + s + "'"
}

func (f flagWords) names() []string {
	out := []string{"--" + f.long}
	if f.short != 0 {
		out = append(out, "-"+string(f.short))
	}
	return out
}

func bashCompletion(model *kong.Application) string {
	global, commands := commandList(model)
	var b strings.Builder
	fmt.Fprintf(&b, completionHead, "bash")
	b.WriteString(`_wj() {
    local cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD-1]} cmd="" i dir=()
    for ((i = 1; i < COMP_CWORD; i++)); do
        case ${COMP_WORDS[i]} in
            -C | --dir) dir=(-C "${COMP_WORDS[i+1]}"); ((i++)) ;;
            -*) ;;
            *) cmd=${COMP_WORDS[i]}; break ;;
        esac
    done
    _wj_words() { mapfile -t COMPREPLY < <(compgen -W "$1" -- "$cur"); }
    _wj_ask() { _wj_words "$(wj "${dir[@]}" completion words "$1" 2>/dev/null)"; }
`)
	b.WriteString("    case $cmd:$prev in\n")
	flagCase := func(command string, f flagWords) {
		var patterns []string
		for _, n := range f.names() {
			patterns = append(patterns, command+":"+n)
		}
		do := ""
		switch {
		case !f.takes:
			return
		case len(f.values) > 0:
			do = "_wj_words " + quoteShell(strings.Join(f.values, " "))
		case f.words != "":
			do = "_wj_ask " + f.words
		case f.file:
			do = "mapfile -t COMPREPLY < <(compgen -f -- \"$cur\")"
		default:
			do = "COMPREPLY=()"
		}
		fmt.Fprintf(&b, "        %s) %s; return ;;\n", strings.Join(patterns, " | "), do)
	}
	for _, c := range commands {
		for _, f := range c.flags {
			flagCase(c.name, f)
		}
	}
	for _, f := range global {
		flagCase("*", f)
	}
	b.WriteString("    esac\n    case $cmd in\n")
	var all []string
	for _, c := range commands {
		all = append(all, c.name)
	}
	fmt.Fprintf(&b, "        '') _wj_words %s ;;\n", quoteShell(strings.Join(append(all, flagNames(global)...), " ")))
	for _, c := range commands {
		ask := "mapfile -t COMPREPLY < <(compgen -f -- \"$cur\")"
		if list, ok := strings.CutPrefix(c.words, "="); ok {
			ask = "_wj_words " + quoteShell(list)
		} else if c.words != "" {
			ask = "_wj_ask " + c.words
		}
		fmt.Fprintf(&b, "        %s) case $cur in -*) _wj_words %s ;; *) %s ;; esac ;;\n", c.name, quoteShell(strings.Join(flagNames(append(c.flags, global...)), " ")), ask)
	}
	b.WriteString("    esac\n}\ncomplete -F _wj wj\n")
	return b.String()
}

func flagNames(flags []flagWords) []string {
	var out []string
	for _, f := range flags {
		out = append(out, "--"+f.long)
	}
	return out
}

func zshCompletion(model *kong.Application) string {
	global, commands := commandList(model)
	var b strings.Builder
	b.WriteString("#compdef wj\n")
	fmt.Fprintf(&b, completionHead, "zsh")
	b.WriteString("_wj_ask() { local -a w; w=(${(f)\"$(wj $wj_dir completion words $1 2>/dev/null)\"}); compadd -a w }\n_wj() {\n    local -a commands wj_dir\n    local curcontext=$curcontext state line i\n" +
		"    for ((i = 1; i < $#words; i++)); do [[ $words[i] == (-C|--dir) ]] && wj_dir=(-C ${(Q)words[i+1]}); done\n    commands=(\n")
	for _, c := range commands {
		fmt.Fprintf(&b, "        %s\n", quoteShell(c.name+":"+c.help))
	}
	b.WriteString("    )\n    _arguments -C \\\n")
	for _, f := range global {
		zshFlag(&b, f)
	}
	b.WriteString("        '1:command:->command' '*::argument:->argument'\n    case $state in\n    command) _describe command commands ;;\n    argument)\n        case $words[1] in\n")
	for _, c := range commands {
		fmt.Fprintf(&b, "        %s) _arguments \\\n", c.name)
		for _, f := range c.flags {
			zshFlag(&b, f)
		}
		action := "_files"
		if list, ok := strings.CutPrefix(c.words, "="); ok {
			action = "(" + list + ")"
		} else if c.words != "" {
			action = "{_wj_ask " + c.words + "}"
		}
		fmt.Fprintf(&b, "            %s ;;\n", quoteShell("*:argument:"+action))
	}
	b.WriteString("        esac ;;\n    esac\n}\n[[ $zsh_eval_context[-1] == loadautofunc ]] && _wj \"$@\" || compdef _wj wj\n")
	return b.String()
}

func zshFlag(b *strings.Builder, f flagWords) {
	help := strings.NewReplacer("[", "(", "]", ")", ":", " -").Replace(f.help)
	action := ""
	switch {
	case !f.takes:
	case len(f.values) > 0:
		action = ":value:(" + strings.Join(f.values, " ") + ")"
	case f.words != "":
		action = ":value:{_wj_ask " + f.words + "}"
	case f.file:
		action = ":file:_files"
	default:
		action = ":value: "
	}
	for _, n := range f.names() {
		fmt.Fprintf(b, "            %s \\\n", quoteShell(n+"["+help+"]"+action))
	}
}

func fishCompletion(model *kong.Application) string {
	global, commands := commandList(model)
	var b strings.Builder
	fmt.Fprintf(&b, completionHead, "fish")
	var all []string
	for _, c := range commands {
		all = append(all, c.name)
	}
	fmt.Fprintf(&b, "set -l commands %s\n", strings.Join(all, " "))
	one := func(when string, f flagWords) {
		fmt.Fprintf(&b, "complete -c wj%s -l %s", when, f.long)
		if f.short != 0 {
			fmt.Fprintf(&b, " -s %c", f.short)
		}
		switch {
		case !f.takes:
		case len(f.values) > 0:
			fmt.Fprintf(&b, " -x -a %s", quoteShell(strings.Join(f.values, " ")))
		case f.words != "":
			fmt.Fprintf(&b, " -x -a '(wj completion words %s 2>/dev/null)'", f.words)
		case f.file:
			b.WriteString(" -r -F")
		default:
			b.WriteString(" -x")
		}
		fmt.Fprintf(&b, " -d %s\n", quoteShell(f.help))
	}
	for _, f := range global {
		one("", f)
	}
	for _, c := range commands {
		fmt.Fprintf(&b, "complete -c wj -f -n \"not __fish_seen_subcommand_from $commands\" -a %s -d %s\n", c.name, quoteShell(c.help))
		when := fmt.Sprintf(" -n \"__fish_seen_subcommand_from %s\"", c.name)
		if list, ok := strings.CutPrefix(c.words, "="); ok {
			fmt.Fprintf(&b, "complete -c wj -f%s -a %s\n", when, quoteShell(list))
		} else if c.words != "" {
			fmt.Fprintf(&b, "complete -c wj -f%s -a '(wj completion words %s 2>/dev/null)'\n", when, c.words)
		}
		for _, f := range c.flags {
			one(when, f)
		}
	}
	return render.Clean(b.String())
}
