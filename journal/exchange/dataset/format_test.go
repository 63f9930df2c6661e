package dataset_test

import (
	"encoding/json"
	"flag"
	"os"
	"testing"

	"wj/testdata/format/reader"
	"wj/testdata/format/suite"
)

// TestFormat: the files of format 1 mean what testdata/format says, for this program as for any other that reads them. The
// questions and answers go through JSON, as those of another program do.
func TestFormat(t *testing.T) {
	cases, err := suite.Cases("../../../testdata/format")
	if err != nil || len(cases) < 10 {
		t.Fatal(len(cases), err)
	}
	update := flag.Lookup("update").Value.String() == "true"
	for _, c := range cases {
		t.Run(c.Name, func(t *testing.T) {
			var q suite.Question
			var got suite.Answer
			text, err := json.Marshal(c.Question)
			if err == nil {
				err = json.Unmarshal(text, &q)
			}
			if err == nil {
				got, err = reader.Answer(q)
			}
			if err != nil {
				t.Fatal(err)
			}
			if update {
				name, text, err := c.Keep(got)
				if err == nil {
					err = os.WriteFile(name, text, 0o666)
				}
				if err != nil {
					t.Fatal(err)
				}
				return
			}
			if text, err = json.Marshal(got); err == nil {
				err = json.Unmarshal(text, &got)
			}
			if differs, err2 := c.Compare(got); err != nil || err2 != nil || differs != "" {
				t.Errorf("%v %v\n%s", err, err2, differs)
			}
		})
	}
}
