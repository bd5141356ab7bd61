package ledger

import "maps"

// Plan lists the cells to run again, from top to bottom, so that the page and the
// session are as a run of the whole page would leave them. These are the cells that
// are out of date, those that have to give them back what they once met, and those
// that make what the session no longer holds. What a cell that is gone has made
// cannot be had again.
func (l *Ledger) Plan() List {
	again := map[*entry]bool{}
	first := newFresh()
	first.goThrough(l, nil)
	if len(first.stale) == 0 {
		return nil
	}
	for e := range first.isOld {
		again[e] = true
	}
	for grown := true; grown; {
		grown = false
		need := func(e *entry) {
			if e != nil && !again[e] {
				again[e], grown = true, true
			}
		}
		holds := maps.Clone(l.holds)
		end := newFresh()
		end.goThrough(l, func(e *entry) {
			for name := range e.run.Reads {
				if again[e] && holds[name] != end.now[name] {
					need(end.by[name])
				}
			}
			if again[e] {
				maps.Copy(holds, e.makes(end.now, len(e.run.misses(end.now)) == 0))
			}
		})
		for name, v := range end.now {
			if holds[name] != v {
				need(end.by[name])
			}
		}
	}
	reasons := map[string]string{}
	for _, s := range first.stale {
		reasons[s.Cell] = s.Reason
	}
	var plan List
	for _, id := range l.order {
		if e := l.cells[id]; again[e] {
			plan = append(plan, Stale{id, e.run.Name, e.run.Source, reasons[id]})
		}
	}
	return plan
}
