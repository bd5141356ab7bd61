module rotorhum

go 1.26.0

require (
	github.com/aymanbagabas/go-udiff v0.4.1
	github.com/cosmos72/gomacro v0.0.0-20240506194242-2ff796e3da10
	github.com/gen2brain/malgo v0.11.24
	github.com/go-audio/audio v1.0.0
	github.com/go-audio/wav v1.1.0
	github.com/go-zeromq/zmq4 v0.17.0
	github.com/gopherdata/gophernotes v0.7.5
	github.com/hajimehoshi/go-mp3 v0.3.4
	github.com/jfreymuth/vorbis v1.0.2
	github.com/mewkiz/flac v1.0.14
	github.com/microcosm-cc/bluemonday v1.0.27
	github.com/yuin/goldmark v1.8.7
	golang.org/x/image v0.30.0
	golang.org/x/net v0.61.0
	golang.org/x/sys v0.49.0
	golang.org/x/term v0.47.0
	golang.org/x/tools v0.52.0
	gonum.org/v1/gonum v0.17.0
	gonum.org/v1/plot v0.17.0
)

require (
	codeberg.org/go-fonts/liberation v0.5.0 // indirect
	codeberg.org/go-latex/latex v0.2.0 // indirect
	codeberg.org/go-pdf/fpdf v0.11.1 // indirect
	git.sr.ht/~sbinet/gg v0.7.0 // indirect
	github.com/ajstarks/svgo v0.0.0-20211024235047-1546f124cd8b // indirect
	github.com/aymerick/douceur v0.2.0 // indirect
	github.com/go-audio/riff v1.0.0 // indirect
	github.com/go-zeromq/goczmq/v4 v4.2.2 // indirect
	github.com/golang/freetype v0.0.0-20170609003504-e2365dfdc4a0 // indirect
	github.com/gorilla/css v1.0.1 // indirect
	github.com/icza/bitio v1.1.0 // indirect
	github.com/mattn/go-runewidth v0.0.15 // indirect
	github.com/mewkiz/pkg v0.0.0-20250417130911-3f050ff8c56d // indirect
	github.com/mewpkg/term v0.0.0-20241026122259-37a80af23985 // indirect
	github.com/peterh/liner v1.2.2 // indirect
	github.com/rivo/uniseg v0.2.0 // indirect
	golang.org/x/mod v0.42.0 // indirect
	golang.org/x/sync v0.24.0 // indirect
	golang.org/x/text v0.43.0 // indirect
)
