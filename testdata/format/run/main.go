// Command run holds a reader of the journal format to the conformance suite:
//
//	go run ./testdata/format/run READER [ARGUMENT …]
//
// It starts READER once for each journal of testdata/format, gives it a question on standard input and reads its answer from
// standard output, both JSON (testdata/format/README.md). The exit status is 0 where all answers are right, otherwise 1.
package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"os/exec"

	"wj/testdata/format/suite"
)

func main() {
	dir := flag.String("suite", "testdata/format", "folder of the archives")
	flag.Parse()
	cases, err := suite.Cases(*dir)
	if err == nil && flag.NArg() == 0 {
		err = fmt.Errorf("name the reader: run READER [ARGUMENT …]")
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "run:", err)
		os.Exit(2)
	}
	wrong := 0
	for _, c := range cases {
		differs, err := ask(&c)
		switch {
		case err != nil:
			fmt.Printf("not ok %s\n%v\n", c.Name, err)
		case differs != "":
			fmt.Printf("not ok %s\n%s", c.Name, differs)
		default:
			fmt.Printf("ok %s\n", c.Name)
			continue
		}
		wrong++
	}
	if fmt.Printf("%d of %d right\n", len(cases)-wrong, len(cases)); wrong > 0 {
		os.Exit(1)
	}
}

func ask(c *suite.Case) (string, error) {
	question, err := json.Marshal(c.Question)
	if err != nil {
		return "", err
	}
	reader := exec.Command(flag.Arg(0), flag.Args()[1:]...)
	reader.Stdin, reader.Stderr = bytes.NewReader(question), os.Stderr
	out, err := reader.Output()
	if err != nil {
		return "", fmt.Errorf("the reader failed: %w", err)
	}
	var answer suite.Answer
	if err := json.Unmarshal(out, &answer); err != nil {
		return "", fmt.Errorf("the answer is no JSON: %w", err)
	}
	return c.Compare(answer)
}
