package tacho

import (
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"unicode"
)

// report is what a measurement says, in the order of a reader's questions and
// in words and rounded numbers; the text, the Markdown and the HTML only lay it
// out.
type report struct {
	headline string   // the answer in one sentence
	reasons  []string // why there is no reading, or what the reading rests on
	answers  []answer
	budget   []cause
	advice   string // what to measure better first
	others   []string
	warnings []string
	cautions []Caution
	facts    []fact
}

// answer is one quantity: what it is, its rounded value, its interval.
type answer struct{ what, value, interval string }

// cause is one contribution to the uncertainty of the shaft speed and of the
// tip speed; a text is empty where it does not contribute.
type cause struct{ name, speed, speedShare, tip, tipShare string }

// fact is a line about the recording or the rotor.
type fact struct{ what, text string }

// report puts the measurement into words.
func (m *Measurement) report() report {
	r := report{
		reasons:  printable(m.Reasons...),
		warnings: printable(m.Warnings...),
		cautions: m.Cautions(),
		facts:    m.facts(),
	}
	file := printable(filepath.Base(m.Recording.File))[0]
	top, ok := m.Top()
	if !ok {
		r.headline = "No reading: no rotor can be claimed in " + file
		return r
	}
	name := "Steady speed"
	when := "throughout " + file
	if m.Peak != nil {
		name = "Peak speed"
		when = fmt.Sprintf("%s into %s", moment(m.Peak.T, m.Peak.TLo95, m.Peak.THi95), file)
	}
	r.headline = fmt.Sprintf("%s %s = %s, %s", name, top.Rounded(), m.Derived.RPM.Rounded(), when)
	r.answers = m.answers(name, top)
	r.budget, r.advice = m.budget(top)
	r.others = m.others()
	return r
}

// answers lists the quantities that follow, the most wanted first.
func (m *Measurement) answers(name string, top Value) []answer {
	row := func(what string, v Value) answer { return answer{what, v.Rounded(), v.Between()} }
	a := []answer{row(strings.ToLower(name), top), row("", m.Derived.RPM)}
	if m.Peak != nil {
		p := m.Peak
		a = append(a, answer{"when", moment(p.T, p.TLo95, p.THi95), momentInterval(p.TLo95, p.THi95)})
	}
	if m.Derived.Tip != nil {
		what := "tip speed"
		for _, unit := range []string{"m/s", "km/h", "mile/h"} {
			if v, err := m.Derived.Tip.To(unit); err == nil {
				a = append(a, row(what, v))
				what = ""
			}
		}
	}
	if m.Derived.GLoad != nil {
		a = append(a, row("load at the tip", *m.Derived.GLoad))
	}
	return a
}

// budget lists the contributions to the uncertainty and says which one is
// worth measuring better.
func (m *Measurement) budget(top Value) (causes []cause, advice string) {
	named := func(name string) *cause {
		for i := range causes {
			if causes[i].name == name {
				return &causes[i]
			}
		}
		causes = append(causes, cause{name: name})
		return &causes[len(causes)-1]
	}
	final, what := top, "the speed"
	if m.Derived.Tip != nil {
		final, what = *m.Derived.Tip, "the tip speed"
		for _, s := range final.Budget() {
			c := named(s.Name)
			c.tip, c.tipShare = formatSig(s.U, uncertaintyDigits)+" "+final.Unit, percent(s.Fraction)
		}
	}
	for _, s := range top.Budget() {
		c := named(s.Name)
		c.speed, c.speedShare = formatSig(s.U, uncertaintyDigits)+" "+top.Unit, percent(s.Fraction)
	}
	if shares := final.Budget(); len(shares) > 0 && shares[0].Fraction > 0.5 {
		advice = fmt.Sprintf("Most of the doubt about %s comes from the %s: %s", what, shares[0].Name, betterBy(shares[0].Name))
	}
	return causes, advice
}

// betterBy says how a contribution is made smaller.
func betterBy(name string) string {
	switch name {
	case "tone":
		return "hold the microphone closer, record for longer, keep the room quiet."
	case "clock":
		return "check the recorder against a time signal and state its error with the clock option."
	case "radius":
		return "measure it again with a better ruler or a caliper."
	}
	return "measure it better first."
}

// others lists the other readings of the same sound, those that are out of the
// question in one line.
func (m *Measurement) others() []string {
	var out, unlikely []string
	for _, a := range m.Alternatives {
		factor := printable(a.Factor)[0]
		if a.Odds >= outOfQuestion {
			unlikely = append(unlikely, factor)
			continue
		}
		out = append(out, fmt.Sprintf("%s, %s times the speed above: %s", join(formatSig(float64(a.Fr), 4), "rev/s"), factor, odds(a.Odds)))
	}
	if len(unlikely) > 0 {
		out = append(out, fmt.Sprintf("%s times the speed above: %s", strings.Join(unlikely, ", "), odds(outOfQuestion)))
	}
	return out
}

// facts lists what was measured and with what.
func (m *Measurement) facts() []fact {
	rec := m.Recording
	sound := fmt.Sprintf("%s s, %s Hz, %s", formatSig(rec.Seconds, 4), formatSig(rec.Rate, 6), counted(rec.Channels, "channel"))
	if !math.IsInf(rec.PeakDBFS, -1) {
		sound += fmt.Sprintf(", peak %s dB re full scale", formatSig(rec.PeakDBFS, 3))
	}
	if rec.ClippedFraction > 0 {
		sound += fmt.Sprintf(", %s %% clipped", formatSig(100*rec.ClippedFraction, 2))
	}
	if rec.Codec != "" {
		sound = printable(rec.Codec)[0] + ", " + sound
	}
	f := []fact{{"recording", printable(rec.File)[0]}, {"", sound}}
	if rec.SHA256 != "" {
		f = append(f, fact{"SHA-256", printable(rec.SHA256)[0]})
	}
	name := printable(m.Rotor.Name)[0]
	if name != "" {
		name += ", "
	}
	f = append(f, fact{"rotor", name + counted(m.Rotor.Pulses, "pulse") + " per revolution"})
	if m.Rotor.HasRadius() {
		f = append(f, fact{"", "tip radius " + m.Rotor.Radius.String()})
	}
	return append(f, fact{"made with", fmt.Sprintf("rotorhum %s, %s", m.MadeWith.Rotorhum, m.MadeWith.Go)})
}

// printable returns texts from outside with every character that could move a
// cursor or turn the direction of writing replaced by a mark.
func printable(texts ...string) []string {
	var out []string
	for _, s := range texts {
		out = append(out, strings.Map(func(r rune) rune {
			if unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) {
				return unicode.ReplacementChar
			}
			return r
		}, s))
	}
	return out
}
