package terminal

import (
	"bytes"
	"os/exec"
	"strings"
	"testing"
)

func TestPager(t *testing.T) {
	if _, err := exec.LookPath("tr"); err != nil {
		t.Skip("no tr here")
	}
	for text, want := range map[string]string{"a\na\n": "a\na\n", "a\na\na\na\n": "b\nb\nb\nb\n"} {
		var out bytes.Buffer
		p := &Pager{out: &out, height: 4, command: []string{"tr", "a", "b"}}
		for line := range strings.SplitAfterSeq(text, "\n") {
			if _, err := p.Write([]byte(line)); err != nil {
				t.Fatal(err)
			}
		}
		p.End()
		if out.String() != want {
			t.Errorf("%q became %q", text, out.String())
		}
	}
	for env, want := range map[string]string{"": "less", "cat": "", "more -d": "more -d"} {
		if got := strings.Join(pagerCommand(func(name string) string { return map[string]string{"PAGER": env}[name] }), " "); got != want {
			t.Errorf("PAGER=%s: %q", env, got)
		}
	}
}
