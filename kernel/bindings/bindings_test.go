package bindings

import (
	"bufio"
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/gopherdata/gophernotes/imports"
)

func listed(t *testing.T) []string {
	t.Helper()
	f, err := os.Open("packages.txt")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var out []string
	for s := bufio.NewScanner(f); s.Scan(); {
		line, _, _ := strings.Cut(s.Text(), "#")
		if line = strings.TrimSpace(line); line != "" {
			out = append(out, line)
		}
	}
	return out
}

func TestTablesAreInSync(t *testing.T) {
	if testing.Short() {
		t.Skip("generates all tables")
	}
	if _, err := exec.LookPath("go"); err != nil {
		t.Skip("no Go toolchain")
	}
	dir := t.TempDir()
	if out, err := exec.Command("go", "run", "./gen", "-o", dir).CombinedOutput(); err != nil {
		t.Fatalf("generating: %v\n%s", err, out)
	}
	for _, pattern := range []string{"zz_*.go", "docs/*.txt"} {
		fresh, _ := filepath.Glob(filepath.Join(dir, pattern))
		if len(fresh) == 0 {
			t.Fatalf("no %s was generated", pattern)
		}
		names := map[string]bool{}
		for _, f := range fresh {
			rel, _ := filepath.Rel(dir, f)
			names[rel] = true
			want, _ := os.ReadFile(f)
			if got, err := os.ReadFile(rel); err != nil || !bytes.Equal(got, want) {
				t.Errorf("%s is out of date: run go generate ./kernel/bindings", rel)
			}
		}
		kept, _ := filepath.Glob(pattern)
		for _, f := range kept {
			if !names[f] {
				t.Errorf("%s belongs to no listed package: run go generate ./kernel/bindings", f)
			}
		}
	}
}

func TestListedPackagesAreRegisteredAndDocumented(t *testing.T) {
	var docs Docs
	for _, path := range listed(t) {
		if d, ok := docs.Lookup(path, ""); !ok || !strings.HasPrefix(d.Signature, "package ") {
			t.Errorf("%s: documentation of the package = %q, %v", path, d.Signature, ok)
		}
		p, ok := imports.Packages[path]
		switch path { // generic throughout
		case "cmp", "iter", "maps", "slices":
			continue
		}
		if !ok || len(p.Binds)+len(p.Types) == 0 {
			t.Errorf("%s is not registered", path)
		}
		if strings.HasPrefix(path, "rotorhum/") {
			for name := range p.Binds {
				if d, ok := docs.Lookup(path, name); !ok || d.Text == "" {
					t.Errorf("%s.%s has no documentation", path, name)
				}
			}
		}
	}
}

func TestDocs(t *testing.T) {
	var docs Docs
	for _, c := range []struct{ path, name, signature, text string }{
		{"math", "Sqrt", "func Sqrt(x float64) float64", "go doc math.Sqrt"},
		{"math", "Pi", "const Pi untyped float = 3.14159", ""},
		{"strings", "Builder.WriteString", "func (b *Builder) WriteString(s string) (int, error)", "go doc strings.Builder.WriteString"},
		{"gonum.org/v1/gonum/stat", "Mean", "func Mean(x, weights []float64) float64", "go doc gonum.org/v1/gonum/stat.Mean"},
		{"gonum.org/v1/plot", "Plot.X", "field X Axis", ""},
		{"io", "Reader.Read", "func Read(p []byte) (n int, err error)", ""},
	} {
		d, ok := docs.Lookup(c.path, c.name)
		if !ok || !strings.HasPrefix(d.Signature, c.signature) || !strings.Contains(d.Text, c.text) {
			t.Errorf("Lookup(%s, %s) = %+v, %v", c.path, c.name, d, ok)
		}
	}
	if _, ok := docs.Lookup("math", "Sqroot"); ok {
		t.Error("a name that does not exist is documented")
	}
	if _, ok := docs.Lookup("no/such/package", "X"); ok {
		t.Error("a package that does not exist is documented")
	}
}
