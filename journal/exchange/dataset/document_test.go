package dataset

import (
	flags "flag"
	"os"
	"testing"
)

var update = flags.Bool("update", false, "write docs/data.md")

// TestDocument: the page in docs is what the tables are.
func TestDocument(t *testing.T) {
	const name = "../../../docs/data.md"
	if *update {
		if err := os.WriteFile(name, []byte(Document()), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	page, err := os.ReadFile(name)
	if err != nil || string(page) != Document() {
		t.Errorf("%s is not what the tables are (%v): go test ./journal/exchange/dataset -run Document -update", name, err)
	}
}
