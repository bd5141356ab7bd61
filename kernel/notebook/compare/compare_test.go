package compare

import (
	"bytes"
	"encoding/base64"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"strings"
	"testing"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/notebook"
)

func stream(text string) *notebook.Output {
	return &notebook.Output{Kind: notebook.StreamOutput, Name: "stdout", Text: text}
}

func shows(mime string, content any) *notebook.Output {
	return &notebook.Output{Kind: notebook.ResultOutput, Bundle: cell.Bundle{Data: map[string]any{mime: content, "text/plain": "words"}}}
}

func inWords(text string) *notebook.Output {
	return &notebook.Output{Kind: notebook.ResultOutput, Bundle: cell.Bundle{Data: map[string]any{"text/plain": text}}}
}

func list(o ...*notebook.Output) []*notebook.Output { return o }

// dots makes a picture whose first n pixels are painted, compressed as told.
func dots(t *testing.T, w, h, n int, level png.CompressionLevel) string {
	t.Helper()
	p := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := range n {
		p.Set(i%w, i/w, color.RGBA{200, 0, 0, 255})
	}
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: level}).Encode(&b, p); err != nil {
		t.Fatal(err)
	}
	return base64.StdEncoding.EncodeToString(b.Bytes())
}

// claim returns the head of a PNG that claims a size and holds nothing.
func claim(width, height uint32, filling byte) string {
	b := []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR")
	b = binary.BigEndian.AppendUint32(b, width)
	b = binary.BigEndian.AppendUint32(b, height)
	b = append(b, 8, 6, 0, 0, 0)
	b = binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[12:]))
	return base64.StdEncoding.EncodeToString(append(b, filling))
}

