package tacho

import (
	"bytes"
	"encoding/json"
	"flag"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/extension"
)

// updateReports rewrites testdata/report from what the code writes now, for a
// human to review as a difference.
var updateReports = flag.Bool("update-reports", false, "rewrite testdata/report")

// hostileName is a file name that tries to get out of every format.
const hostileName = "<script>alert(1)</script>\"' | *b* `c` [d](javascript:e) \\ & \x01.wav"

func forms(t *testing.T, m *Measurement) map[string]string {
	t.Helper()
	var page, layout bytes.Buffer
	if err := m.WritePage(&page, Illustration{Alt: "a dot", PNG: []byte("\x89PNG\r\n\x1a\n..."), Width: 800}); err != nil {
		t.Fatal(err)
	}
	if err := m.WriteJSON(&layout); err != nil {
		t.Fatal(err)
	}
	return map[string]string{"txt": m.String(), "md": m.Markdown(), "html": page.String(), "json": layout.String()}
}

// The report in every form, as a human approved it.
func TestReportGolden(t *testing.T) {
	for ext, got := range forms(t, measured(t, "push.wav")) {
		name := filepath.Join("testdata", "report", "push."+ext)
		if *updateReports {
			if err := os.WriteFile(name, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if got != string(want) {
			t.Errorf("%s is not what the code writes; first difference:\n got %s\nwant %s\nsee all with go test -run ReportGolden -update-reports and git diff", name, firstDifference(got, string(want)), firstDifference(string(want), got))
		}
	}
}

func firstDifference(a, b string) string {
	as, bs := strings.Split(a, "\n"), strings.Split(b, "\n")
	for i, line := range as {
		if i >= len(bs) || line != bs[i] {
			return line
		}
	}
	return "(ends earlier)"
}

// The keys of the public form, in order, for each verdict: what does not apply
// is absent, and nothing else is there.
func TestJSONFields(t *testing.T) {
	varying := measured(t, "push.wav")
	plain := *varying
	plain.Rotor.Radius = Value{}
	plain.Derived = &Derived{RPM: varying.Derived.RPM}
	steadyTrack := pushedTrack()
	steadyTrack.Verdict, steadyTrack.Steady = VerdictSteady, steadyTrack.Top
	steady, err := NewMeasurement(tenSeconds(t, "fan.wav"), threeLobes(), steadyTrack)
	if err != nil {
		t.Fatal(err)
	}
	none, err := NewMeasurement(tenSeconds(t, "pier.wav"), threeLobes(), &Track{Verdict: VerdictNoReading, Reasons: []string{"it is silent"}})
	if err != nil {
		t.Fatal(err)
	}
	const (
		head     = "schema recording{file sha256 rate_hz channels seconds clipped_fraction peak_dbfs} "
		rotor    = "rotor{pulses_per_rev tip_radius_m tip_radius_u_m} "
		verdict  = "verdict reasons "
		speed    = "speed{rev_per_s lo95 hi95} "
		track    = "track{t_s rev_per_s lo95 hi95} "
		peak     = "peak{t_s t_lo95 t_hi95 rev_per_s lo95 hi95} "
		others   = "alternatives{rev_per_s factor odds} "
		value    = "{value lo95 hi95}"
		derived  = "derived{rpm" + value + " tip_m_per_s" + value + " tip_km_per_h" + value + " tip_mi_per_h" + value + " g_load" + value + "} "
		tail     = "warnings made_with{rotorhum go}"
		noRadius = "rotor{pulses_per_rev} "
		rpmOnly  = "derived{rpm" + value + "} "
	)
	for name, c := range map[string]struct {
		m    *Measurement
		want string
	}{
		"varying":        {varying, head + rotor + verdict + track + peak + others + derived + tail},
		"without radius": {&plain, head + noRadius + verdict + track + peak + others + rpmOnly + tail},
		"steady":         {steady, head + rotor + verdict + speed + track + others + derived + tail},
		"no reading":     {none, head + rotor + verdict + tail},
	} {
		text, err := json.Marshal(c.m)
		if err != nil {
			t.Fatal(err)
		}
		if got := keys(t, text); got != c.want {
			t.Errorf("%s has the fields\n%s, want\n%s", name, got, c.want)
		}
		var layout, compact bytes.Buffer
		if err := c.m.WriteJSON(&layout); err != nil {
			t.Fatal(err)
		}
		if err := json.Compact(&compact, layout.Bytes()); err != nil {
			t.Fatalf("%s: WriteJSON writes what is not JSON: %v", name, err)
		}
		if compact.String() != string(text) {
			t.Errorf("%s: WriteJSON and MarshalJSON differ:\n%s\n%s", name, compact.String(), text)
		}
	}
}

// keys lists the names of the fields in order, those of an object in braces; of
// an array only its first object is listed.
func keys(t *testing.T, text []byte) string {
	t.Helper()
	d := json.NewDecoder(bytes.NewReader(text))
	var out strings.Builder
	var value func(quiet bool)
	value = func(quiet bool) {
		token, err := d.Token()
		if err != nil {
			t.Fatal(err)
		}
		switch token {
		case json.Delim('{'):
			if !quiet && out.Len() > 0 {
				out.WriteString("{")
			}
			for first := true; d.More(); first = false {
				key, err := d.Token()
				if err != nil {
					t.Fatal(err)
				}
				if !quiet {
					if !first {
						out.WriteString(" ")
					}
					out.WriteString(key.(string))
				}
				value(quiet)
			}
			if _, err := d.Token(); err != nil {
				t.Fatal(err)
			}
			if !quiet {
				out.WriteString("}")
			}
		case json.Delim('['):
			for i := 0; d.More(); i++ {
				value(quiet || i > 0)
			}
			if _, err := d.Token(); err != nil {
				t.Fatal(err)
			}
		}
	}
	value(false)
	return strings.TrimSuffix(out.String(), "}")
}

// What the JSON says is what the measurement holds, to its nine digits.
func TestJSONNumbers(t *testing.T) {
	m := measured(t, "push.wav")
	text, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Schema    string
		Recording struct {
			RateHz float64 `json:"rate_hz"`
		}
		Rotor struct {
			R float64 `json:"tip_radius_m"`
			U float64 `json:"tip_radius_u_m"`
		}
		Track []struct {
			T  float64 `json:"t_s"`
			Fr float64 `json:"rev_per_s"`
			Hi float64 `json:"hi95"`
		}
		Peak struct {
			T      float64 `json:"t_s"`
			Fr     float64 `json:"rev_per_s"`
			Lo, Hi float64
			Lo95   float64
		}
		Derived map[string]struct{ Value, Lo95, Hi95 float64 }
	}
	if err := json.Unmarshal(text, &got); err != nil {
		t.Fatal(err)
	}
	const digits = 1e-8
	lo, _ := m.Peak.Speed.CI95()
	tipLo, tipHi := m.Derived.Tip.CI95()
	near(t, "rate", got.Recording.RateHz, 8000, 0)
	near(t, "radius", got.Rotor.R, 0.04, 0)
	near(t, "uncertainty of the radius", got.Rotor.U, 0.0004, digits)
	near(t, "track time", got.Track[2].T, 1.04, digits)
	near(t, "track speed", got.Track[2].Fr, 51, digits)
	near(t, "track hi95", got.Track[2].Hi, 51.2, digits)
	near(t, "peak", got.Peak.Fr, 62.5, digits)
	near(t, "peak lo95", got.Peak.Lo95, lo, digits)
	near(t, "km/h", got.Derived["tip_km_per_h"].Value, 3.6*m.Derived.Tip.X, digits)
	// NIST SP 811, App. B.8: a mile per hour is exactly 0.44704 m/s.
	near(t, "mile/h", got.Derived["tip_mi_per_h"].Value*0.44704, m.Derived.Tip.X, digits)
	near(t, "tip lo95", got.Derived["tip_m_per_s"].Lo95, tipLo, digits)
	near(t, "tip hi95", got.Derived["tip_m_per_s"].Hi95, tipHi, digits)
}

// Digital silence has a peak of minus infinity, which JSON cannot say.
func TestJSONLeavesInfinityOut(t *testing.T) {
	rec, err := NewRecording("silence", 8000, make([]float64, 8000))
	if err != nil {
		t.Fatal(err)
	}
	m, err := NewMeasurement(rec, Rotor{Pulses: 1}, &Track{Verdict: VerdictNoReading, Reasons: []string{"silence"}})
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(text), "peak_dbfs") {
		t.Errorf("%s states a peak, want the field absent", text)
	}
	m.Recording.PeakDBFS = math.NaN()
	if text, err := json.Marshal(m); err == nil {
		t.Errorf("a NaN was written as %s, want an error", text)
	}
}

