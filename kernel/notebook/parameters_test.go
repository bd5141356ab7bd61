package notebook

import (
	"errors"
	"strings"
	"testing"
)

// withParameters returns a notebook whose parameters cell holds source.
func withParameters(source string) *Notebook {
	return &Notebook{Metadata: map[string]any{}, Cells: []*Cell{
		{Kind: MarkdownCell, Source: "text", Metadata: map[string]any{}},
		{Kind: CodeCell, Source: source, Metadata: map[string]any{"tags": []any{ParametersTag}}},
		{Kind: CodeCell, Source: "use()", Metadata: map[string]any{}},
	}}
}

const declarations = `// what to measure
recording := "../datasets/whirligig.wav" // a file
pulses := 5
slow, ratio := true, 0.5
radius := 6*tacho.Centimetre
span := tacho.Between(1, 2)
offset := base-3
var count int = 4
var (
	level float64 = -3
	label string
	small uint8 = 3
	b byte
	r rune
	list []int
)`

func TestSet(t *testing.T) {
	tests := []struct{ setting, want string }{
		{"recording=my file.wav", `recording = "my file.wav"`},
		{`recording="quoted"`, `recording = "\"quoted\""`},
		{"recording=", `recording = ""`},
		{"pulses=7", "pulses = 7"},
		{"pulses=-7", "pulses = -7"},
		{"pulses= 0x10 ", "pulses = 0x10"},
		{"slow=false", "slow = false"},
		{"ratio=2", "ratio = 2"},
		{"ratio=1e-3", "ratio = 1e-3"},
		{"radius=7.5", "radius = 7.5*tacho.Centimetre"},
		{"offset=-2", "offset = base-(-2)"},
		{"count=9", "count = 9"},
		{"level=-20.5", "level = -20.5"},
		{"small=255", "small = 255"},
		{"r=-2147483648", "r = -2147483648"},
		{"pulses=9223372036854775807", "pulses = 9223372036854775807"},
		{"label=run 2", `label = "run 2"`},
	}
	for _, test := range tests {
		s, err := ParseSetting(test.setting)
		if err != nil {
			t.Errorf("%s: %v", test.setting, err)
			continue
		}
		nb := withParameters(declarations)
		if err := nb.Set([]Setting{s}); err != nil {
			t.Errorf("%s: %v", test.setting, err)
			continue
		}
		if got := nb.Cells[2]; len(nb.Cells) != 4 || got.Source != test.want || !got.Tagged(InjectedTag) {
			t.Errorf("%s: the cell after the parameters is %q %v, want %q", test.setting, got.Source, got.Tags(), test.want)
		}
		// Setting again replaces the cell.
		if err := nb.Set([]Setting{{"pulses", "3"}}); err != nil || len(nb.Cells) != 4 || nb.Cells[2].Source != "pulses = 3" {
			t.Errorf("%s, then pulses=3: %v, %d cells, %q", test.setting, err, len(nb.Cells), nb.Cells[2].Source)
		}
	}
}

func TestSetRefuses(t *testing.T) {
	tests := []struct{ name, setting, says string }{
		{"unknown", "pulse=7", "recording (now"},
		{"fraction", "pulses=7.5", "whole number"},
		{"word", "pulses=seven", "whole number"},
		{"expression", "pulses=7+1", "whole number"},
		{"code", `pulses=7; os.Exit(1)`, "whole number"},
		{"two signs", "pulses=--7", "whole number"},
		{"infinite", "ratio=Inf", "a number"},
		{"not a number", "ratio=NaN", "a number"},
		{"long", "ratio=1" + strings.Repeat("0", 50), "a number"},
		{"yes", "slow=yes", "true or false"},
		{"too large", "small=256", "from 0 to 255"},
		{"negative", "small=-1", "from 0 to 255"},
		{"too large for a byte", "b=256", "from 0 to 255"},
		{"too small for a rune", "r=-2147483649", "from -2147483648"},
		{"too large for int", "pulses=9223372036854775808", "from -9223372036854775808"},
		{"two values", "span=3", "2 values"},
		{"list", "list=3", "plain"},
	}
	for _, test := range tests {
		s, err := ParseSetting(test.setting)
		if err != nil {
			t.Fatal(err)
		}
		nb := withParameters(declarations)
		err = nb.Set([]Setting{s})
		if !errors.Is(err, ErrParameter) || !strings.Contains(err.Error(), test.says) {
			t.Errorf("%s: Set(%s) = %v, want an ErrParameter saying %q", test.name, test.setting, err, test.says)
		}
		if len(nb.Cells) != 3 {
			t.Errorf("%s: a refused setting changed the notebook", test.name)
		}
	}
	if err := withParameters(declarations).Set([]Setting{{"pulses", "1"}, {"pulses", "2"}}); !errors.Is(err, ErrParameter) {
		t.Errorf("set twice: %v", err)
	}
	if err := (&Notebook{}).Set([]Setting{{"pulses", "1"}}); !errors.Is(err, ErrParameter) {
		t.Errorf("no parameters cell: %v", err)
	}
	for _, source := range []string{"pulses := 5\nfmt.Println(pulses)", "import \"fmt\"\npulses := 5", "pulses := ("} {
		if err := withParameters(source).Set([]Setting{{"pulses", "1"}}); !errors.Is(err, ErrParameter) {
			t.Errorf("parameters cell %q: %v", source, err)
		}
	}
	for _, s := range []string{"pulses", "=7", "two words=7", "7=7"} {
		if _, err := ParseSetting(s); !errors.Is(err, ErrParameter) {
			t.Errorf("ParseSetting(%q) = %v", s, err)
		}
	}
}
