// Package usage writes what shells and manuals need to know of a program from the
// model of its command line: completion scripts, manual pages, and the pages of commands in Markdown.
//
//	usage.Completion{Model: k.Model, After: words}.Bash()
//	usage.Manual(k.Model)
//	usage.Markdown(k.Model.Children[0])
package usage

import (
	"fmt"
	"strings"

	"github.com/alecthomas/kong"

	"wj/render"
)

// Completion makes scripts that complete commands, flags and words. After tells
// which words an argument or a flag takes where its help alone does not: by
// "<argument>", "command", "--flag" or "command --flag", the sort of word that the
// script asks the program for (wj completion words SORT), or the words themselves
// behind "=". The one with the command's name counts before the others.
type Completion struct {
	Model *kong.Application
	After map[string]string
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

// list walks the command line's model.
func (c Completion) list() (global []flagWords, commands []commandWords) {
	for _, f := range c.Model.Flags {
		global = append(global, c.flagOf(f, ""))
	}
	for _, n := range c.Model.Children {
		if n.Hidden {
			continue
		}
		one := commandWords{name: n.Name, help: n.Help}
		if words, ok := c.After[n.Name]; ok {
			one.words = words
		} else if len(n.Positional) > 0 {
			one.words = c.After["<"+n.Positional[0].Name+">"]
		}
		for _, p := range n.Positional {
			if p.Enum != "" && one.words == "" {
				one.words = "=" + strings.Join(p.EnumSlice(), " ")
			}
		}
		for _, f := range n.Flags {
			one.flags = append(one.flags, c.flagOf(f, n.Name))
		}
		commands = append(commands, one)
	}
	return global, commands
}

func (c Completion) flagOf(f *kong.Flag, command string) flagWords {
	w := flagWords{long: f.Name, help: f.Help, short: f.Short, takes: !f.IsBool(), file: f.PlaceHolder == "FILE" || f.PlaceHolder == "DIR"}
	if f.Enum != "" {
		w.values = f.EnumSlice()
	}
	w.words = c.After["--"+f.Name]
	if words, ok := c.After[command+" --"+f.Name]; ok {
		w.words = words
	}
	if list, ok := strings.CutPrefix(w.words, "="); ok {
		w.words, w.values = "", strings.Fields(list)
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

// Bash is the script for bash.
func (c Completion) Bash() string {
	global, commands := c.list()
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

// Zsh is the script for zsh.
func (c Completion) Zsh() string {
	global, commands := c.list()
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

// Fish is the script for fish.
func (c Completion) Fish() string {
	global, commands := c.list()
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