// The text keeps to 80 columns, whatever the warnings say, and a name cannot
// break a line or move the cursor.
func TestTextWidth(t *testing.T) {
	m := measured(t, "push.wav")
	m.Verdict = VerdictVarying
	m.Warnings = append(m.Warnings, strings.Repeat("many words that go on and on ", 20))
	for _, line := range strings.Split(m.String(), "\n") {
		if n := utf8.RuneCountInString(line); n > textWidth {
			t.Errorf("%d columns, want at most %d: %q", n, textWidth, line)
		}
	}
	m.Recording.File = "a\x1b[2Jb\nc.wav"
	if s := m.String(); strings.ContainsAny(s, "\x1b") || strings.Contains(s, "b\nc") {
		t.Errorf("the file name got through raw: %q", s)
	}
}

// Nothing from outside becomes markup.
func TestReportsEscape(t *testing.T) {
	m := measured(t, hostileName)
	m.Rotor.Name = hostileName
	m.Warnings = []string{hostileName}
	m.Reasons = []string{hostileName}
	m.Alternatives = append(m.Alternatives, AlternativeSpeed{1, hostileName, 2})
	f := forms(t, m)
	for name, html := range map[string]string{"page": f["html"], "fragment": m.HTML(),
		"value":  Measured(1, 0.1, hostileName, hostileName).HTML(),
		"family": (&Family{Tone: Measured(1, 0.1, hostileName, hostileName), Alternatives: []Alternative{{1, hostileName, 2}}}).HTML(),
		"track":  (&Track{Verdict: VerdictNoReading, Reasons: []string{hostileName}, Warnings: []string{hostileName}}).HTML(),
	} {
		if strings.Contains(html, "<script") || strings.Contains(html, hostileName) {
			t.Errorf("the %s lets a name through: %s", name, html)
		}
	}
	if regexp.MustCompile(`(?i)<script|[a-z]+\s*=\s*["']?javascript:|src="http|href=`).MatchString(f["html"]) {
		t.Errorf("the page has a script, a link or a foreign picture:\n%s", f["html"])
	}
	// What CommonMark makes of the Markdown holds the name as text and nothing
	// that it asks for.
	var rendered bytes.Buffer
	if err := goldmark.New(goldmark.WithExtensions(extension.GFM)).Convert([]byte(f["md"]), &rendered); err != nil {
		t.Fatal(err)
	}
	if regexp.MustCompile(`<(script|em|code|a|!--)`).MatchString(rendered.String()) {
		t.Errorf("the Markdown lets a name through:\n%s", rendered.String())
	}
	if n := strings.Count(rendered.String(), "alert(1)"); n < 5 {
		t.Errorf("the Markdown shows the name %d times, want it in lists and tables (of a path, the headline shows the end):\n%s", n, rendered.String())
	}
	for _, line := range strings.Split(f["md"], "\n") {
		if strings.HasPrefix(line, "| recording") && strings.Count(strings.ReplaceAll(line, `\|`, ""), "|") != 3 {
			t.Errorf("a name breaks the table: %s", line)
		}
	}
}

func TestPageRefusesBadPictures(t *testing.T) {
	m := measured(t, "push.wav")
	for name, p := range map[string]Illustration{
		"not a PNG": {Alt: "x", PNG: []byte("GIF89a")},
		"no alt":    {PNG: []byte("\x89PNG\r\n\x1a\n")},
		"empty":     {Alt: "x"},
	} {
		if err := m.WritePage(&bytes.Buffer{}, p); err == nil {
			t.Errorf("%s: no error, want one", name)
		}
	}
}
