package tacho

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// stages lists every file of the package in the order in which data flows
// through it. A file may use what is declared in its own stage and in earlier
// ones. A new file must be added here.
var stages = [][]string{
	{"doc.go", "errors.go", "observer.go", "watch.go", "options.go", "quantity.go", "note.go", "format.go", "unit.go", "value.go", "combine.go", "repeated.go", "consensus.go", "simulate.go", "parse.go",
		"htmltable.go", "value_show.go"},
	{"recording.go", "level.go", "open.go", "missing.go", "encoded.go", "detect.go", "spool.go", "wav.go", "wavformat.go", "wavdata.go",
		"flac.go", "mpegheader.go", "mp3.go", "ogg.go", "vorbis.go", "ffmpeg.go", "options_check.go"},
	{"window.go", "windowfigure.go", "windowspread.go", "alias.go", "decimate.go", "blocks.go", "weighting.go", "exposure.go", "spectrum.go", "linewidth.go", "spectrogram.go"},
	{"interpolate.go", "bound.go", "peak.go", "peakread.go", "family.go", "familybelow.go", "familypulses.go", "familyfit.go", "family_show.go", "familysearch.go", "familysearch_show.go"},
	{"stretch.go", "knots.go", "breaks.go", "steps.go", "ends.go", "edges.go", "turns.go", "hums.go", "restless.go", "syllables.go", "judge.go", "tune.go", "finder.go", "inpieces.go", "lasting.go", "heard.go", "course.go", "company.go", "crossing.go", "meant.go", "weigh.go", "tworotors.go", "loudness.go", "apart.go", "unite.go", "sections.go", "agree.go", "multiples.go", "disturbed.go", "track.go", "heldtop.go", "peakspeed.go", "describe.go", "track_show.go", "inspect.go", "inspect_show.go"},
	{"rotor.go", "bearing.go", "strobe.go", "mach.go", "doppler.go", "clock.go", "rimstress.go", "inertia.go", "friction.go", "independent.go", "coastlaws.go", "coastdown.go", "coastdown_show.go", "gyroscope.go", "beat.go", "plan.go"},
	{"measurement.go", "measure.go", "caution.go", "report.go", "report_text.go", "report_markdown.go", "report_html.go", "report_json.go"},
}

func TestStageOrder(t *testing.T) {
	stageOf := map[string]int{}
	for i, files := range stages {
		for _, f := range files {
			stageOf[f] = i
		}
	}
	sources := sourcesOf(t)
	for name := range sources {
		if _, listed := stageOf[name]; !listed {
			t.Errorf("%s is in no stage: add it to stages in order_test.go", name)
			delete(sources, name)
		}
	}
	for _, v := range laterUses(t, sources, stageOf) {
		t.Error(v)
	}
}

// laterUses returns a line for every use of a name that is declared in a later
// stage than the file that uses it: package-level names, methods and fields.
func laterUses(t *testing.T, sources map[string]string, stageOf map[string]int) []string {
	t.Helper()
	fset := token.NewFileSet()
	var files []*ast.File
	for name, text := range sources {
		f, err := parser.ParseFile(fset, name, text, 0)
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, f)
	}
	// Other packages are not looked at: what is theirs stays unresolved, and
	// what is ours is found all the same.
	config := types.Config{Importer: emptyImporter{}, Error: func(error) {}}
	info := &types.Info{Uses: map[*ast.Ident]types.Object{}}
	pkg, _ := config.Check("tacho", fset, files, info)
	var found []string
	for id, obj := range info.Uses {
		if obj.Pkg() != pkg || !obj.Pos().IsValid() {
			continue
		}
		at, from := fset.Position(id.Pos()), fset.Position(obj.Pos()).Filename
		if here, there := stageOf[at.Filename], stageOf[from]; there > here {
			found = append(found, fmt.Sprintf("%s (stage %d) uses %s of %s (stage %d)", at, here, id.Name, from, there))
		}
	}
	return found
}

type emptyImporter struct{}

func (emptyImporter) Import(path string) (*types.Package, error) {
	p := types.NewPackage(path, path[strings.LastIndex(path, "/")+1:])
	p.MarkComplete()
	return p, nil
}

// The check itself must catch what it is there for.
func TestStageOrderCatches(t *testing.T) {
	stageOf := map[string]int{"early.go": 0, "late.go": 1}
	late := "package tacho\ntype Late struct{ Field int }\nfunc (Early) Method() {}\nfunc After() {}\n"
	for _, c := range []struct {
		name, early string
		want        int
	}{
		{"nothing", `type Early struct{}; var x = fmt.Sprint(1)`, 0},
		{"function", `type Early struct{}; func f() { After() }`, 1},
		{"type", `type Early struct{}; var x Late`, 1},
		{"method on an early type", `type Early struct{}; func f(e Early) { e.Method() }`, 1},
		{"type and field", `type Early struct{}; func f(l Late) int { return l.Field }`, 2},
		{"method beside an unresolved import", `type Early struct{}; func f(e Early) { fmt.Println(fmt.Sprint(), e.Method) }`, 1},
	} {
		src := map[string]string{"early.go": "package tacho\nimport \"fmt\"\n" + c.early, "late.go": late}
		if got := laterUses(t, src, stageOf); len(got) != c.want {
			t.Errorf("%s: %d uses of later names found, want %d: %v", c.name, len(got), c.want, got)
		}
	}
}

// The interpreter behind notebook cells cannot import generic names.
func TestNoGenericsExported(t *testing.T) {
	for name, text := range sourcesOf(t) {
		f, err := parser.ParseFile(token.NewFileSet(), name, text, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, decl := range f.Decls {
			switch d := decl.(type) {
			case *ast.FuncDecl:
				if d.Name.IsExported() && d.Type.TypeParams != nil {
					t.Errorf("%s: %s is generic", name, d.Name)
				}
			case *ast.GenDecl:
				for _, spec := range d.Specs {
					if ts, ok := spec.(*ast.TypeSpec); ok && ts.Name.IsExported() && ts.TypeParams != nil {
						t.Errorf("%s: %s is generic", name, ts.Name)
					}
				}
			}
		}
	}
}

// sourcesOf returns the text of every file of the package but its tests.
func sourcesOf(t *testing.T) map[string]string {
	t.Helper()
	names, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	sources := map[string]string{}
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		sources[name] = string(text)
	}
	return sources
}
