package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"

	"rotorhum/tacho"
	"rotorhum/tacho/listen"
	"rotorhum/tacho/listen/live"
)

// lineView writes plain lines.
type lineView struct {
	out  io.Writer
	said bool
	due  float64
}

// lineEvery is the time between lines in seconds.
const lineEvery = 0.5

func (v *lineView) begin(func()) func() { return nil }
func (v *lineView) end()                {}

func (v *lineView) show(s *listen.State) {
	if !v.said {
		v.said = true
		fmt.Fprintf(v.out, "listening to %s (%v)", s.Source, s.Format)
		if s.Kept != "" {
			fmt.Fprintf(v.out, ", kept in %s", s.Kept)
		}
		fmt.Fprintln(v.out)
	}
	if s.Reading.At < v.due {
		return
	}
	v.due = s.Reading.At + lineEvery - live.Step/2
	line := fmt.Sprintf("%7.2f s  ", s.Reading.At)
	if r := s.Reading; r.Heard {
		line += speedWords(r.Speed)
	} else {
		line += "no speed: " + r.Why
	}
	if h := s.Reading.Highest; h != nil {
		line += fmt.Sprintf("; highest %s at %.2f s", h.Speed.Rounded(), h.T)
	}
	line += fmt.Sprintf("; peak %s", decibelWords(s.Reading.Peak))
	if s.Reading.Clipped {
		line += ", CLIPPED"
	}
	fmt.Fprintln(v.out, line)
}

// speedWords gives a speed in rev/s and rpm, with its interval.
func speedWords(v tacho.Value) string {
	return fmt.Sprintf("%s = %s (95 %%: %s)", v.Rounded(), v.Scale(60, "rpm").Rounded(), v.Between())
}

// decibelWords prints a level of full scale.
func decibelWords(x float64) string {
	if math.IsInf(x, -1) {
		return "silent"
	}
	return fmt.Sprintf("%.0f dB", x)
}

func (v *lineView) heard(r *listen.Result) { writeHeard(v.out, r) }

func (v *lineView) measured(r *listen.Result, m *tacho.Measurement) error {
	return writeMeasured(v.out, r, m)
}

// writeHeard prints what was heard.
func writeHeard(w io.Writer, r *listen.Result) { fmt.Fprintf(w, "\n%v\n\n", r) }

// writeMeasured prints the full measurement and how the live one agrees with it.
func writeMeasured(w io.Writer, r *listen.Result, m *tacho.Measurement) error {
	_, err := fmt.Fprint(w, m)
	if a, bad := r.Against(m); bad == nil {
		fmt.Fprintf(w, "\n%v\n", a)
	}
	if r.File != "" {
		fmt.Fprintf(w, "\nThe recording is in %s.\n", r.File)
	}
	return err
}

// listenSchema names the lines of JSON that "rotorhum listen -json" writes.
const listenSchema = "rotorhum.listen/1"

// jsonView writes one line of JSON for every reading.
type jsonView struct {
	out io.Writer
	err error
}

// The lines. What does not apply is absent.
type (
	listenSpeedJSON struct {
		RevPerS float64 `json:"rev_per_s"`
		Lo95    float64 `json:"lo95"`
		Hi95    float64 `json:"hi95"`
		RPM     float64 `json:"rpm"`
		TS      float64 `json:"t_s,omitempty"`
	}
	listenReadingJSON struct {
		Schema   string           `json:"schema"`
		TS       float64          `json:"t_s"`
		Heard    bool             `json:"heard"`
		Why      string           `json:"why,omitempty"`
		Speed    *listenSpeedJSON `json:"speed,omitempty"`
		Highest  *listenSpeedJSON `json:"highest,omitempty"`
		LevelDB  *float64         `json:"level_dbfs,omitempty"`
		PeakDB   *float64         `json:"peak_dbfs,omitempty"`
		Clipped  bool             `json:"clipped"`
		LostS    float64          `json:"lost_s,omitempty"`
		SkippedS float64          `json:"skipped_s,omitempty"`
	}
	listenEndJSON struct {
		Schema      string             `json:"schema"`
		Ended       listen.Ending      `json:"ended"`
		Trouble     string             `json:"trouble,omitempty"`
		File        string             `json:"file,omitempty"`
		Seconds     float64            `json:"seconds"`
		Highest     *listenSpeedJSON   `json:"highest,omitempty"`
		Agree       *bool              `json:"agree,omitempty"`
		Measurement *tacho.Measurement `json:"measurement"`
	}
)

func (v *jsonView) begin(func()) func()  { return nil }
func (v *jsonView) end()                 {}
func (v *jsonView) heard(*listen.Result) {}

func (v *jsonView) write(line any) {
	data, err := json.Marshal(line)
	if err == nil {
		_, err = v.out.Write(append(data, '\n'))
	}
	if v.err == nil {
		v.err = err
	}
}

func (v *jsonView) show(s *listen.State) {
	r := s.Reading
	line := listenReadingJSON{Schema: listenSchema, TS: round6(r.At), Heard: r.Heard, Why: r.Why, Clipped: r.Clipped,
		LevelDB: finite(r.Level), PeakDB: finite(r.Peak), LostS: round6(s.Lost), SkippedS: round6(s.Skipped)}
	if r.Heard {
		line.Speed = speedJSON(r.Speed, 0)
	}
	if h := r.Highest; h != nil {
		line.Highest = speedJSON(h.Speed, h.T)
	}
	v.write(line)
}

func (v *jsonView) measured(r *listen.Result, m *tacho.Measurement) error {
	line := listenEndJSON{Schema: listenSchema, Ended: r.Ended, Trouble: r.Trouble, File: r.File, Seconds: round6(r.Seconds), Measurement: m}
	if r.Highest != nil {
		line.Highest = speedJSON(r.Highest.Speed, r.Highest.T)
	}
	if a, err := r.Against(m); err == nil {
		line.Agree = &a.Agree
	}
	v.write(line)
	return v.err
}

func speedJSON(v tacho.Value, t float64) *listenSpeedJSON {
	lo, hi := v.CI95()
	return &listenSpeedJSON{round6(v.X), round6(lo), round6(hi), round6(60 * v.X), round6(t)}
}

// round6 rounds to six decimal places, which is finer than anything heard.
func round6(x float64) float64 { return math.Round(x*1e6) / 1e6 }

// finite is nil for what JSON cannot hold.
func finite(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	x = math.Round(x*100) / 100
	return &x
}
