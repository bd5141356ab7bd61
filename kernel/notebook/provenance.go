package notebook

import (
	"encoding/json"

	"rotorhum/kernel/provenance"
)

// provenanceKey is where, below metadata.rotorhum, a notebook holds where its
// outputs came from.
const provenanceKey = "provenance"

// teller is a runner that knows where its results come from.
type teller interface {
	Provenance() *provenance.Record
}

// Provenance returns what the notebook's metadata says of where its outputs
// came from, nil if they say nothing that can be read.
func (nb *Notebook) Provenance() *provenance.Record {
	own, _ := nb.Metadata[kernelName].(map[string]any)
	v, ok := own[provenanceKey].(map[string]any)
	if !ok {
		return nil
	}
	text, err := json.Marshal(v)
	if err != nil {
		return nil
	}
	r := &provenance.Record{}
	if json.Unmarshal(text, r) != nil {
		return nil
	}
	return r
}

// TakeProvenance puts what the metadata of from says in the place of what nb's
// says.
func (nb *Notebook) TakeProvenance(from *Notebook) { nb.setProvenance(from.Provenance()) }

// setProvenance stores r in the notebook's metadata; nil removes what is there.
func (nb *Notebook) setProvenance(r *provenance.Record) {
	own, isObject := nb.Metadata[kernelName].(map[string]any)
	if r == nil {
		if isObject {
			delete(own, provenanceKey)
			if len(own) == 0 {
				delete(nb.Metadata, kernelName)
			}
		}
		return
	}
	if !isObject {
		own = map[string]any{}
		nb.Metadata[kernelName] = own
	}
	if v, err := plainJSON(r); err == nil {
		own[provenanceKey] = v
	}
}
