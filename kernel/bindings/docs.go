package bindings

import (
	"embed"
	"strings"
	"sync"
)

// Doc describes one exported name.
type Doc struct {
	// Signature is the declaration on one line, or for a type in full.
	Signature string
	// Text is the doc comment, "" if there is none.
	Text string
}

//go:embed docs/*.txt
var docFiles embed.FS

// Docs finds documentation. The zero value is ready; it keeps what it has read.
type Docs struct {
	mu   sync.Mutex
	pkgs map[string]map[string]Doc
}

// Find is Lookup with its results apart.
func (d *Docs) Find(path, name string) (signature, text string, ok bool) {
	doc, ok := d.Lookup(path, name)
	return doc.Signature, doc.Text, ok
}

// Lookup returns the documentation of a name in the package with the given
// path: "" for the package itself, "Name", or "Type.Member" for a method or
// field.
func (d *Docs) Lookup(path, name string) (Doc, bool) {
	doc, ok := d.load(path)[name]
	return doc, ok
}

// load reads the documentation of a package once.
func (d *Docs) load(path string) map[string]Doc {
	d.mu.Lock()
	defer d.mu.Unlock()
	if m, ok := d.pkgs[path]; ok {
		return m
	}
	if d.pkgs == nil {
		d.pkgs = map[string]map[string]Doc{}
	}
	b, err := docFiles.ReadFile("docs/" + fileName(path) + ".txt")
	if err == nil {
		d.pkgs[path] = parseDocs(string(b))
	} else {
		d.pkgs[path] = nil
	}
	return d.pkgs[path]
}

// fileName turns an import path into the name of its generated files.
func fileName(path string) string { return strings.ReplaceAll(path, "/", "_") }

// In a documentation file each entry begins with a line "@name", followed by
// the declaration's lines, each after a "|", and the text's lines, each after
// a space.
func parseDocs(file string) map[string]Doc {
	out := map[string]Doc{}
	var name string
	var sig, text []string
	flush := func() {
		if sig != nil {
			out[name] = Doc{strings.Join(sig, "\n"), strings.Join(text, "\n")}
		}
		sig, text = nil, nil
	}
	for _, line := range strings.Split(file, "\n") {
		if line == "" {
			continue
		}
		switch rest := line[1:]; line[0] {
		case '@':
			flush()
			name = rest
		case '|':
			sig = append(sig, rest)
		case ' ':
			text = append(text, rest)
		}
	}
	flush()
	return out
}
