package tacho

import (
	"fmt"
	"html"
	"math"
	"strings"
)

// String says in a few lines what the track holds.
func (t *Track) String() string {
	if t.Verdict == VerdictNoReading {
		return "no reading: " + strings.Join(t.Reasons, "; ")
	}
	s := fmt.Sprintf("%s: %s", t.Verdict, t.heard())
	switch {
	case t.Verdict == VerdictSteady && t.Steady != nil:
		s += "; pulse rate " + t.Steady.Tone.String()
	default:
		if p, err := t.Peak(); err == nil {
			s += "; highest pulse rate " + p.String()
		}
	}
	return s
}

// heard says how long and in how many stretches the rotor is heard.
func (t *Track) heard() string {
	if len(t.Points) == 0 {
		return "no points"
	}
	stretches := 1
	for i := 1; i < len(t.Points); i++ {
		if t.Points[i].T-t.Points[i-1].T > 1.5*t.Step {
			stretches++
		}
	}
	lo, hi := t.Points[0].Tone, t.Points[0].Tone
	for _, p := range t.Points {
		lo, hi = min(lo, p.Tone), max(hi, p.Tone)
	}
	s := fmt.Sprintf("%d points every %s ms", len(t.Points), formatSig(1000*t.Step, 3))
	if stretches > 1 {
		s += fmt.Sprintf(" in %d stretches", stretches)
	}
	return s + fmt.Sprintf(", from %s to %s s, between %s and %s Hz", formatSig(t.Points[0].T, 4),
		formatSig(t.Points[len(t.Points)-1].T, 4), formatSig(float64(lo), 4), formatSig(float64(hi), 4))
}

// HTML shows the track in a notebook: what it holds in words, and a line of
// the pulse rate over time.
func (t *Track) HTML() string {
	out := `<div class="rotorhum"><p>` + html.EscapeString(t.String()) + "</p>" + t.sparkline()
	for _, w := range t.Warnings {
		out += "<p>Warning: " + html.EscapeString(w) + "</p>"
	}
	return out + "</div>"
}

// sparkline draws the pulse rate over the length of the recording, without
// axes: the pictures with scales are made by the figure package.
func (t *Track) sparkline() string {
	const width, height = 480, 60
	if len(t.Points) == 0 || !(t.Seconds > 0) {
		return ""
	}
	top := 0.0
	for _, p := range t.Points {
		top = math.Max(top, float64(p.Tone))
	}
	if !(top > 0) || math.IsInf(top, 1) {
		return ""
	}
	var path strings.Builder
	before := math.Inf(-1)
	for i, p := range t.Points {
		// At most four points per pixel of width; more would only be weight.
		if every := len(t.Points)/(4*width) + 1; i%every != 0 {
			continue
		}
		verb := "L"
		if p.T-before > 1.5*t.Step*float64(len(t.Points)/(4*width)+1) {
			verb = "M"
		}
		before = p.T
		fmt.Fprintf(&path, "%s%.1f %.1f", verb, width*p.T/t.Seconds, height-4-(height-8)*float64(p.Tone)/top)
	}
	return fmt.Sprintf(`<svg width="%d" height="%d" role="img" aria-label="pulse rate over %s s, highest %s">`+
		`<path d="%s" fill="none" stroke="currentColor" stroke-width="1.5"/></svg>`,
		width, height, formatSig(t.Seconds, 3), Hertz(top), path.String())
}

// String says how high the peak is and when.
func (p *PeakSpeed) String() string { return p.Tone.String() + " at " + p.When() }

// When returns the moment of the peak, rounded as its interval deserves, such
// as "10.440 s".
func (p *PeakSpeed) When() string { return moment(p.T, p.TLo95, p.THi95) }

// WhenBetween returns the 95 % interval of the moment of the peak, such as
// "10.401 to 10.479 s".
func (p *PeakSpeed) WhenBetween() string { return momentInterval(p.TLo95, p.THi95) }

// brief is the length of an interval of time, in seconds, below which it is as good
// as a moment.
const brief = 0.002

// moment prints a time in seconds with the digits that its interval deserves,
// and to the millisecond if it has next to none.
func moment(t, lo, hi float64) string {
	if !(hi-lo > brief) {
		return join(fixed(t, 3), "s")
	}
	// A 95 % interval is about four standard uncertainties wide.
	return Measured(t, (hi-lo)/4, "s", "").Rounded()
}

// momentInterval prints the interval of a moment likewise.
func momentInterval(lo, hi float64) string {
	if !(hi-lo > brief) {
		return join(fixed(lo, 3)+" to "+fixed(hi, 3), "s")
	}
	return formatInterval(lo, hi, "s")
}
