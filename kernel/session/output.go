package session

import (
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"sync"

	"rotorhum/kernel/cell"
	"rotorhum/kernel/wire"
)

// bundle is a cell.Bundle in the shape of a message.
type bundle struct {
	Data     map[string]any `json:"data"`
	Metadata map[string]any `json:"metadata"`
}

type displayData struct {
	bundle
	id string // "" if it cannot be updated
}

// AppendJSON is the content of display_data and update_display_data.
func (d displayData) AppendJSON(b []byte) ([]byte, error) {
	b, err := d.bundle.appendJSON(append(b, '{'))
	if d.id == "" {
		return append(b, `,"transient":{}}`...), err
	}
	b = wire.AppendString(append(b, `,"transient":{"display_id":`...), d.id)
	return append(b, `}}`...), err
}

type executeResult struct {
	bundle
	count int
}

// AppendJSON is the content of execute_result.
func (e executeResult) AppendJSON(b []byte) ([]byte, error) {
	b, err := e.bundle.appendJSON(append(b, '{'))
	b = strconv.AppendInt(append(b, `,"execution_count":`...), int64(e.count), 10)
	return append(b, '}'), err
}

// appendJSON appends the fields data and metadata, without braces.
func (b bundle) appendJSON(out []byte) ([]byte, error) {
	out, err := appendMap(append(out, `"data":`...), b.Data)
	out, err2 := appendMap(append(out, `,"metadata":`...), b.Metadata)
	return out, cmp.Or(err, err2)
}

func appendMap(out []byte, m map[string]any) ([]byte, error) {
	out = append(slices.Grow(out, room(m)), '{')
	var last string // the text encoded last, as out[from:to]
	var from, to int
	for i, key := range slices.Sorted(maps.Keys(m)) {
		if i > 0 {
			out = append(out, ',')
		}
		out = append(wire.AppendString(out, key), ':')
		if text, ok := m[key].(string); ok {
			if to > 0 && text == last { // such as HTML and the plain text that stands for it
				out = append(out, out[from:to]...)
				continue
			}
			last, from = text, len(out)
			out = wire.AppendString(out, text)
			to = len(out)
			continue
		}
		value, err := json.Marshal(m[key])
		if err != nil {
			return out, fmt.Errorf("%s: %w", key, err)
		}
		out = append(out, value...)
	}
	return append(out, '}'), nil
}

// room is about how many bytes the JSON of m takes.
func room(m map[string]any) int {
	n := 2
	for key, v := range m {
		text, _ := v.(string)
		n += len(key) + len(text) + len(text)/16 + 8
	}
	return n + 256 // what follows a map in a message
}

type stream struct{ name, text string }

// AppendJSON is the content of stream.
func (s stream) AppendJSON(b []byte) ([]byte, error) {
	b = wire.AppendString(append(b, `{"name":`...), s.name)
	b = wire.AppendString(append(b, `,"text":`...), s.text)
	return append(b, '}'), nil
}

type clearOutput struct {
	Wait bool `json:"wait"`
}

// page is the payload that asks a console for its pager.
type page struct {
	Source string         `json:"source"`
	Data   map[string]any `json:"data"`
	Start  int            `json:"start"`
}

// sink publishes what one cell shows. It stays good after the cell has ended:
// what a goroutine of the cell prints later still belongs to that cell.
type sink struct {
	s      *Session
	parent *wire.Message
	silent bool

	mu    sync.Mutex
	pages []page
}

func (o *sink) Stream(name, text string) {
	if !o.silent && text != "" {
		o.s.publish("stream", o.parent, stream{name, text}, nil)
	}
}

func (o *sink) Display(b cell.Bundle, id string) { o.display("display_data", b, id) }

func (o *sink) Update(b cell.Bundle, id string) { o.display("update_display_data", b, id) }

// display publishes b under an id that no other kernel uses: what an earlier one
// left on the page must not change with what this one shows.
func (o *sink) display(msgType string, b cell.Bundle, id string) {
	if o.silent {
		return
	}
	if id != "" {
		id = o.s.id + "." + id
	}
	o.s.show(o.parent, msgType, b, func(b bundle) any { return displayData{b, id} })
}

func (o *sink) Clear(wait bool) {
	if !o.silent {
		o.s.publish("clear_output", o.parent, clearOutput{wait}, nil)
	}
}

func (o *sink) Page(b cell.Bundle) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.pages = append(o.pages, page{"page", encodable(b).Data, 0})
}

func (o *sink) takePages() []page {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.pages
}

// show publishes b in the content that wrap makes of it. If JSON cannot express
// b, it shows what can be and says on stderr what is missing.
func (s *Session) show(parent *wire.Message, msgType string, b cell.Bundle, wrap func(bundle) any) {
	whole := bundle{nonNil(b.Data), nonNil(b.Metadata)}
	if s.publish(msgType, parent, wrap(whole), nil) {
		return
	}
	s.publish(msgType, parent, wrap(encodable(b)), nil)
	for _, mime := range unencodable(b.Data) {
		s.publish("stream", parent, stream{"stderr", fmt.Sprintf("%s cannot be shown: its value is not one that JSON can hold (NaN and Inf are not)\n", mime)}, nil)
	}
}

// encodable is what JSON can express of b.
func encodable(b cell.Bundle) bundle {
	strip := func(m map[string]any) map[string]any {
		kept := map[string]any{}
		for k, v := range m {
			kept[k] = v
		}
		for _, k := range unencodable(m) {
			delete(kept, k)
		}
		return kept
	}
	return bundle{strip(b.Data), strip(b.Metadata)}
}

// unencodable lists the keys of m whose values JSON cannot express, sorted.
func unencodable(m map[string]any) (keys []string) {
	for k, v := range m {
		if _, text := v.(string); text {
			continue
		}
		if _, err := json.Marshal(v); err != nil {
			keys = append(keys, k)
		}
	}
	slices.Sort(keys)
	return keys
}

func nonNil(m map[string]any) map[string]any {
	if m == nil {
		return map[string]any{}
	}
	return m
}
