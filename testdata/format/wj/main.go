// Command wj answers one question of the conformance suite as wj reads a journal:
//
//	go build -o reader ./testdata/format/wj && go run ./testdata/format/run ./reader
package main

import (
	"encoding/json"
	"fmt"
	"os"

	"wj/testdata/format/reader"
	"wj/testdata/format/suite"
)

func main() {
	var q suite.Question
	var a suite.Answer
	err := json.NewDecoder(os.Stdin).Decode(&q)
	if err == nil {
		a, err = reader.Answer(q)
	}
	if err == nil {
		err = json.NewEncoder(os.Stdout).Encode(a)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "wj:", err)
		os.Exit(1)
	}
}
