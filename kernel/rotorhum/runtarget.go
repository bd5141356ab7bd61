package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"rotorhum/kernel/notebook"
)

// mayHoldResults returns an error unless the results of running the named
// notebook may be written to target: files that do not exist, or that an
// earlier run has written. A link is never written through, so that a folder
// from a stranger cannot lead a result elsewhere.
func mayHoldResults(name string, target runTarget, inPlace bool) error {
	for _, file := range []string{target.notebook, target.page} {
		if file == "" || inPlace && file == target.notebook {
			continue
		}
		if sameFile(name, file) {
			return fmt.Errorf("%s: %w; choose another file or say -inplace", name, notebook.ErrInPlace)
		}
		info, err := os.Lstat(file)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			continue
		case err != nil:
			return err
		case info.Mode()&fs.ModeSymlink != 0:
			return fmt.Errorf("%s %w: it is a link; name the file itself or remove the link", file, errTarget)
		case !info.Mode().IsRegular():
			return fmt.Errorf("%s %w: it is not a regular file", file, errTarget)
		case info.Size() == 0 || strings.HasSuffix(file, ".executed.ipynb") || wasResult(file):
			continue
		}
		return fmt.Errorf("%s %w: it is no result of an earlier run; name another file or remove it first", file, errTarget)
	}
	return nil
}

// wasResult reports whether a file is an executed notebook that says where its
// outputs came from, or a page of this program.
func wasResult(file string) bool {
	text, err := notebook.ReadText(file)
	if err != nil {
		return false
	}
	if nb, err := notebook.Read(text); err == nil {
		return nb.Provenance() != nil
	}
	return bytes.Contains(text[:min(len(text), 4096)], []byte(`<meta name="generator" content="rotorhum">`))
}