func TestOutputs(t *testing.T) {
	tolerant := Statement{Relative: 0.01}
	absolute := Statement{Absolute: 0.02}
	failure := func(value, trace string) *notebook.Output {
		return &notebook.Output{Kind: notebook.ErrorOutput, ErrorName: "Error", ErrorValue: value, Traceback: []string{trace}}
	}
	const svg = `<svg xmlns="http://www.w3.org/2000/svg"><path d="M1,2L3.5,4" fill="none"/></svg>`
	tests := []struct {
		name          string
		stored, fresh []*notebook.Output
		states        Statement
		want          string // part of the only difference as written by say; "" for none
	}{
		{"nothing", nil, nil, Statement{}, ""},
		{"the same text", list(stream("a\nb\n")), list(stream("a\nb\n")), Statement{}, ""},
		{"pieces of a stream", list(stream("a\n"), stream("b\n")), list(stream("a\nb\n")), Statement{}, ""},
		{"a progress line", list(stream("10 %\rdone\n")), list(stream("done\n")), Statement{}, ""},
		{"the empty display of a finished bar", list(&notebook.Output{Kind: notebook.DisplayOutput, Bundle: cell.Bundle{Data: map[string]any{"text/plain": ""}}}, stream("a")), list(stream("a")), Statement{}, ""},
		{"counts do not matter", list(&notebook.Output{Kind: notebook.ResultOutput, Count: 17, Bundle: cell.Bundle{Data: map[string]any{"text/plain": "1"}}}), list(inWords("1")), Statement{}, ""},
		{"a line", list(stream("a\nb\nc\n")), list(stream("a\nx\nc\n")), Statement{}, `1 standard output line 2: "b" "x"`},
		{"a line more", list(stream("a\n")), list(stream("a\nb\n")), Statement{}, `line 2: "(nothing)" "b" 1 lines are stored, now there are 2`},
		{"a line less", list(stream("a\nb\n")), list(stream("a\n")), Statement{}, `line 2: "b" "(nothing)"`},
		{"the last line end", list(stream("a\n")), list(stream("a")), Statement{}, "ends its last line"},
		{"a number", list(stream("17.297 rev/s\n")), list(stream("17.298 rev/s\n")), Statement{}, `"17.297 rev/s" "17.298 rev/s"`},
		{"a number within a share", list(stream("17.297 rev/s\n")), list(stream("17.4 rev/s\n")), tolerant, ""},
		{"a number outside a share", list(stream("17.297 rev/s\n")), list(stream("17.5 rev/s\n")), tolerant, "17.5 is 0.203 away from 17.297; the tolerance is 1 %"},
		{"a number within 0.02", list(stream("0.3\n")), list(stream("0.32\n")), absolute, ""},
		{"a number outside 0.02", list(stream("0.3\n")), list(stream("0.33\n")), absolute, "tolerance is 0.02"},
		{"another width", list(stream("x   9.99 Hz | y\n")), list(stream("x  10.01 Hz | y\n")), tolerant, ""},
		{"a word beside a number in tolerance", list(stream("17.297 rev/s\n")), list(stream("17.297 rpm\n")), tolerant, `"17.297 rev/s" "17.297 rpm"`},
		{"one number more", list(stream("1 2\n")), list(stream("1 2 3\n")), tolerant, `"1 2" "1 2 3"`},
		{"a sign", list(stream("-1.00 x\n")), list(stream("1.00 x\n")), tolerant, "1.00 is 2 away from -1.00"},
		{"the minus sign of print", list(stream("−1.00 x\n")), list(stream("-1.001 x\n")), tolerant, ""},
		{"an uncertainty", list(stream("6.521 ±0.055 m/s\n")), list(stream("6.522 ±0.0551 m/s\n")), tolerant, ""},
		{"an exponent", list(stream("1.00e-9\n")), list(stream("1.001e-9\n")), tolerant, ""},
		{"zero has no share", list(stream("0\n")), list(stream("1e-12\n")), tolerant, "tolerance is 1 %"},
		{"digits of a word", list(stream("go1.26.8 x2\n")), list(stream("go1.26.9 x2\n")), Statement{Relative: 0.5}, `"go1.26.8 x2"`},
		{"digits of a date", list(stream("2026-11-25\n")), list(stream("2026-11-26\n")), tolerant, "26 is 1 away from 25"},
		{"not a number is a word", list(stream("NaN\n")), list(stream("1\n")), Statement{Absolute: 1e9}, `"NaN" "1"`},
		{"what varies", list(stream("a")), list(stream("b"), stream("c")), Statement{Varies: true}, ""},

		{"one output more", list(stream("a")), list(stream("a"), inWords("7")), Statement{}, `2 result: "(nothing)" "7"`},
		{"one output less", list(stream("a"), inWords("7")), list(stream("a")), Statement{}, `2 result: "7" "(nothing)"`},
		{"another kind", list(stream("a")), list(inWords("a")), Statement{}, `kind of output: "standard output: a" "result: a"`},
		{"another stream", list(stream("a")), list(&notebook.Output{Kind: notebook.StreamOutput, Name: "stderr", Text: "a"}), Statement{}, "standard error: a"},
		{"colours of an error", list(failure("no", "\x1b[31mno\x1b[0m")), list(failure("no", "no")), Statement{}, ""},
		{"message of an error", list(failure("no", "no")), list(failure("yes", "no")), Statement{}, `error line 1: "Error: no" "Error: yes"`},
		{"traceback of an error", list(failure("no", "a\nline 3")), list(failure("no", "a\nline 4")), Statement{}, `traceback line 2`},

		{"a result", list(inWords("a")), list(inWords("b")), Statement{}, `result line 1: "a" "b"`},
		{"what repeats the text", list(&notebook.Output{Kind: notebook.ResultOutput, Bundle: cell.Bundle{Data: map[string]any{"text/plain": "1", "text/html": "<b>1</b>"}}}),
			list(&notebook.Output{Kind: notebook.ResultOutput, Bundle: cell.Bundle{Data: map[string]any{"text/plain": "2", "text/html": "<b>2</b>"}}}), Statement{}, `result line 1: "1" "2"`},
		{"HTML alone", list(shows("text/html", "<p>a</p><p>b</p>")), list(shows("text/html", "<p>a</p><p>c</p>")), Statement{}, `HTML line 2: "<p>b</p>" "<p>c</p>"`},
		{"a representation more", list(inWords("words")), list(shows("text/html", "x")), Statement{}, `text/html: "(nothing)" "a new representation"`},
		{"a representation less", list(shows("image/png", "")), list(inWords("words")), Statement{}, `image/png: "a representation that is gone" "(nothing)"`},
		{"JSON in another order", list(shows("application/json", map[string]any{"a": 1, "b": []int{2}})), list(shows("application/json", map[string]any{"b": []any{2}, "a": 1})), Statement{}, ""},
		{"JSON", list(shows("application/json", map[string]any{"a": map[string]any{"b": []any{1, 2}}})), list(shows("application/json", map[string]any{"a": map[string]any{"b": []any{1, 3}}})), Statement{}, `application/json a.b[1]: "2" "3"`},
		{"JSON with a key more", list(shows("application/json", map[string]any{})), list(shows("application/json", map[string]any{"k": true})), Statement{}, `application/json k: "(nothing)" "true"`},
		{"JSON within", list(shows("application/json", 100)), list(shows("application/json", 100.5)), tolerant, ""},
		{"JSON of another kind", list(shows("application/json", true)), list(shows("application/json", map[string]any{})), Statement{}, `"true" "{}"`},
		{"last digits of a measurement", list(shows(cell.MeasureType, 17.2970001)), list(shows(cell.MeasureType, 17.2970002)), Statement{}, ""},
		{"digits of a measurement", list(shows(cell.MeasureType, 17.2970)), list(shows(cell.MeasureType, 17.2971)), Statement{}, "the tolerance is 0.0001 %"},
		{"last digits of other JSON", list(shows("application/json", 17.2970001)), list(shows("application/json", 17.2970002)), Statement{}, `"17.2970001"`},
		{"metadata", list(&notebook.Output{Kind: notebook.DisplayOutput, Bundle: cell.Bundle{Data: map[string]any{"text/plain": "x"}, Metadata: map[string]any{"image/png": map[string]any{"alt": "a"}}}}),
			list(&notebook.Output{Kind: notebook.DisplayOutput, Bundle: cell.Bundle{Data: map[string]any{"text/plain": "x"}}}), Statement{}, "metadata image/png"},

		{"a picture compressed otherwise", list(shows("image/png", dots(t, 20, 20, 50, png.NoCompression))), list(shows("image/png", dots(t, 20, 20, 50, png.BestCompression))), Statement{}, ""},
		{"a pixel", list(shows("image/png", dots(t, 20, 20, 50, 0))), list(shows("image/png", dots(t, 20, 20, 51, 0))), Statement{}, "picture: 1 of 400 pixels differ (0.25 %), the most by 255 of 255 levels, all between (10, 2) and (10, 2)"},
		{"a share of the pixels", list(shows("image/png", dots(t, 20, 20, 50, 0))), list(shows("image/png", dots(t, 20, 20, 52, 0))), Statement{Pixels: 0.005}, ""},
		{"more than the share", list(shows("image/png", dots(t, 20, 20, 50, 0))), list(shows("image/png", dots(t, 20, 20, 53, 0))), Statement{Pixels: 0.005}, "3 of 400 pixels"},
		{"a tolerance for numbers is none for pictures", list(shows("image/png", dots(t, 20, 20, 50, 0))), list(shows("image/png", dots(t, 20, 20, 51, 0))), Statement{Relative: 0.5, Absolute: 9}, "1 of 400 pixels"},
		{"another size", list(shows("image/png", dots(t, 20, 20, 0, 0))), list(shows("image/png", dots(t, 20, 21, 0, 0))), Statement{Pixels: 0.9}, "20 × 20 pixels are stored, now there are 20 × 21"},
		{"a damaged picture", list(shows("image/png", "AAAA")), list(shows("image/png", "AAAB")), Statement{}, "stored picture cannot be decoded"},
		{"no base64", list(shows("image/png", "%%")), list(shows("image/png", "AAAB")), Statement{}, "not base64"},
		{"a picture that claims to be huge", list(shows("image/png", claim(60000, 60000, 1))), list(shows("image/png", claim(60000, 60000, 2))), Statement{}, "60000 × 60000 pixels, too many to decode"},
		{"a picture whose size overflows", list(shows("image/png", claim(1<<31-1, 1<<31-1, 1))), list(shows("image/png", claim(1<<31-1, 1<<31-1, 2))), Statement{}, "stored picture"},
		{"line breaks in base64", list(shows("image/png", "AAAA\nAAAA\n")), list(shows("image/png", "AAAAAAAA")), Statement{}, ""},
		{"a sound", list(shows("audio/wav", "AAAA")), list(shows("audio/wav", "AAAB")), Statement{Absolute: 9}, "audio/wav: 3 bytes are stored, now there are 3; the first that differs is byte 3"},
		{"a picture in HTML", list(shows("text/html", `<img src="data:image/png;base64,`+dots(t, 9, 9, 1, 0)+`">`)), list(shows("text/html", `<img src="data:image/png;base64,`+dots(t, 9, 9, 2, 0)+`">`)), Statement{}, "HTML, picture: 1 of 81 pixels"},
		{"the same picture in HTML", list(shows("text/html", `<img src="data:image/png;base64,`+dots(t, 9, 9, 1, png.NoCompression)+`">`)), list(shows("text/html", `<img src="data:image/png;base64,`+dots(t, 9, 9, 1, 0)+`">`)), Statement{}, ""},
		{"a picture more in HTML", list(shows("text/html", `<p>`)), list(shows("text/html", `<p><img src="data:image/png;base64,AAAA">`)), Statement{}, "HTML"},

		{"layout of a drawing", list(shows("image/svg+xml", svg)), list(shows("image/svg+xml", `<?xml version="1.0"?><!-- c --><s:svg xmlns:s="http://www.w3.org/2000/svg">
			<s:path fill="none" d="M1,2 L3.5,4"></s:path></s:svg>`)), Statement{}, ""},
		{"a drawing", list(shows("image/svg+xml", svg)), list(shows("image/svg+xml", strings.Replace(svg, "3.5", "3.6", 1))), Statement{}, `drawing line`},
		{"a drawing within", list(shows("image/svg+xml", svg)), list(shows("image/svg+xml", strings.Replace(svg, "3.5", "3.51", 1))), tolerant, ""},
		{"a damaged drawing", list(shows("image/svg+xml", "<svg>")), list(shows("image/svg+xml", "<svg>&bomb;")), Statement{}, "drawing"},
		{"a deep drawing", list(shows("image/svg+xml", strings.Repeat("<g>", 1e5))), list(shows("image/svg+xml", strings.Repeat("<g>", 1e5)+" ")), Statement{}, "drawing"},
	}
	for _, test := range tests {
		found, _ := Outputs(test.stored, test.fresh, test.states, Options{})
		got := say(found)
		if len(found) > 1 || (test.want == "") != (got == "") || !strings.Contains(got, test.want) {
			t.Errorf("%s: found %d: %s\nwant %q", test.name, len(found), got, test.want)
		}
		// Nothing differs from itself.
		if found, _ := Outputs(test.fresh, test.fresh, Statement{}, Options{}); len(found) > 0 {
			t.Errorf("%s: differs from itself: %s", test.name, say(found))
		}
	}
}

