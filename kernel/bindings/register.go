package bindings

import (
	"reflect"

	"github.com/gopherdata/gophernotes/imports"
)

// register adds symbols to the package with the given path.
func register(path string, p imports.Package) {
	if _, ok := imports.Packages[path]; !ok {
		imports.Packages[path] = imports.Package{
			Name:  p.Name,
			Binds: map[string]reflect.Value{}, Types: map[string]reflect.Type{}, Proxies: map[string]reflect.Type{},
			Untypeds: map[string]string{}, Wrappers: map[string][]string{},
		}
	}
	have := imports.Packages[path]
	fill(&have.Binds, p.Binds)
	fill(&have.Types, p.Types)
	fill(&have.Proxies, p.Proxies)
	fill(&have.Untypeds, p.Untypeds)
	fill(&have.Wrappers, p.Wrappers)
	imports.Packages[path] = have
}

func fill[V any](to *map[string]V, from map[string]V) {
	if *to == nil && len(from) > 0 {
		*to = map[string]V{}
	}
	for k, v := range from {
		(*to)[k] = v
	}
}
