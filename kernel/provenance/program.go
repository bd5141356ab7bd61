package provenance

import (
	"runtime"
	"runtime/debug"
	"sync"
)

// This returns what is known of the running program.
var This = sync.OnceValue(func() Program {
	p := Program{Version: "devel", Go: runtime.Version(), Platform: runtime.GOOS + "/" + runtime.GOARCH, Modules: map[string]string{}}
	build, ok := debug.ReadBuildInfo()
	if !ok {
		return p
	}
	if v := build.Main.Version; v != "" && v != "(devel)" {
		p.Version = v
	}
	for _, s := range build.Settings {
		switch s.Key {
		case "vcs.revision":
			p.Revision = s.Value
		case "vcs.modified":
			p.Modified = s.Value == "true"
		case "GOAMD64", "GOARM64":
			p.Platform += " " + s.Value
		case "-tags":
			p.Platform += " (" + s.Value + ")"
		}
	}
	for _, m := range build.Deps {
		version := m.Version
		if m.Replace != nil {
			version += " replaced by " + m.Replace.Path + " " + m.Replace.Version
		}
		p.Modules[m.Path] = version
	}
	return p
})