func say(found []Difference) string {
	var lines []string
	for _, d := range found {
		text := fmt.Sprintf("%d %s", d.Output, d.What)
		if d.Line > 0 {
			text += fmt.Sprintf(" line %d", d.Line)
		}
		if d.Stored+d.New != "" {
			text += fmt.Sprintf(": %q %q", d.Stored, d.New)
		} else {
			text += ":"
		}
		lines = append(lines, strings.TrimSpace(text+" "+d.Why))
	}
	return strings.Join(lines, "\n")
}

func TestVersions(t *testing.T) {
	o := Options{
		Versions: Versions{"0.1.0": "0.2.0", "go1.26.8": "go1.27.0", "0.2.0": "9.9.9"},
		Made:     "rotorhum 0.2.0, go1.27.0",
	}
	tests := []struct {
		stored, fresh string
		same          bool
	}{
		{"made with rotorhum 0.1.0, go1.26.8", "made with rotorhum 0.2.0, go1.27.0", true},
		{"made with rotorhum 0.0.7, go1.22", "made with rotorhum 0.2.0, go1.27.0", true},
		{"made with rotorhum 0.0.7-dirty+x, go1.22rc1", "made with rotorhum 0.2.0, go1.27.0", true},
		{"made with rotorhum 0.1.0, go1.26.8", "made with rotorhum 0.3.0, go1.27.0", false},
		{"made with rotorhum 0.1.0, go1.26.8", "made by rotorhum 0.2.0, go1.27.0", false},
		{"version 0.1.0.", "version 0.2.0.", true},
		{"version 0.1.0 is 5 Hz", "version 0.2.0 is 6 Hz", false},
		{"1.0.1.0", "1.0.2.0", false},
		{"0.1.0.4", "0.2.0.4", false},
		{"10.1.0", "10.2.0", false},
		{"x0.1.0", "x0.2.0", false},
		{"5.0 Hz", "5.1 Hz", false},
		{"go1.26.8 and go1.26.8", "go1.27.0 and go1.26.8", false},
		{"go1.26.8", "go1.26.8", true},
	}
	for _, test := range tests {
		found, versions := Outputs(list(stream(test.stored)), list(stream(test.fresh)), Statement{}, o)
		if (len(found) == 0) != test.same {
			t.Errorf("%q then %q: found %q, want the same: %v", test.stored, test.fresh, say(found), test.same)
		}
		if told := test.same && test.stored != test.fresh; (versions == 1) != told {
			t.Errorf("%q then %q: %d lines told to name other versions", test.stored, test.fresh, versions)
		}
	}
	made := func(version string) *notebook.Output {
		return shows(cell.MeasureType, map[string]any{"made_with": map[string]any{"rotorhum": version}})
	}
	if found, _ := Outputs(list(made("0.1.0")), list(made("0.2.0")), Statement{}, o); len(found) > 0 {
		t.Errorf("the version in a measurement: %s", say(found))
	}
}

