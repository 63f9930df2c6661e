package exchange

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"wj/journal"
	"wj/journal/exchange/dataset"
)

// TestWQXFollowsItsSchema holds the document to the published schema with xmllint:
// ids and texts longer than it allows, a site without a place, a void session, bounds
// and characters that XML has no place for.
func TestWQXFollowsItsSchema(t *testing.T) {
	lint, err := exec.LookPath("xmllint")
	if err != nil {
		t.Skip("no xmllint here")
	}
	long := strings.Repeat("a-very-long-name-", 6)
	small := smallJournal(t, map[string]string{
		"sites/" + long + "1.md": "---\nname: " + strings.Repeat("Brunnen µ <&> ", 30) + "\nowner: quillmarsh\nstage: intake\nplace: [-55.123456789, 179.987654321]\n---\n",
		"sessions/2026/2026-03-06-" + long + "1.md": "---\nsite: " + long + "1\nsampled: 2026-03-06T08:15+02:00\nby: ines\nsource: lab\nlaboratory: " + strings.Repeat("Laboratory ", 12) +
			"\nvoid: {by: ines, on: 2026-03-07T09:00+02:00, reason: spilled}\nreadings:\n  sulfate: \">200 mg/L\"\n  temperature: 9.5 degC\n---\n",
	})
	whole, err := journal.Load(os.DirFS("../../example-journal"), journal.Options{Sessions: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, j := range []*journal.Journal{small, whole} {
		text := written(t, j, Export{Format: "wqx"}, dataset.Options{})
		valid := func(text string) (string, error) {
			name := filepath.Join(t.TempDir(), "out.xml")
			if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
			out, err := exec.Command(lint, "--noout", "--nonet", "--schema", "../../testdata/published/wqx-3.0.xsd", name).CombinedOutput()
			return string(out), err
		}
		if out, err := valid(text); err != nil {
			t.Errorf("%v\n%.2000s", err, out)
		}
		for _, part := range []string{"<TimeZoneCode>UTC</TimeZoneCode>", "<ProjectName>Quillmarsh Brewery</ProjectName>", "<ActivityMediaName>Water</ActivityMediaName>"} {
			if _, err := valid(strings.Replace(text, part, "", 1)); err == nil {
				t.Errorf("a document without its first %s is valid: the schema holds nothing", part)
			}
		}
	}
}
