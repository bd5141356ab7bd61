package tacho

import (
	"encoding/xml"
	"fmt"
	"io"
	"strings"
	"testing"
)

// wellFormed checks that every element of a piece of HTML is closed; all our
// pieces are XML too, but for line breaks.
func wellFormed(t *testing.T, what, html string) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(strings.ReplaceAll(html, "<br>", "<br/>")))
	for {
		if _, err := d.Token(); err == io.EOF {
			return
		} else if err != nil {
			t.Errorf("%s is not well formed: %v\n%s", what, err, html)
			return
		}
	}
}

func TestShow(t *testing.T) {
	track := pushedTrack()
	family := &Family{Tone: tonePart(187.5, 0.12), Lines: []Harmonic{{M: 1, Freq: 187.5, Amp: 0.1, SNR: 30.04}, {M: 2, Freq: 375}},
		Alternatives: []Alternative{{93.75, "1/2", 1.2}}, Balanced: true}
	peak, err := track.Peak()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what string
		show interface{ HTML() string }
		text string
		html []string
	}{
		{"value", Measured(62.5, 0.17, "rev/s", "tone"), "62.50 ± 0.17 rev/s", []string{"62.50 ± 0.17 rev/s", "62.17 to 62.83 rev/s", "tone", "100 %"}},
		{"exact value", Exact(3750, "rpm"), "3750 rpm", []string{"3750 rpm"}},
		{"family", family, "pulse rate 187.50 ± 0.12 Hz, 2 lines found; 93.75 Hz is as likely", []string{"187.5 Hz", "-20.0", "30.0", "−∞", "1/2", "as likely"}},
		{"track", track, "varying: 4 points every 20 ms in 2 stretches, from 1 to 3.22 s, between 150 and 187.5 Hz; highest pulse rate 187.50 ± 0.12 Hz at 3.2140 s",
			[]string{"2 stretches", "<svg", "aria-label=", "Warning: the sound was clipped"}},
		{"no track", &Track{Verdict: VerdictNoReading, Reasons: []string{"it is silent"}}, "no reading: it is silent", []string{"no reading: it is silent"}},
	} {
		if got := fmt.Sprint(c.show); got != c.text {
			t.Errorf("%s as text = %q, want %q", c.what, got, c.text)
		}
		html := c.show.HTML()
		wellFormed(t, c.what, html)
		for _, want := range c.html {
			if !strings.Contains(html, want) {
				t.Errorf("%s as HTML does not hold %q:\n%s", c.what, want, html)
			}
		}
	}
	if got, want := peak.WhenBetween(), "3.2060 to 3.2220 s"; got != want {
		t.Errorf("the peak is %q, want %q", got, want)
	}
	peak.TLo95, peak.THi95 = peak.T, peak.T
	if got, want := peak.When(), "3.214 s"; got != want {
		t.Errorf("a moment without an interval is %q, want %q", got, want)
	}
	// an end of the recording is a moment known to a sample
	edge := &PeakSpeed{T: 0, TLo95: 0, THi95: 1 / 44100.0}
	if got, want := edge.When()+", "+edge.WhenBetween(), "0.000 s, 0.000 to 0.000 s"; got != want {
		t.Errorf("an edge is reached at %q, want %q", got, want)
	}
	wellFormed(t, "measurement", measured(t, "push.wav").HTML())
	if strings.Contains(measured(t, "push.wav").HTML(), "<h2") {
		t.Error("a measurement in a notebook has headings as high as the notebook's")
	}
}

// The sparkline breaks where the track does and stays small however long it is.
func TestSparkline(t *testing.T) {
	if moves := strings.Count(pushedTrack().sparkline(), "M"); moves != 2 {
		t.Errorf("%d pieces, want 2: the track has a gap", moves)
	}
	long := &Track{Step: 0.02, Seconds: 3600}
	for i := range 180_000 {
		long.Points = append(long.Points, TrackPoint{T: 0.02 * float64(i), Tone: 100})
	}
	s := long.sparkline()
	if moves := strings.Count(s, "M"); moves != 1 || len(s) > 50_000 {
		t.Errorf("an hour without a gap is drawn in %d pieces and %d bytes, want 1 and less than 50,000", moves, len(s))
	}
	for name, tr := range map[string]*Track{"empty": {}, "at rest": {Seconds: 1, Points: []TrackPoint{{}}}, "no length": {Points: []TrackPoint{{Tone: 1}}}} {
		if s := tr.sparkline(); s != "" {
			t.Errorf("%s: drawn as %s", name, s)
		}
	}
}
