package notebook

import (
	"maps"
	"strings"
	"sync"

	"rotorhum/kernel/cell"
)

// A collector stores what the cells of one run show, as the client library of a
// front end stores it. Its display ids reach over all cells of the run.
type collector struct {
	mu       sync.Mutex
	displays map[string][]*Output
}

func newCollector() *collector { return &collector{displays: map[string][]*Output{}} }

// cellSink is the [cell.Sink] of one cell. The cell's outputs grow as it runs.
type cellSink struct {
	all  *collector
	cell *Cell
	// clearNext: remove the outputs when the next one arrives.
	clearNext bool
	// closed: the cell has ended; what its goroutines still print belongs to
	// no moment that a second run would repeat, so it is counted, not stored.
	closed bool
	late   int
}

func (all *collector) open(c *Cell) *cellSink { return &cellSink{all: all, cell: c} }

// Stream implements [cell.Sink].
func (s *cellSink) Stream(name, text string) {
	s.all.mu.Lock()
	defer s.all.mu.Unlock()
	if text == "" {
		return
	}
	if !s.makeRoom() {
		return
	}
	if n := len(s.cell.Outputs); n > 0 {
		if last := s.cell.Outputs[n-1]; last.Kind == StreamOutput && last.Name == name {
			last.Text += text
			return
		}
	}
	s.cell.Outputs = append(s.cell.Outputs, &Output{Kind: StreamOutput, Name: name, Text: text})
}

// Display implements [cell.Sink].
func (s *cellSink) Display(b cell.Bundle, id string) {
	s.all.mu.Lock()
	defer s.all.mu.Unlock()
	b = storable(b)
	s.all.update(b, id)
	s.add(&Output{Kind: DisplayOutput, Bundle: b}, id)
}

// Update implements [cell.Sink].
func (s *cellSink) Update(b cell.Bundle, id string) {
	s.all.mu.Lock()
	defer s.all.mu.Unlock()
	s.all.update(storable(b), id)
}

// Clear implements [cell.Sink].
func (s *cellSink) Clear(wait bool) {
	s.all.mu.Lock()
	defer s.all.mu.Unlock()
	if wait {
		s.clearNext = true
		return
	}
	s.clearNext = false
	s.empty()
}

// Page implements [cell.Sink]: a stored notebook has no pager.
func (s *cellSink) Page(cell.Bundle) {}

// end stores how the cell ended and closes the sink.
func (s *cellSink) end(out cell.Outcome) {
	s.all.mu.Lock()
	defer s.all.mu.Unlock()
	if out.Result != nil {
		s.add(&Output{Kind: ResultOutput, Bundle: storable(*out.Result), Count: s.cell.Count}, "")
	}
	if f := out.Fault; f != nil {
		s.add(&Output{Kind: ErrorOutput, ErrorName: f.Name, ErrorValue: f.Value, Traceback: f.Traceback}, "")
	}
	for _, o := range s.cell.Outputs {
		if o.Kind == StreamOutput {
			o.Text = Overwritten(o.Text)
		}
	}
	s.closed = true
}

// makeRoom carries out a delayed removal; it reports whether the cell still
// takes output.
func (s *cellSink) makeRoom() bool {
	if s.closed {
		s.late++
		return false
	}
	if s.clearNext {
		s.clearNext = false
		s.empty()
	}
	return true
}

func (s *cellSink) add(o *Output, id string) {
	if !s.makeRoom() {
		return
	}
	s.cell.Outputs = append(s.cell.Outputs, o)
	if id != "" {
		s.all.displays[id] = append(s.all.displays[id], o)
	}
}

// empty removes the cell's outputs; later updates no longer reach them.
func (s *cellSink) empty() {
	gone := map[*Output]bool{}
	for _, o := range s.cell.Outputs {
		gone[o] = true
	}
	for id, shown := range s.all.displays {
		kept := shown[:0]
		for _, o := range shown {
			if !gone[o] {
				kept = append(kept, o)
			}
		}
		s.all.displays[id] = kept
	}
	s.cell.Outputs = nil
}

// update replaces the content of every display shown under id.
func (all *collector) update(b cell.Bundle, id string) {
	if id == "" {
		return
	}
	for _, o := range all.displays[id] {
		o.Bundle = b
	}
}

// storable copies b with its values brought to what a notebook file can hold;
// a value without a JSON form is left out.
func storable(b cell.Bundle) cell.Bundle {
	return cell.Bundle{Data: storableMap(b.Data), Metadata: storableMap(b.Metadata)}
}

func storableMap(m map[string]any) map[string]any {
	plain := maps.Clone(orEmpty(m))
	for key, v := range plain {
		if _, ok := v.(string); ok {
			continue
		}
		p, err := plainJSON(v)
		if err != nil {
			delete(plain, key)
			continue
		}
		plain[key] = p
	}
	return plain
}

// Overwritten returns text as a terminal would leave it on the page: a carriage
// return goes back to the start of the line, a backspace one place back, and
// what follows takes the place of what stood there. Front ends show, and most
// store, a progress line in this way.
func Overwritten(text string) string {
	if !strings.ContainsAny(strings.ReplaceAll(text, "\r\n", "\n"), "\r\b") {
		return text
	}
	var out strings.Builder
	var line []rune
	at := 0
	runes := []rune(text)
	for i, r := range runes {
		switch {
		case r == '\n':
			out.WriteString(string(line) + "\n")
			line, at = line[:0], 0
		case r == '\r' && i+1 < len(runes) && runes[i+1] == '\n':
			// a line end of two characters
		case r == '\r':
			at = 0
		case r == '\b':
			at = max(at-1, 0)
		case at < len(line):
			line[at] = r
			at++
		default:
			line = append(line, r)
			at++
		}
	}
	out.WriteString(string(line))
	return out.String()
}
