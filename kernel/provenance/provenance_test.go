package provenance

import (
	"encoding/json"
	"os"
	"reflect"
	"runtime"
	"strings"
	"testing"
)

func record(t *testing.T, files map[string]string, sources ...string) *Record {
	t.Helper()
	t.Chdir(t.TempDir())
	var r Recorder
	r.Seeded(20)
	for name, text := range files {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		r.Read(name)
		r.Read("./" + name) // twice is once
	}
	for _, s := range sources {
		r.Ran("In", "", s, false, nil)
	}
	return r.Record()
}

func TestDifferences(t *testing.T) {
	base := func() *Record { return record(t, map[string]string{"a.wav": "one", "b.wav": "two"}, "x := 1", "x") }
	if d := Differences(base(), base()); len(d) != 0 {
		t.Errorf("two equal runs differ: %v", d)
	}
	for _, c := range []struct {
		name string
		now  *Record
		kind Kind
		says string
	}{
		{"a file's content", record(t, map[string]string{"a.wav": "one", "b.wav": "TWO"}, "x := 1", "x"), FileChanged, "b.wav has changed: its SHA-256 was 3fc4ccfe7458 and is"},
		{"one file fewer", record(t, map[string]string{"a.wav": "one"}, "x := 1", "x"), FileChanged, "b.wav was read then and is not read now"},
		{"one file more", record(t, map[string]string{"a.wav": "one", "b.wav": "two", "c.wav": ""}, "x := 1", "x"), FileChanged, "c.wav is read now"},
		{"another cell", record(t, map[string]string{"a.wav": "one", "b.wav": "two"}, "x := 2", "x"), OrderChanged, "run 1 was another cell"},
		{"a cell more", record(t, map[string]string{"a.wav": "one", "b.wav": "two"}, "x := 1", "x", "x"), OrderChanged, "2 cells ran then and 3 now"},
		{"a cell fewer", record(t, map[string]string{"a.wav": "one", "b.wav": "two"}, "x := 1"), OrderChanged, "2 cells ran then and 1 now"},
	} {
		d := Differences(base(), c.now)
		if len(d) != 1 || d[0].Kind != c.kind || !strings.Contains(d[0].Text, c.says) {
			t.Errorf("%s: %v, want one of kind %s that says %q", c.name, d, c.kind, c.says)
		}
	}
	now := base()
	now.Seed = 5
	now.Program.Version, now.Program.Go = "v9", "go0"
	now.Program.Modules = map[string]string{"example.org/none": "v1"}
	var kinds []Kind
	for _, d := range Differences(base(), now) {
		if len(kinds) == 0 || kinds[len(kinds)-1] != d.Kind {
			kinds = append(kinds, d.Kind)
		}
	}
	if want := []Kind{SeedChanged, ProgramChanged, ModuleChanged, PlatformOther}; !reflect.DeepEqual(kinds, want) {
		t.Errorf("kinds %v, want %v", kinds, want)
	}
}

func TestRecordSurvivesJSON(t *testing.T) {
	r := record(t, map[string]string{"a": "b"}, "x")
	data, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	var back Record
	if err := json.Unmarshal(data, &back); err != nil || !reflect.DeepEqual(&back, r) {
		t.Errorf("%v: %s came back as %+v", err, data, back)
	}
	if here, _ := os.Getwd(); strings.Contains(string(data), here) {
		t.Errorf("the record names a folder of this machine: %s", data)
	}
}

func TestProgram(t *testing.T) {
	p := This()
	if p.Go != runtime.Version() || !strings.HasPrefix(p.Platform, runtime.GOOS+"/"+runtime.GOARCH) {
		t.Errorf("the program says %+v", p)
	}
}

func TestHTMLIsHarmless(t *testing.T) {
	r := &Record{Files: []File{{Name: "<script>x</script>"}}, Runs: []Run{{Name: "<b>", Varies: []string{"<i>"}}}}
	for _, bad := range []string{"<script", "<b>", "<i>"} {
		if strings.Contains(r.HTML(), bad) {
			t.Errorf("%s is in the page", bad)
		}
	}
}
