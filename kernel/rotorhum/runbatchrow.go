package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"
	"text/tabwriter"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/notebook"
	"rotorhum/tacho"
)

// resultOK is the result of a recording for which all cells ran.
const resultOK = "ok"

// batchRow is what a batch says of one recording. The speed is that of the last
// measurement that the notebook shows: the steady speed or the peak. Speeds are
// nil without a reading; the verdict is "" if no measurement was shown.
type batchRow struct {
	Recording string   `json:"recording"`
	Verdict   string   `json:"verdict,omitempty"`
	RevPerS   *float64 `json:"rev_per_s,omitempty"`
	Lo95      *float64 `json:"lo95,omitempty"`
	Hi95      *float64 `json:"hi95,omitempty"`
	PeakTS    *float64 `json:"peak_t_s,omitempty"`
	Notebook  string   `json:"notebook,omitempty"`
	Result    string   `json:"result"`
}

// read takes verdict and speed from the last measurement that the notebook
// shows, which must be one of the recording that was asked for.
func (r *batchRow) read(nb *notebook.Notebook, recording string) error {
	var last any
	for _, c := range nb.Cells {
		for _, o := range c.Outputs {
			if v, ok := o.Bundle.Data[cell.MeasureType]; ok {
				last = v
			}
		}
	}
	if last == nil {
		return fmt.Errorf("no cell shows a measurement: end a cell with one that tacho.Measure gives")
	}
	text, err := json.Marshal(last)
	if err != nil {
		return err
	}
	var m struct {
		Recording struct{ File string }
		Verdict   string
		Speed     *struct {
			RevPerS *float64 `json:"rev_per_s"`
			Lo95    *float64 `json:"lo95"`
			Hi95    *float64 `json:"hi95"`
		}
		Peak *struct {
			TS      *float64 `json:"t_s"`
			RevPerS *float64 `json:"rev_per_s"`
			Lo95    *float64 `json:"lo95"`
			Hi95    *float64 `json:"hi95"`
		}
	}
	if err := json.Unmarshal(text, &m); err != nil {
		return fmt.Errorf("the measurement that is shown cannot be read: %w", err)
	}
	if m.Recording.File != recording {
		return fmt.Errorf("the last measurement that is shown is of %s, not of this recording", m.Recording.File)
	}
	r.Verdict = m.Verdict
	switch {
	case m.Peak != nil:
		r.RevPerS, r.Lo95, r.Hi95, r.PeakTS = m.Peak.RevPerS, m.Peak.Lo95, m.Peak.Hi95, m.Peak.TS
	case m.Speed != nil:
		r.RevPerS, r.Lo95, r.Hi95 = m.Speed.RevPerS, m.Speed.Lo95, m.Speed.Hi95
	}
	return nil
}

// inWords returns speed and interval rounded as the interval deserves.
func (r *batchRow) inWords() (speed, between string) {
	if r.RevPerS == nil || r.Lo95 == nil || r.Hi95 == nil {
		return "-", "-"
	}
	const widthOf95 = 2 * 1.959964 // standard uncertainties, normal distribution
	v := tacho.Measured(*r.RevPerS, (*r.Hi95-*r.Lo95)/widthOf95, "rev/s", "reading")
	low := tacho.Measured(*r.Lo95, v.U(), "", "reading")
	high := tacho.Measured(*r.Hi95, v.U(), "rev/s", "reading")
	return v.Rounded(), low.Rounded() + " to " + high.Rounded()
}

// printRows prints the table for people.
func printRows(w io.Writer, rows []*batchRow) {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "recording\tspeed\t95 % interval\tverdict\tnotebook\tresult")
	for _, r := range rows {
		speed, between := r.inWords()
		cells := []string{filepath.Base(r.Recording), speed, between, orDash(r.Verdict), orDash(r.Notebook), shortened(r.Result, 80)}
		for i := range cells {
			cells[i] = terminalLine(cells[i])
		}
		fmt.Fprintln(t, strings.Join(cells, "\t"))
	}
	t.Flush()
}

func orDash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

// The heads by which a table of this program is known.
const (
	csvHead   = "recording,verdict,rev_per_s,lo95,hi95,peak_t_s,notebook,result"
	tableName = "rotorhum.batch/1"
)

// writeTable writes the table as far as it is known, all at once.
func (b *batch) writeTable() error {
	if b.o.table == "" {
		return nil
	}
	var text []byte
	var err error
	if strings.EqualFold(filepath.Ext(b.o.table), ".json") {
		text, err = json.MarshalIndent(struct {
			Schema   string      `json:"schema"`
			Notebook string      `json:"notebook"`
			Rows     []*batchRow `json:"rows"`
		}{tableName, b.notebook, b.rows}, "", " ")
		text = append(text, '\n')
	} else {
		text, err = csvTable(b.rows)
	}
	if err != nil {
		return err
	}
	return writeResult(b.o.table, text)
}

func csvTable(rows []*batchRow) ([]byte, error) {
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	w.Write(strings.Split(csvHead, ","))
	for _, r := range rows {
		w.Write([]string{asText(r.Recording), r.Verdict, numberText(r.RevPerS), numberText(r.Lo95), numberText(r.Hi95), numberText(r.PeakTS),
			asText(r.Notebook), asText(r.Result)})
	}
	w.Flush()
	return out.Bytes(), w.Error()
}

func numberText(x *float64) string {
	if x == nil {
		return ""
	}
	return strconv.FormatFloat(*x, 'g', -1, 64)
}

// asText keeps a spreadsheet from taking a stranger's file name for a formula.
func asText(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "./" + s
	}
	return s
}
