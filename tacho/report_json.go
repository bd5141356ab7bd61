package tacho

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
)

// schemaName names the JSON form of a Measurement. It changes when a field is
// renamed or means something else; added fields do not change it.
const schemaName = "rotorhum.measure/1"

// jsonDigits is how many significant digits a number in the JSON has: far more
// than any speed deserves, fewer than the last bits in which machines differ.
const jsonDigits = 9

// number is a finite number of the JSON.
type number float64

// MarshalJSON rounds to jsonDigits.
func (x number) MarshalJSON() ([]byte, error) {
	if math.IsNaN(float64(x)) || math.IsInf(float64(x), 0) {
		return nil, fmt.Errorf("tacho: %g cannot stand in JSON", float64(x))
	}
	r, err := strconv.ParseFloat(strconv.FormatFloat(float64(x), 'e', jsonDigits-1, 64), 64)
	if err != nil {
		return nil, err
	}
	return json.Marshal(r)
}

// The JSON form, in the order in which it is written. What does not apply is
// absent.
type (
	recordingJSON struct {
		File            string  `json:"file"`
		SHA256          string  `json:"sha256"`
		RateHz          number  `json:"rate_hz"`
		Channels        int     `json:"channels"`
		Seconds         number  `json:"seconds"`
		ClippedFraction number  `json:"clipped_fraction"`
		PeakDBFS        *number `json:"peak_dbfs,omitempty"` // absent for digital silence
		Codec           string  `json:"codec,omitempty"`
	}
	rotorJSON struct {
		PulsesPerRev int     `json:"pulses_per_rev"`
		TipRadiusM   *number `json:"tip_radius_m,omitempty"`
		TipRadiusUM  *number `json:"tip_radius_u_m,omitempty"`
	}
	speedJSON struct {
		RevPerS number `json:"rev_per_s"`
		Lo95    number `json:"lo95"`
		Hi95    number `json:"hi95"`
	}
	pointJSON struct {
		TS number `json:"t_s"`
		speedJSON
	}
	peakJSON struct {
		TS    number `json:"t_s"`
		TLo95 number `json:"t_lo95"`
		THi95 number `json:"t_hi95"`
		speedJSON
	}
	alternativeJSON struct {
		RevPerS number `json:"rev_per_s"`
		Factor  string `json:"factor"`
		Odds    number `json:"odds"`
	}
	valueJSON struct {
		Value number `json:"value"`
		Lo95  number `json:"lo95"`
		Hi95  number `json:"hi95"`
	}
	derivedJSON struct {
		RPM       valueJSON  `json:"rpm"`
		TipMPerS  *valueJSON `json:"tip_m_per_s,omitempty"`
		TipKmPerH *valueJSON `json:"tip_km_per_h,omitempty"`
		TipMiPerH *valueJSON `json:"tip_mi_per_h,omitempty"`
		GLoad     *valueJSON `json:"g_load,omitempty"`
	}
	madeWithJSON struct {
		Rotorhum string `json:"rotorhum"`
		Go       string `json:"go"`
	}
)

// field is one field of the outermost object.
type field struct {
	name  string
	value any
}

