package session

import (
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"testing"
)

// What a display holds arrives as it was, texts that two types share included.
func TestBundleAsJSON(t *testing.T) {
	long := strings.Repeat(`"siren" \ `+"\t\u2028<disc>\x01 ½\n", 99)
	tree := map[string]any{"holes": 12.0, "label": ""}
	for _, data := range []map[string]any{
		{},
		{"text/plain": ""},
		{"application/json": tree, "text/html": "", "text/plain": ""},
		{"application/json": tree, "text/html": long, "text/latex": long, "text/plain": "short"},
		{"text/html": long, "text/latex": "", "text/markdown": long, "text/plain": long},
	} {
		text, err := displayData{bundle{data, map[string]any{"image/png": tree}}, "d"}.AppendJSON(nil)
		if err != nil {
			t.Fatal(err)
		}
		var got struct {
			Data, Metadata, Transient map[string]any
		}
		if err := json.Unmarshal(text, &got); err != nil {
			t.Fatalf("%v in %s", err, text)
		}
		if !reflect.DeepEqual(got.Data, data) || !reflect.DeepEqual(got.Metadata, map[string]any{"image/png": tree}) || got.Transient["display_id"] != "d" {
			t.Errorf("%v became %s", data, text)
		}
	}
	if _, err := (displayData{bundle{map[string]any{"application/json": math.NaN()}, nil}, ""}).AppendJSON(nil); err == nil {
		t.Error("NaN went through")
	}
}
