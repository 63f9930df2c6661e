//go:build unix

package docs

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// bench is a folder with wj on the PATH, the demo journal, and the programs of others.
type bench struct {
	dir string
	env []string
}

// newBench builds wj and the demo. The programs take seconds to start and some to
// build: WJ_PROGRAMS=1 runs what needs them.
func newBench(t *testing.T) *bench {
	t.Helper()
	if os.Getenv("WJ_PROGRAMS") == "" {
		t.Skip("WJ_PROGRAMS=1 runs it: it starts other programs")
	}
	b := &bench{dir: t.TempDir()}
	bin := filepath.Join(b.dir, "bin")
	t.Setenv("PATH", bin+string(os.PathListSeparator)+os.Getenv("PATH"))
	b.env = append(os.Environ(), "WJ_NOW=2026-10-01T09:00:00+03:00")
	if err := os.MkdirAll(bin, 0o755); err != nil {
		t.Fatal(err)
	}
	b.must(t, "..", "go", "build", "-o", filepath.Join(bin, "wj"), "./cmd/wj")
	b.must(t, b.dir, filepath.Join(bin, "wj"), "demo", "demo")
	return b
}

func (b *bench) try(dir, program string, args ...string) (string, error) {
	cmd := exec.Command(program, args...)
	cmd.Dir, cmd.Env = dir, b.env
	var talk strings.Builder
	cmd.Stderr = &talk
	out, err := cmd.Output()
	if err != nil {
		err = fmt.Errorf("%s: %w\n%s", cmd, err, talk.String())
	}
	return string(out), err
}

func (b *bench) must(t *testing.T, dir, program string, args ...string) string {
	t.Helper()
	out, err := b.try(dir, program, args...)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// duckdb is there, or it is built from testdata/duckdb.
func (b *bench) duckdb(t *testing.T) bool {
	t.Helper()
	if _, err := exec.LookPath("duckdb"); err == nil {
		return true
	}
	_, err := b.try("../testdata/duckdb", "go", "build", "-o", filepath.Join(b.dir, "bin", "duckdb"), ".")
	if err != nil {
		t.Log(err)
	}
	return err == nil
}

// postgres starts a server of its own, on a socket in the folder, with a database water.
func (b *bench) postgres(t *testing.T) bool {
	t.Helper()
	found, _ := filepath.Glob("/usr/lib/postgresql/*/bin/initdb")
	if len(found) == 0 {
		return false
	}
	bin, data := filepath.Dir(found[len(found)-1]), filepath.Join(b.dir, "pg")
	as := func(program string, args ...string) error {
		ctx, stop := context.WithTimeout(context.Background(), time.Minute)
		defer stop()
		cmd := exec.CommandContext(ctx, filepath.Join(bin, program), args...)
		cmd.Dir = data
		if os.Geteuid() == 0 { // it refuses to run as root
			who, err := user.Lookup("postgres")
			if err != nil {
				return err
			}
			uid, _ := strconv.Atoi(who.Uid)
			gid, _ := strconv.Atoi(who.Gid)
			cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}}
			if err := os.Chown(data, uid, gid); err != nil {
				return err
			}
		}
		out, err := cmd.CombinedOutput()
		if err != nil {
			err = fmt.Errorf("%s: %w\n%s", program, err, out)
		}
		return err
	}
	for at := b.dir; len(at) > len(os.TempDir()); at = filepath.Dir(at) { // another user goes through
		if err := os.Chmod(at, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir(data, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := as("initdb", "-D", data, "-A", "trust", "-U", "postgres", "--locale=C.UTF-8"); err != nil {
		t.Fatal(err)
	}
	if err := as("pg_ctl", "-D", data, "-o", "-c listen_addresses= -c fsync=off -k "+data, "-l", filepath.Join(data, "log"), "-w", "start"); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := as("pg_ctl", "-D", data, "-m", "immediate", "stop"); err != nil {
			t.Error(err)
		}
	})
	b.env = append(b.env, "PGHOST="+data, "PGUSER=postgres")
	b.must(t, b.dir, filepath.Join(bin, "createdb"), "water")
	return true
}

// library finds a program that has a library.
func library(program []string, with ...string) string {
	for _, p := range program {
		if exec.Command(p, with...).Run() == nil {
			return p
		}
	}
	return ""
}

var (
	example = regexp.MustCompile("(?ms)^<!-- run: (\\S+) -->\n```(\\w+)\n(.*?)^```$")
	mean    = regexp.MustCompile(`([a-z][a-z-]+)["|,\s]+([0-9]+\.?[0-9]*)`)
)