func TestStatement(t *testing.T) {
	states := func(own any, tags ...any) (Statement, error) {
		return StatementOf(&notebook.Cell{Metadata: map[string]any{"tags": tags, "rotorhum": own}})
	}
	good := []struct {
		own  any
		tags []any
		want Statement
	}{
		{nil, nil, Statement{}},
		{nil, []any{"parameters", "tolerances"}, Statement{}},
		{nil, []any{"tolerance=0.5%"}, Statement{Relative: 0.005}},
		{nil, []any{"tolerance = 2e-3", "tolerance=1 %"}, Statement{Absolute: 2e-3, Relative: 0.01}},
		{nil, []any{"picture-tolerance=0.1%", "output-varies"}, Statement{Pixels: 0.001, Varies: true}},
	}
	for _, test := range good {
		if got, err := states(test.own, test.tags...); err != nil || got != test.want {
			t.Errorf("tags %v: %+v, %v, want %+v", test.tags, got, err, test.want)
		}
	}
	read, err := notebook.Read([]byte(`{"cells":[{"cell_type":"code","source":"","outputs":[],"metadata":{"rotorhum":{"tolerance":[0.02,"1%"],"picture_tolerance":"2 %","output_varies":true}}}],"metadata":{},"nbformat":4,"nbformat_minor":4}`))
	if err != nil {
		t.Fatal(err)
	}
	if got, err := StatementOf(read.Cells[0]); err != nil || got != (Statement{Absolute: 0.02, Relative: 0.01, Pixels: 0.02, Varies: true}) {
		t.Errorf("metadata: %+v, %v", got, err)
	}
	for _, tag := range []string{"tolerance", "tolerance=", "tolerance=abc", "tolerance=-1", "tolerance=0", "tolerance=inf", "tolerance=NaN", "tolerance=100%", "tolerance=1e400",
		"picture-tolerance=5", "picture-tolerance=x%"} {
		if got, err := states(nil, tag); !errors.Is(err, ErrStatement) || !strings.Contains(err.Error(), tag) {
			t.Errorf("tag %q: %+v, %v, want an ErrStatement that quotes it", tag, got, err)
		}
	}
	for _, own := range []map[string]any{{"tolerance": true}, {"tolerance": []any{nil}}, {"output_varies": "yes"}, {"picture_tolerance": "1"}} {
		if got, err := states(own); !errors.Is(err, ErrStatement) {
			t.Errorf("metadata %v: %+v, %v", own, got, err)
		}
	}
}

// Whatever two notebooks hold, comparing them neither fails nor finds a
// difference of a thing from itself.
func FuzzOutputs(f *testing.F) {
	f.Add("text/plain", "1.5 ±0.2", "1.6 ±0.2", 0.01)
	f.Add("image/svg+xml", "<svg a='1'><b/></svg>", "<svg>&x;</svg>", 0.0)
	f.Add("text/html", `<img src="data:image/png;base64,AAAA">`, "x", 0.5)
	f.Add("image/png", claim(3, 3, 1), claim(90000, 90000, 2), 0.5)
	f.Fuzz(func(t *testing.T, mime, a, b string, tolerance float64) {
		s := Statement{Relative: max(0, min(tolerance, 0.99))}
		x, y := list(shows(mime, a), stream(a)), list(shows(mime, b), stream(b))
		Outputs(x, y, s, Options{Versions: Versions{"1": "2"}, Made: "m"})
		if found, _ := Outputs(x, x, s, Options{}); len(found) > 0 {
			t.Fatalf("differs from itself: %s", say(found))
		}
	})
}
