package bindings

import "github.com/gopherdata/gophernotes/imports"

// register adds symbols to the package with the given path.
func register(path string, p imports.Package) {
	have, ok := imports.Packages[path]
	if !ok {
		have.Name = p.Name
	}
	fill(&have.Binds, p.Binds)
	fill(&have.Types, p.Types)
	fill(&have.Proxies, p.Proxies)
	fill(&have.Untypeds, p.Untypeds)
	fill(&have.Wrappers, p.Wrappers)
	imports.Packages[path] = have
}

// fill adds from to the map, or takes it as it is if there is none yet.
func fill[V any](to *map[string]V, from map[string]V) {
	if *to == nil {
		if from == nil {
			from = map[string]V{}
		}
		*to = from
		return
	}
	for k, v := range from {
		(*to)[k] = v
	}
}
