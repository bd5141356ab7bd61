package notebook

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The stored file was written by the reference implementation, nbformat 5.5.0
// (testdata/reference.py): reading it and writing it back must give its bytes.
func TestReferenceRoundTrip(t *testing.T) {
	want, err := os.ReadFile("testdata/reference-4.5.ipynb")
	if err != nil {
		t.Fatal(err)
	}
	nb, err := ReadFile("testdata/reference-4.5.ipynb")
	if err != nil {
		t.Fatal(err)
	}
	got, err := nb.Encode()
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("writing back what nbformat 5.5.0 wrote differs:\n%s", firstDifference(string(got), string(want)))
	}
}

func firstDifference(got, want string) string {
	g, w := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range max(len(g), len(w)) {
		a, b := "(end)", "(end)"
		if i < len(g) {
			a = g[i]
		}
		if i < len(w) {
			b = w[i]
		}
		if a != b {
			return fmt.Sprintf("line %d:\n got  %q\n want %q", i+1, a, b)
		}
	}
	return "no difference"
}

// unknown holds a field that no format knows on every level.
const unknown = `{"cells":[
 {"cell_type":"code","source":["a := 1\n","b := 2"],"metadata":{"m":{"deep":[1.50,1e400]}},"execution_count":3,"own_cell":"kept",
  "outputs":[{"output_type":"stream","name":"stdout","text":"x","own_output":[true]},
             {"output_type":"stream","name":"stdout","text":["y","\n"]}]},
 {"cell_type":"markdown","source":"hello","metadata":{}},
 {"cell_type":"markdown","source":"hello","metadata":{}}
],"metadata":{},"nbformat":4,"nbformat_minor":%d,"own_top":{"kept":null}}`

func TestUnknownFieldsSurvive(t *testing.T) {
	for minor := range 6 {
		first, err := encode(fmt.Sprintf(unknown, minor))
		if err != nil {
			t.Fatalf("4.%d: %v", minor, err)
		}
		for _, want := range []string{
			`"own_cell": "kept"`, `"own_output": [` + "\n      true", `"own_top": {` + "\n  \"kept\": null", "1.50", "1e400",
			`"nbformat_minor": 5`, `"xy\n"`,
		} {
			if !strings.Contains(first, want) {
				t.Errorf("4.%d: %q is lost in\n%s", minor, want, first)
			}
		}
		second, err := encode(first)
		if err != nil {
			t.Fatal(err)
		}
		if first != second {
			t.Errorf("4.%d: writing twice differs: %s", minor, firstDifference(second, first))
		}
	}
}

func encode(file string) (string, error) {
	nb, err := Read([]byte(file))
	if err != nil {
		return "", err
	}
	b, err := nb.Encode()
	return string(b), err
}

func TestIDs(t *testing.T) {
	nb, err := Read([]byte(fmt.Sprintf(unknown, 4)))
	if err != nil {
		t.Fatal(err)
	}
	nb.Cells[0].ID = "kept-1"
	nb.Normalise()
	code, first, second := nb.Cells[0].ID, nb.Cells[1].ID, nb.Cells[2].ID
	if code != "kept-1" {
		t.Errorf("a valid id became %q", code)
	}
	if first == second || !validID.Regexp().MatchString(first) || !validID.Regexp().MatchString(second) {
		t.Errorf("two equal cells got ids %q and %q, want two different valid ones", first, second)
	}
	// The id of a cell does not depend on what stands elsewhere.
	nb.Cells = nb.Cells[1:]
	nb.Cells[0].ID, nb.Cells[1].ID = "", "two words"
	nb.Normalise()
	if nb.Cells[0].ID != first || nb.Cells[1].ID != second {
		t.Errorf("without the first cell the ids are %q and %q, want %q and %q", nb.Cells[0].ID, nb.Cells[1].ID, first, second)
	}
	// Of two cells with the same id the first keeps it.
	nb.Cells[1].ID = first
	nb.Normalise()
	if nb.Cells[0].ID != first || nb.Cells[1].ID == first {
		t.Errorf("a doubled id %q gave %q and %q", first, nb.Cells[0].ID, nb.Cells[1].ID)
	}
}

