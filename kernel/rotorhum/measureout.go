package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"rotorhum/kernel/notebook"
)

// errTarget says that an output file was named that must not be written.
var errTarget = errors.New("cannot be an output file")

// junitHead is by what a result file of verify is known.
const junitHead = `<testsuites name="rotorhum verify"`

// mayBecome returns an error of kind errTarget unless the file path may be
// written: it is new, empty, no file at all but a pipe or a device, or a result
// that this program wrote before. The recording never may. An empty path and
// "-" are no files.
func mayBecome(path, recording string) error {
	if path == "" || path == "-" {
		return nil
	}
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		if folder := filepath.Dir(path); !isFolder(folder) {
			return fmt.Errorf("%s %w: there is no folder %s; make it first", path, errTarget, folder)
		}
		return nil
	}
	if err != nil {
		return fmt.Errorf("%s %w: %v", path, errTarget, err)
	}
	if rec, err := os.Stat(recording); err == nil && os.SameFile(info, rec) {
		return fmt.Errorf("%s %w: it is the recording; name another", path, errTarget)
	}
	switch {
	case info.IsDir():
		return fmt.Errorf("%s %w: it is a folder; name a file in it", path, errTarget)
	case !info.Mode().IsRegular() || info.Size() == 0:
		return nil
	}
	f, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("%s %w: %v", path, errTarget, err)
	}
	defer f.Close()
	head := make([]byte, 1024)
	n, _ := io.ReadFull(f, head)
	for _, ours := range []string{`"schema":"rotorhum.measure/`, `<meta name="generator" content="rotorhum">`, junitHead, csvHead, `"schema": "` + tableName} {
		if bytes.Contains(head[:n], []byte(ours)) {
			return nil
		}
	}
	return fmt.Errorf("%s %w: something else is in it; name another or remove it first", path, errTarget)
}

func isFolder(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.IsDir()
}

// writeResult writes a file all at once, so that no half of it is ever seen; a
// pipe or a device is written to as it is.
func writeResult(path string, content []byte) error {
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		f, err := os.OpenFile(path, os.O_WRONLY, 0)
		if err != nil {
			return err
		}
		_, err = f.Write(content)
		return errors.Join(err, f.Close())
	}
	return notebook.ReplaceFile(path, content)
}

// progressBar returns a function that shows the share done, and one that takes
// the bar away for good. Both do nothing unless w is a terminal.
func progressBar(w io.Writer) (show func(float64), done func()) {
	f, ok := w.(*os.File)
	if !ok {
		return nil, func() {}
	}
	if info, err := f.Stat(); err != nil || info.Mode()&os.ModeCharDevice == 0 || os.Getenv("TERM") == "dumb" {
		return nil, func() {}
	}
	return barOn(f)
}

// barOn draws the bar on w.
func barOn(w io.Writer) (show func(float64), done func()) {
	const width = 40
	var mu sync.Mutex
	shown, over := -1, false
	show = func(share float64) {
		mu.Lock()
		defer mu.Unlock()
		if percent := int(100 * min(max(share, 0), 1)); percent > shown && !over {
			shown = percent
			filled := width * percent / 100
			fmt.Fprintf(w, "\rmeasuring [%s%s] %3d %%", strings.Repeat("=", filled), strings.Repeat(" ", width-filled), percent)
		}
	}
	done = func() {
		mu.Lock()
		defer mu.Unlock()
		if !over && shown >= 0 {
			fmt.Fprint(w, "\r\x1b[K")
		}
		over = true
	}
	return show, done
}