// MarshalJSON returns the measurement in the public form named by its schema
// field, "rotorhum.measure/1". Speeds are in revolutions per second, times in
// seconds from the start of the recording, and every interval holds the truth
// in 95 of 100 cases. NaN and infinities do not occur, and what does not apply
// is absent.
func (m *Measurement) MarshalJSON() ([]byte, error) {
	fields, err := m.fields()
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	for i, f := range fields {
		b.WriteByte("{,"[min(i, 1)])
		text, err := json.Marshal(f.value)
		if err != nil {
			return nil, err
		}
		fmt.Fprintf(&b, "%q:%s", f.name, text)
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// WriteJSON writes what MarshalJSON returns, laid out for reading and for
// comparing line by line: one field to the line, one point of the track to the
// line.
func (m *Measurement) WriteJSON(w io.Writer) error {
	fields, err := m.fields()
	if err != nil {
		return err
	}
	var b bytes.Buffer
	for i, f := range fields {
		b.WriteString([]string{"{\n", ",\n"}[min(i, 1)])
		fmt.Fprintf(&b, " %q:", f.name)
		points, long := f.value.([]pointJSON)
		if !long {
			text, err := json.Marshal(f.value)
			if err != nil {
				return err
			}
			b.Write(text)
			continue
		}
		for j, p := range points {
			text, err := json.Marshal(p)
			if err != nil {
				return err
			}
			b.WriteString([]string{"[\n  ", ",\n  "}[min(j, 1)])
			b.Write(text)
		}
		b.WriteString("]")
	}
	b.WriteString("\n}\n")
	_, err = w.Write(b.Bytes())
	return err
}

// fields returns the fields that apply, in the order of the schema.
func (m *Measurement) fields() ([]field, error) {
	rec := recordingJSON{m.Recording.File, m.Recording.SHA256, number(m.Recording.Rate), m.Recording.Channels,
		number(m.Recording.Seconds), number(m.Recording.ClippedFraction), nil, m.Recording.Codec}
	if peak := number(m.Recording.PeakDBFS); !math.IsInf(m.Recording.PeakDBFS, -1) {
		rec.PeakDBFS = &peak
	}
	rotor := rotorJSON{PulsesPerRev: m.Rotor.Pulses}
	if m.Rotor.HasRadius() {
		r, err := m.Rotor.Radius.To("m")
		if err != nil {
			return nil, err
		}
		x, u := number(r.X), number(r.U())
		rotor.TipRadiusM, rotor.TipRadiusUM = &x, &u
	}
	f := []field{{"schema", schemaName}, {"recording", rec}, {"rotor", rotor}, {"verdict", m.Verdict}, {"reasons", listed(m.Reasons)}}
	if m.Speed != nil {
		f = append(f, field{"speed", speedOf(*m.Speed)})
	}
	if len(m.Points) > 0 {
		points := make([]pointJSON, len(m.Points))
		for i, p := range m.Points {
			points[i] = pointJSON{number(p.T), speedJSON{number(p.Fr), number(p.Lo95), number(p.Hi95)}}
		}
		f = append(f, field{"track", points})
	}
	if p := m.Peak; p != nil {
		f = append(f, field{"peak", peakJSON{number(p.T), number(p.TLo95), number(p.THi95), speedOf(p.Speed)}})
	}
	if len(m.Alternatives) > 0 {
		others := make([]alternativeJSON, len(m.Alternatives))
		for i, a := range m.Alternatives {
			others[i] = alternativeJSON{number(a.Fr), a.Factor, number(a.Odds)}
		}
		f = append(f, field{"alternatives", others})
	}
	if m.Derived != nil {
		d, err := m.Derived.json()
		if err != nil {
			return nil, err
		}
		f = append(f, field{"derived", d})
	}
	return append(f, field{"warnings", listed(m.Warnings)}, field{"made_with", madeWithJSON{m.MadeWith.Rotorhum, m.MadeWith.Go}}), nil
}

// listed returns s as a list that is written as [] when it is empty: that
// nothing is amiss is a statement too.
func listed(s []string) []string {
	if s == nil {
		return []string{}
	}
	return s
}

func speedOf(v Value) speedJSON {
	lo, hi := v.CI95()
	return speedJSON{number(v.X), number(lo), number(hi)}
}

func valueOf(v Value) valueJSON {
	lo, hi := v.CI95()
	return valueJSON{number(v.X), number(lo), number(hi)}
}

func (d *Derived) json() (*derivedJSON, error) {
	out := &derivedJSON{RPM: valueOf(d.RPM)}
	if d.Tip != nil {
		ms := valueOf(*d.Tip)
		kmh, err := d.Tip.To("km/h")
		if err != nil {
			return nil, err
		}
		mih, err := d.Tip.To("mile/h")
		if err != nil {
			return nil, err
		}
		km, mi := valueOf(kmh), valueOf(mih)
		out.TipMPerS, out.TipKmPerH, out.TipMiPerH = &ms, &km, &mi
	}
	if d.GLoad != nil {
		g := valueOf(*d.GLoad)
		out.GLoad = &g
	}
	return out, nil
}
