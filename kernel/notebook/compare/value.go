package compare

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// compareJSON compares two values of JSON. It returns nil if they agree, and
// else the place, such as speed.rev_per_s or track[3], and what stands there.
func (c *comparison) compareJSON(stored, fresh any, at string, states Statement) *valueDifference {
	differ := func(why string) *valueDifference {
		return &valueDifference{at, excerpt(jsonText(stored), jsonText(fresh)), excerpt(jsonText(fresh), jsonText(stored)), why}
	}
	switch a := stored.(type) {
	case map[string]any:
		b, ok := fresh.(map[string]any)
		if !ok {
			return differ("")
		}
		keys := map[string]bool{}
		for k := range a {
			keys[k] = true
		}
		for k := range b {
			keys[k] = true
		}
		for _, k := range slices.Sorted(maps.Keys(keys)) {
			inner := strings.TrimPrefix(at+"."+k, ".")
			x, okX := a[k]
			y, okY := b[k]
			switch {
			case !okX:
				return &valueDifference{inner, missing, excerpt(jsonText(y), ""), ""}
			case !okY:
				return &valueDifference{inner, excerpt(jsonText(x), ""), missing, ""}
			}
			if d := c.compareJSON(x, y, inner, states); d != nil {
				return d
			}
		}
		return nil
	case []any:
		b, ok := fresh.([]any)
		if !ok {
			return differ("")
		}
		for i := range min(len(a), len(b)) {
			if d := c.compareJSON(a[i], b[i], fmt.Sprintf("%s[%d]", at, i), states); d != nil {
				return d
			}
		}
		if len(a) != len(b) {
			return differ(fmt.Sprintf("%d items are stored, now there are %d", len(a), len(b)))
		}
		return nil
	case json.Number:
		b, ok := fresh.(json.Number)
		if !ok {
			return differ("")
		}
		x, errX := a.Float64()
		y, errY := b.Float64()
		if a == b || errX == nil && errY == nil && states.within(x, y) {
			return nil
		}
		if states.numbers() {
			return differ(fmt.Sprintf("the tolerance is %v", states))
		}
		return differ("")
	case string:
		b, ok := fresh.(string)
		if ok && c.compareText(a, b) == nil {
			return nil
		}
		return differ("")
	}
	if stored == fresh { // null, true and false
		return nil
	}
	return differ("")
}

type valueDifference struct{ at, stored, fresh, why string }

func jsonText(v any) string {
	text, err := json.Marshal(v)
	if err != nil {
		return fmt.Sprint(v)
	}
	return string(text)
}

// plain brings a value that a program put into a bundle to what reading JSON
// gives.
func plain(v any) any {
	text, err := json.Marshal(v)
	if err != nil {
		return fmt.Sprint(v)
	}
	d := json.NewDecoder(strings.NewReader(string(text)))
	d.UseNumber()
	var p any
	if d.Decode(&p) != nil {
		return fmt.Sprint(v)
	}
	return p
}
