package interp_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// The snippets in testdata/same must print in a cell what they print in a
// compiled program, whether they stand at the top of a cell or in a function.
// A snippet is a list of statements, with declarations before a line of "====";
// snippets are separated by lines of "----".

type snippet struct{ file, decls, body string }

func (s snippet) name(i int) string {
	return fmt.Sprintf("%s-%d", strings.TrimSuffix(s.file, ".txt"), i)
}

func readSnippets(t *testing.T) []snippet {
	t.Helper()
	files, err := filepath.Glob("testdata/same/*.txt")
	if err != nil || len(files) == 0 {
		t.Fatalf("no snippets: %v", err)
	}
	var out []snippet
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, text := range strings.Split(string(b), "----\n") {
			s := snippet{file: filepath.Base(f), body: text}
			if d, body, ok := strings.Cut(text, "====\n"); ok {
				s.decls, s.body = d, body
			}
			out = append(out, s)
		}
	}
	return out
}

var snippetImports = map[string]string{
	"fmt": "fmt.Println", "math": "math.Pi", "math/cmplx": "cmplx.Abs", "time": "time.Now",
	"sync": "sync.OnceFunc", "errors": "errors.New", "strings": "strings.Join", "sort": "sort.Ints",
	"strconv": "strconv.Itoa", "bytes": "bytes.Equal", "encoding/json": "json.Marshal", "os": "os.Open",
	"math/rand": "rand.Intn", "regexp": "regexp.Compile", "io": "io.EOF", "bufio": "bufio.NewReader", "slices": "slices.Sort[[]int]", "maps": "maps.Clone[map[int]int]", "cmp": "cmp.Compare[int]",
}

func importBlock() string {
	var b strings.Builder
	b.WriteString("import (\n")
	for path := range snippetImports {
		fmt.Fprintf(&b, "\t%q\n", path)
	}
	b.WriteString(")\n")
	return b.String()
}

// compiledOutputs runs all snippets as one compiled program.
func compiledOutputs(t *testing.T, all []snippet) []string {
	t.Helper()
	dir := t.TempDir()
	write := func(name, text string) {
		t.Helper()
		name = filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("go.mod", "module same\n\ngo 1.26\n")
	main, calls := "package main\n\nimport (\n\t\"fmt\"\n", ""
	for i, s := range all {
		text := fmt.Sprintf("package s%d\n\n%s\n", i, importBlock())
		for _, use := range snippetImports {
			text += "var _ = " + use + "\n"
		}
		text += s.decls + "\nfunc Run() {\n" + s.body + "}\n"
		write(fmt.Sprintf("s%d/s.go", i), text)
		main += fmt.Sprintf("\t\"same/s%d\"\n", i)
		calls += fmt.Sprintf("\ts%d.Run()\n\tfmt.Println(\"@@@@\")\n", i)
	}
	write("main.go", main+")\n\nfunc main() {\n"+calls+"}\n")
	cmd := exec.Command("go", "run", ".")
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "GOFLAGS=-mod=mod", "GOWORK=off")
	var errs strings.Builder
	cmd.Stderr = &errs
	b, err := cmd.Output()
	if err != nil {
		t.Fatalf("the snippets do not run as a program: %v\n%s", err, errs.String())
	}
	return strings.Split(string(b), "@@@@\n")
}

func TestCellsPrintWhatProgramsPrint(t *testing.T) {
	if _, err := exec.LookPath("go"); err != nil {
		t.Skip("no Go toolchain to compare with")
	}
	all := readSnippets(t)
	want := compiledOutputs(t, all)
	for i, s := range all {
		for _, inFunc := range []bool{false, true} {
			where := "top"
			code := s.decls + "\n" + s.body
			if inFunc {
				where = "func"
				code = s.decls + "\nfunc run() {\n" + s.body + "}\nrun()\n"
			}
			t.Run(s.name(i)+"/"+where, func(t *testing.T) {
				b := start(t)
				b.must(importBlock())
				r, o := b.run(code)
				got := r.out.String()
				if o.Fault != nil {
					got += strings.Join(o.Fault.Traceback, "\n")
				}
				if got != want[i] {
					t.Errorf("%s\nprinted %q\nwant    %q\n%s", s.decls+s.body, got, want[i], r.err.String())
				}
			})
		}
	}
}
