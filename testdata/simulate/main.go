// Command simulate runs an invented brewery over years, with people who err, machines that stop and water that drifts, and holds
// the program to a ledger of what is true. One seed is one run, to the byte.
//
//	go run ./testdata/simulate -seed 7 -days 1095
package main

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"
)

func main() {
	var o options
	o.flags(flag.CommandLine)
	flag.StringVar(&o.binary, "binary", "", "the built `program`; built if absent")
	flag.StringVar(&o.server, "server", "", "the test binary of cmd/wj; built if absent")
	flag.StringVar(&o.keep, "keep", "", "leave what the run ended with, clones and keys, in this new `folder`")
	flag.BoolVar(&o.verbose, "v", false, "print each act")
	seeds := flag.Int("seeds", 1, "how many seeds are run, from the first on")
	shorter := flag.Bool("shrink", false, "look for the shortest run that fails in the same way")
	write := flag.String("write", "", "write the counts to this `file` as well")
	doc := flag.String("doc", "", "put the report, with its date, between the marks of this Markdown `file`")
	add := flag.Bool("sum", false, "print the report of the files with counts that are named")
	flag.Parse()
	if *add {
		if err := sumOf(flag.Args(), *doc); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(2)
		}
		return
	}
	if o.binary == "" || o.server == "" {
		folder, err := os.MkdirTemp("", "wj-simulate-")
		if err == nil {
			defer os.RemoveAll(folder)
			o.binary, o.server, err = build(folder)
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(2)
		}
	}
	for _, name := range []*string{&o.binary, &o.server} {
		if full, err := filepath.Abs(*name); err == nil {
			*name = full
		}
	}
	sum := newTotals()
	began := time.Now()
	for seed := o.seed; seed < o.seed+uint64(*seeds); seed++ {
		one := o
		one.seed = seed
		s, err := simulate(one)
		if err != nil {
			sum.Failures = append(sum.Failures, fmt.Sprintf("seed %d: %v\n  again: %s", seed, err, one.command()))
			fmt.Fprintln(os.Stderr, sum.Failures[len(sum.Failures)-1])
			if *shorter {
				one = shrink(one, err, func(text string) { fmt.Fprintln(os.Stderr, "  shrinks:", text) })
				fmt.Fprintln(os.Stderr, "  shortest:", one.command())
			}
		}
		sum.add(s)
		if o.verbose {
			fmt.Fprintf(os.Stderr, "seed %d: %s, %s\n", seed, s.digest(), time.Since(began).Round(time.Millisecond))
			for _, a := range s.ledger.alarms {
				if a.cause == nil {
					fmt.Fprintf(os.Stderr, "  day %d no cause: %s %s: %s\n", a.day, a.path, a.rule, a.text)
				}
			}
			for _, m := range s.ledger.mistakes {
				if m.found == 0 {
					fmt.Fprintf(os.Stderr, "  day %d not found: %s at %s %s %v gross=%v\n", m.day, m.kind, m.site, m.record, m.keys, m.gross)
				}
			}
		}
	}
	sum.Wall = time.Since(began)
	sum.print(os.Stdout)
	if *doc != "" {
		if err := sum.keep(*doc); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(2)
		}
	}
	if *write != "" {
		text, err := json.Marshal(sum)
		if err == nil {
			err = os.WriteFile(*write, text, 0o644)
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(2)
		}
	}
	if len(sum.Failures) > 0 {
		os.Exit(1)
	}
}

// flags are those that a run follows from: command writes them.
func (o *options) flags(f *flag.FlagSet) {
	list := func(to *[]string) func(string) error {
		return func(text string) error { *to = strings.Split(text, ","); return nil }
	}
	f.Uint64Var(&o.seed, "seed", 1, "the first `seed`")
	f.IntVar(&o.days, "days", 3*365, "how many days are simulated")
	f.IntVar(&o.share, "share", 0, "of how many commands one is run by the built program; 0 none")
	f.IntVar(&o.sabotage, "sabotage", 0, "the `day` on which a value is changed behind the program's back: the oracles must see it")
	f.BoolVar(&o.faults, "faults", false, "let machines and disks break, in copies of the journal")
	f.BoolVar(&o.strikes, "strike", false, "at the end let each fault strike each command that writes")
	f.Func("also", "do these misdeeds in every run: 40:lose,61:push", list(&o.also))
	f.Func("only", "do nothing but these acts, as a shrunk run names them", list(&o.only))
}

// command replays a run.
func (o options) command() string {
	text := fmt.Sprintf("go run ./testdata/simulate -seed %d -days %d", o.seed, o.days)
	if o.share > 0 {
		text += fmt.Sprintf(" -share %d", o.share)
	}
	if o.faults {
		text += " -faults"
	}
	if o.strikes {
		text += " -strike"
	}
	if o.sabotage > 0 {
		text += fmt.Sprintf(" -sabotage %d", o.sabotage)
	}
	if o.also != nil {
		text += " -also " + strings.Join(o.also, ",")
	}
	if o.only != nil {
		text += " -only " + strings.Join(o.only, ",")
	}
	return text
}

// sumOf prints the report of many runs together.
func sumOf(names []string, doc string) error {
	sum := newTotals()
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			return err
		}
		one := newTotals()
		if err := json.Unmarshal(text, one); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		sum.join(one)
	}
	sum.print(os.Stdout)
	if doc != "" {
		return sum.keep(doc)
	}
	return nil
}