// TestLargerMachines runs the examples of larger.md, one after another in one folder,
// and holds their answers to that of wj query.
func TestLargerMachines(t *testing.T) {
	b := newBench(t)
	want := map[string]float64{}
	var answer struct {
		Rows []map[string]any `json:"rows"`
	}
	if err := json.Unmarshal([]byte(b.must(t, b.dir, "wj", "-C", "demo", "query", "true", "--by", "site", "--show", "mean(sulfate)", "--format", "json")), &answer); err != nil {
		t.Fatal(err)
	}
	for _, row := range answer.Rows {
		if v, ok := row["mean(sulfate)"].(float64); ok {
			want[row["site"].(string)] = v
		}
	}
	if len(want) < 3 {
		t.Fatal(answer)
	}
	python := library([]string{"python3", "/usr/bin/python3"}, "-c", "import pandas")
	rscript := library([]string{"Rscript"}, "-e", "library(RSQLite)")
	_, noSQLite := exec.LookPath("sqlite3")
	has := map[string]bool{"sqlite3": noSQLite == nil, "duckdb": b.duckdb(t), "psql": b.postgres(t), "pandas": python != "", "RSQLite": rscript != ""}
	journal := filepath.Join(b.dir, "demo")
	b.env = append(b.env, "PYTHONWARNINGS=ignore")
	ran := 0
	for _, m := range example.FindAllStringSubmatch(Read("larger.md"), -1) {
		needs, language, text := m[1], m[2], strings.ReplaceAll(m[3], "wj export", "wj -C "+journal+" export")
		if !has[needs] {
			t.Logf("not tried: no %s here", needs)
			continue
		}
		if strings.Contains(text, "--changed-since") { // a day later
			name := filepath.Join(journal, "sessions/2026/2026-09-15-north-well.md")
			src, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(name, append(src, "\nLooked at again.\n"...), 0o600); err != nil {
				t.Fatal(err)
			}
			b.must(t, journal, "git", "-c", "user.name=Ines Kaldre", "-c", "user.email=ines@quillmarsh.example", "commit", "-qam", "Look again")
		}
		program := map[string][]string{"sh": {"sh", "-ec"}, "python": {python, "-c"}, "r": {rscript, "-e"}}[language]
		got := map[string]float64{}
		for _, one := range mean.FindAllStringSubmatch(b.must(t, b.dir, program[0], program[1], text), -1) {
			got[one[1]], _ = strconv.ParseFloat(one[2], 64)
		}
		for site, v := range want {
			if d := got[site] - v; d < -1e-6*v || d > 1e-6*v {
				t.Errorf("%s, %s: %v, and wj query says %v", needs, site, got[site], v)
			}
		}
		ran++
	}
	if ran == 0 {
		t.Error("no example ran")
	}
}

// TestBreweriesTogether: DuckDB over the partitions of several journals gives what wj
// query gives of each, to the last digit, bounds too.
func TestBreweriesTogether(t *testing.T) {
	b := newBench(t)
	if !b.duckdb(t) {
		t.Skip("no duckdb here")
	}
	sizes := map[string]string{"one": "400", "two": "1200", "three": "2500"}
	if n := os.Getenv("WJ_SESSIONS"); n != "" {
		sizes["large"] = n
	}
	journals := map[string]string{"demo": filepath.Join(b.dir, "demo")}
	for name, n := range sizes {
		journals[name] = filepath.Join(b.dir, name)
		b.must(t, "..", "go", "run", "./testdata/bench", "-n", n, "-o", journals[name])
	}
	for name, dir := range journals {
		settings := filepath.Join(dir, "wj.yaml")
		src, err := os.ReadFile(settings)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(settings, append(src, "journal: "+name+"\n"...), 0o600); err != nil {
			t.Fatal(err)
		}
		b.must(t, b.dir, "wj", "-C", dir, "export", "--as", "parquet", "--all-owners", "-o", "lake")
	}
	type key struct{ journal, site, analyte, what string }
	got := map[key]string{}
	rows, err := csv.NewReader(strings.NewReader(b.must(t, b.dir, "duckdb", "-csv", "-c", `
		select journal_id, site_id, analyte, count(*), median(known_low), median(known_high), min(known_low), max(known_high)
		from 'lake/results/*/*/*.parquet' where is_series = 1 group by all`))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows[1:] {
		got[key{row[0], row[1], row[2], "count"}] = row[3]
		if row[4] == row[5] {
			got[key{row[0], row[1], row[2], "median"}] = row[4]
		}
	}
	compared := 0
	for name, dir := range journals {
		for _, analyte := range []string{"sulfate", "chloride", "calcium", "alkalinity", "total_chlorine", "pH", "conductivity"} {
			out, err := b.try(b.dir, "wj", "-C", dir, "query", "true", "--by", "site", "--show", "count,median("+analyte+")", "--format", "json")
			if err != nil {
				continue // no such value there
			}
			var answer struct {
				Rows []map[string]any `json:"rows"`
			}
			d := json.NewDecoder(strings.NewReader(out))
			d.UseNumber()
			if err := d.Decode(&answer); err != nil {
				t.Fatal(err)
			}
			for _, row := range answer.Rows {
				v, ok := row["median("+analyte+")"].(json.Number)
				if !ok {
					continue // a bound
				}
				want, _ := v.Float64()
				have, _ := strconv.ParseFloat(got[key{name, row["site"].(string), analyte, "median"}], 64)
				have, _ = strconv.ParseFloat(strconv.FormatFloat(have, 'g', 6, 64), 64) // what wj query writes
				if want != have {
					t.Errorf("%s, %s: the median of %s is %v there, and wj query says %v", name, row["site"], analyte, have, want)
				}
				compared++
			}
		}
	}
	t.Logf("%d medians of %d journals are the same", compared, len(journals))
	if compared < 50 {
		t.Error("too little was compared")
	}
}
