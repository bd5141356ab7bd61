package notebook

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
)

// appendValue appends the JSON text of v, its inner lines indented by one space
// per level, object keys in the order of their code points.
func appendValue(b []byte, v any, level int) ([]byte, error) {
	switch v := v.(type) {
	case nil:
		return append(b, "null"...), nil
	case bool:
		return strconv.AppendBool(b, v), nil
	case string:
		return appendString(b, v), nil
	case json.Number:
		return append(b, v...), nil
	case int:
		return strconv.AppendInt(b, int64(v), 10), nil
	case map[string]any:
		if len(v) == 0 {
			return append(b, "{}"...), nil
		}
		b = append(b, '{')
		for i, key := range slices.Sorted(maps.Keys(v)) {
			b = appendBreak(b, i > 0, level+1)
			b = append(appendString(b, key), ": "...)
			var err error
			if b, err = appendValue(b, v[key], level+1); err != nil {
				return nil, err
			}
		}
		return append(appendBreak(b, false, level), '}'), nil
	case []any:
		if len(v) == 0 {
			return append(b, "[]"...), nil
		}
		b = append(b, '[')
		for i, item := range v {
			b = appendBreak(b, i > 0, level+1)
			var err error
			if b, err = appendValue(b, item, level+1); err != nil {
				return nil, err
			}
		}
		return append(appendBreak(b, false, level), ']'), nil
	}
	plain, err := plainJSON(v)
	if err != nil {
		return nil, err
	}
	return appendValue(b, plain, level)
}

// plainJSON brings any Go value with a JSON form to the few types that reading
// JSON gives.
func plainJSON(v any) (any, error) {
	text, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	d := json.NewDecoder(strings.NewReader(string(text)))
	d.UseNumber()
	var plain any
	err = d.Decode(&plain)
	return plain, err
}

func appendBreak(b []byte, comma bool, level int) []byte {
	if comma {
		b = append(b, ',')
	}
	b = append(b, '\n')
	for range level {
		b = append(b, ' ')
	}
	return b
}

// appendString appends s as a JSON string that escapes only what JSON demands.
func appendString(b []byte, s string) []byte {
	b = append(b, '"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b = append(b, '\\', byte(r))
		case r == '\n':
			b = append(b, `\n`...)
		case r == '\r':
			b = append(b, `\r`...)
		case r == '\t':
			b = append(b, `\t`...)
		case r == '\b':
			b = append(b, `\b`...)
		case r == '\f':
			b = append(b, `\f`...)
		case r < 0x20:
			b = fmt.Appendf(b, `\u%04x`, r)
		default:
			b = append(b, string(r)...)
		}
	}
	return append(b, '"')
}
