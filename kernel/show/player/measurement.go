package player

import (
	"encoding/json"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/show"
	"rotorhum/tacho"
)

// measurement shows a measurement as it shows itself, and adds its JSON for
// programs, without the track: that may be thousands of points, and the
// pictures and the command measure have it.
func measurement(m *tacho.Measurement) (cell.Bundle, error) {
	b, err := show.Bundle(m)
	if err != nil {
		return cell.Bundle{}, err
	}
	short := *m
	short.Points = nil
	text, err := json.Marshal(&short)
	if err != nil {
		return cell.Bundle{}, err
	}
	b.Data[cell.MeasureType] = json.RawMessage(text)
	return b, nil
}