func TestBadNotebooks(t *testing.T) {
	cell := func(c string) string {
		return `{"nbformat":4,"nbformat_minor":5,"metadata":{},"cells":[` + c + `]}`
	}
	output := func(o string) string {
		return cell(`{"cell_type":"code","source":"","metadata":{},"outputs":[` + o + `]}`)
	}
	tests := []struct {
		name, file string
		want       error
		says       string
	}{
		{"empty", "", ErrFormat, "empty"},
		{"spaces", " \n ", ErrFormat, "empty"},
		{"not JSON", "%PDF-1.4", ErrFormat, "line 1"},
		{"cut short", "{\"cells\": [\n{\"cell_type\":", ErrFormat, "line 2"},
		{"rubbish after", cell("") + "\n{}", ErrFormat, "line 2"},
		{"conflict", "{\n<<<<<<< HEAD\n\"a\":1}", ErrFormat, "line 2 is a merge conflict"},
		{"a list", "[1]", ErrFormat, "not an object"},
		{"Latin-1", "{\"a\":\"\xe9\"}", ErrFormat, "byte 6"},
		{"no format", `{"cells":[]}`, ErrFormat, "nbformat"},
		{"format 3", `{"nbformat":3,"nbformat_minor":0,"worksheets":[]}`, ErrVersion, "nbformat 3"},
		{"format 5", `{"nbformat":5,"nbformat_minor":0,"cells":[]}`, ErrVersion, "nbformat 5"},
		{"format 4.6", `{"nbformat":4,"nbformat_minor":6,"cells":[]}`, ErrVersion, "4.6"},
		{"format text", `{"nbformat":"4","nbformat_minor":5,"cells":[]}`, ErrFormat, "whole number"},
		{"no minor", `{"nbformat":4,"cells":[]}`, ErrFormat, "nbformat_minor"},
		{"no cells", `{"nbformat":4,"nbformat_minor":5}`, ErrFormat, "no list of cells"},
		{"metadata list", `{"nbformat":4,"nbformat_minor":5,"metadata":[],"cells":[]}`, ErrFormat, "metadata"},
		{"cell text", cell(`"x"`), ErrFormat, "cell 1"},
		{"cell kind", cell(`{"cell_type":"heading","source":""}`), ErrFormat, `"heading"`},
		{"cell source", cell(`{"cell_type":"code","source":5}`), ErrFormat, "source"},
		{"source of numbers", cell(`{"cell_type":"code","source":[1]}`), ErrFormat, "source"},
		{"outputs", cell(`{"cell_type":"code","source":"","outputs":{}}`), ErrFormat, "outputs"},
		{"output kind", output(`{"output_type":"pyout"}`), ErrFormat, "output 1"},
		{"stream text", output(`{"output_type":"stream","name":"stdout"}`), ErrFormat, "text"},
		{"display data", output(`{"output_type":"display_data","data":7}`), ErrFormat, "data"},
		{"traceback", output(`{"output_type":"error","ename":"","evalue":"","traceback":"x"}`), ErrFormat, "traceback"},
		{"deep", strings.Repeat(`{"a":`, 101) + "1" + strings.Repeat("}", 101), ErrLimit, "deep"},
		{"many", "[" + strings.Repeat("0,", MaxValues) + "0]", ErrLimit, "values"},
	}
	for _, test := range tests {
		_, err := Read([]byte(test.file))
		if !errors.Is(err, test.want) || !strings.Contains(fmt.Sprint(err), test.says) {
			t.Errorf("%s: Read = %v, want %q saying %q", test.name, err, test.want, test.says)
		}
	}
	_, err := ReadFile("testdata/none.ipynb")
	if !errors.Is(err, os.ErrNotExist) {
		t.Errorf("missing file: %v", err)
	}
	if _, err := ReadFile("testdata"); !errors.Is(err, ErrFormat) {
		t.Errorf("folder: %v", err)
	}
	big := filepath.Join(t.TempDir(), "big.ipynb")
	if err := os.WriteFile(big, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(big, MaxBytes+1); err != nil {
		t.Fatal(err)
	}
	if _, err := ReadFile(big); !errors.Is(err, ErrLimit) {
		t.Errorf("sparse file over the limit: %v", err)
	}
}

// What can be read can be written, and reads back the same.
func FuzzRead(f *testing.F) {
	reference, err := os.ReadFile("testdata/reference-4.5.ipynb")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(reference)
	f.Add([]byte(fmt.Sprintf(unknown, 0)))
	f.Fuzz(func(t *testing.T, file []byte) {
		nb, err := Read(file)
		if err != nil {
			return
		}
		first, err := nb.Encode()
		if err != nil {
			t.Fatalf("what was read has no JSON form: %v", err)
		}
		second, err := encode(string(first))
		if err != nil {
			t.Fatalf("what was written is not read: %v", err)
		}
		if second != string(first) {
			t.Fatalf("writing twice differs: %s", firstDifference(second, string(first)))
		}
	})
}
