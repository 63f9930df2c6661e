package main

import (
	"reflect"
	"strings"
)

// grammar is what the parser is built from: the command line with all commands, or, where the arguments name one, with
// that command alone, because the parser reads the tags of all flags of all commands before it looks at the arguments. It
// is cl itself under a type whose tags hide the rest. A command that asks for the parser is given the whole.
func grammar(cl *commandLine, args []string) any {
	for len(args) > 2 && args[0] == "-C" {
		args = args[2:]
	}
	if len(args) == 0 {
		return cl
	}
	t := reflect.TypeFor[commandLine]()
	fields, found := make([]reflect.StructField, t.NumField()), false
	for i := range fields {
		fields[i] = t.Field(i)
		_, command := fields[i].Tag.Lookup("cmd")
		name := fields[i].Tag.Get("name")
		if name == "" {
			name = strings.ToLower(fields[i].Name)
		}
		switch {
		case command && name != args[0]:
			fields[i].Tag = `kong:"-"`
		case command:
			run, ok := reflect.PointerTo(fields[i].Type).MethodByName("Run")
			if ok && run.Type.NumIn() > 2 {
				return cl
			}
			found = true
		}
	}
	if !found {
		return cl
	}
	return reflect.ValueOf(cl).Convert(reflect.PointerTo(reflect.StructOf(fields))).Interface()
}

// negative joins a number below zero to the flag before it: it is its value, to be judged as one.
func negative(args []string) (out []string) {
	for i, arg := range args {
		if arg == "--" {
			return append(out, args[i:]...)
		}
		flag := len(out) > 0 && strings.HasPrefix(out[len(out)-1], "--") && !strings.Contains(out[len(out)-1], "=")
		if flag && len(arg) > 1 && arg[0] == '-' && arg[1] >= '0' && arg[1] <= '9' {
			out[len(out)-1] += "=" + arg
			continue
		}
		out = append(out, arg)
	}
	return out
}
