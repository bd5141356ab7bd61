package interp_test

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"rotorhum/kernel/bindings"
	"rotorhum/kernel/interp"
)

func sumOf(data string) string {
	h := sha256.Sum256([]byte(data))
	return hex.EncodeToString(h[:])
}

func TestFilesReadAreKnown(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, name := range []string{"a", "b", "c", "d", "e"} {
		write(name, "the text of "+name)
	}
	t.Chdir(dir)
	in, err := interp.New(interp.Options{Readers: bindings.Readers})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(in.Close)
	b := &bench{in, t}
	b.must("import (\"os\"; \"io/fs\"; \"rotorhum/tacho\"; \"rotorhum/tacho/synth\"; \"rotorhum/kernel/show\")")
	if r := in.Provenance(); len(r.Files) != 0 {
		t.Errorf("before any file was read the record has %v", r.Files)
	}
	b.must("must(os.ReadFile(\"a\"))\nf := must(os.Open(\"./b\"))\nf.Close()\nos.ReadFile(\"nowhere\")\nos.Open(\".\")")
	b.must("g := must(os.OpenFile(\"c\", os.O_RDONLY, 0))\nmust(os.OpenFile(\"d\", os.O_WRONLY, 0))\nmust(fs.ReadFile(os.DirFS(\".\"), \"e\"))\nmust(show.File(\"a\"))")
	rec, err := os.ReadFile(filepath.Join("..", "..", "..", "none"))
	_ = rec
	var got []string
	for _, f := range in.Provenance().Files {
		got = append(got, f.Name)
		if f.SHA256 != sumOf("the text of "+f.Name) || f.Size != int64(len("the text of "+f.Name)) {
			t.Errorf("%s: SHA-256 %s of %d bytes", f.Name, f.SHA256, f.Size)
		}
	}
	if want := []string{"a", "b", "c", "e"}; !slices.Equal(got, want) {
		t.Errorf("read are %v, want %v", got, want)
	}
	write("a", "changed")
	b.must("must(os.ReadFile(\"" + filepath.Join(dir, "a") + "\"))")
	files := in.Provenance().Files
	if len(files) != 5 || files[0].Name != "a" || files[1].Name != "a" || files[0].SHA256 == files[1].SHA256 {
		t.Errorf("after a change of a the record has %v", files)
	}
}

func TestRecordingsReadAreKnown(t *testing.T) {
	in, err := interp.New(interp.Options{Readers: bindings.Readers})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(in.Close)
	b := &bench{in, t}
	const name = "../../datasets/siren-disc-steady.wav"
	sum := b.must("import \"rotorhum/tacho\"\nrec := must(tacho.Open(\"" + name + "\"))\nrec.SHA256")
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	files := in.Provenance().Files
	if len(files) != 1 || files[0].Name != name || files[0].SHA256 != sum || sum != sumOf(string(data)) {
		t.Errorf("the record has %v, want %s with %s", files, name, sumOf(string(data)))
	}
}

func TestGlobalRandomStartsFromTheSeed(t *testing.T) {
	const code = "import (\"math/rand\"; r2 \"math/rand/v2\"; \"fmt\")\n" +
		"fmt.Println(rand.Intn(1000), rand.Float64(), rand.Perm(5), r2.IntN(1000), r2.NormFloat64(), r2.Perm(4), r2.Uint64())\n" +
		"xs := []int{1, 2, 3, 4, 5, 6}\nr2.Shuffle(6, func(i, j int) { xs[i], xs[j] = xs[j], xs[i] })\nfmt.Println(xs)"
	text := func(seed uint64) string {
		in, err := interp.New(interp.Options{Seed: seed})
		if err != nil {
			t.Fatal(err)
		}
		defer in.Close()
		b := &bench{in, t}
		out := b.must(code)
		r := in.Provenance()
		if r.Seed == 0 || seed != 0 && r.Seed != seed || r.RandomDraws == 0 {
			t.Errorf("seed %d: the record has seed %d and %d draws", seed, r.Seed, r.RandomDraws)
		}
		return out
	}
	if a, b := text(0), text(0); a != b {
		t.Errorf("two sessions drew\n%s%s", a, b)
	}
	if a, b := text(1), text(2); a == b {
		t.Errorf("two seeds gave the same numbers: %s", a)
	}
	if a, b := text(0), text(interp.DefaultSeed); a != b {
		t.Errorf("the default seed gave %s, its number %s", a, b)
	}
}

func TestProvenanceInACell(t *testing.T) {
	b := start(t)
	b.run("panic(\"planned\")")
	r, o := b.run("provenance()")
	if o.Fault != nil || o.Result == nil {
		t.Fatal(o.Fault, r.err.String())
	}
	text := o.Result.Data["text/plain"].(string)
	for _, want := range []string{"program   rotorhum ", "built by  go1.", "seed      20, not used", "files     none read", "cells     In[1]", "failed"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in\n%s", want, text)
		}
	}
	if o.Result.Data["text/html"] == nil {
		t.Error("there is no HTML")
	}
	if got := b.must("len(provenance().Runs)"); got != "2" {
		t.Errorf("2 cells have run, and the record has %s", got)
	}
}
