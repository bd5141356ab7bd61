package tacho

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// missing adds to the error of opening path, where there is nothing of that
// name, what the reader of the error can do about it: the names that are there.
func missing(path string, err error) error {
	if path == "" {
		return fmt.Errorf("%w; give the name of a sound file", err)
	}
	if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	folder, name := filepath.Dir(path), filepath.Base(path)
	there, lost := os.ReadDir(folder)
	if lost != nil {
		// The name fails further up: look where it still holds.
		for lost != nil && folder != filepath.Dir(folder) {
			folder, name = filepath.Dir(folder), filepath.Base(folder)
			there, lost = os.ReadDir(folder)
		}
		what := fmt.Sprintf("there is no folder %s", filepath.Join(folder, name))
		if near := nearest(name, there, fs.DirEntry.IsDir); near != "" {
			what += ", but " + filepath.Join(folder, near)
		}
		return fmt.Errorf("%w; %s", err, what)
	}
	if near := nearest(name, there, soundName); near != "" {
		return fmt.Errorf("%w; the nearest name in that folder is %s", err, near)
	}
	var names []string
	for _, e := range there {
		if soundName(e) {
			names = append(names, e.Name())
		}
	}
	switch n := len(names); {
	case n == 0:
		return fmt.Errorf("%w; there is no sound file in that folder", err)
	case n > 6:
		names = append(names[:5], fmt.Sprintf("and %d more", n-5))
	}
	return fmt.Errorf("%w; the sound files in that folder are %s", err, strings.Join(names, ", "))
}

// soundName reports whether a file is called as sounds are.
func soundName(e fs.DirEntry) bool {
	switch strings.ToLower(filepath.Ext(e.Name())) {
	case ".wav", ".wave", ".bwf", ".rf64", ".flac", ".mp3", ".ogg", ".oga", ".opus", ".m4a", ".mp4", ".mov", ".3gp", ".aac", ".amr", ".webm", ".aif", ".aiff":
		return !e.IsDir()
	}
	return false
}

// nearest returns the name that shares the most with name, in pairs of letters
// that follow each other, capital or not, if it is at least half of them; else
// nothing.
//
// Source: the coefficient of L. R. Dice 1945, of pairs of letters.
func nearest(name string, there []fs.DirEntry, fits func(fs.DirEntry) bool) string {
	best, most := "", 0.5
	for _, e := range there {
		if !fits(e) {
			continue
		}
		a, b := pairs(name), pairs(e.Name())
		shared, all := 0, 0
		for p, n := range a {
			shared += min(n, b[p])
			all += n
		}
		for _, n := range b {
			all += n
		}
		if share := 2 * float64(shared) / float64(max(all, 1)); share > most {
			best, most = e.Name(), share
		}
	}
	return best
}

// pairs counts the pairs of letters in a name, without its ending.
func pairs(name string) map[[2]rune]int {
	r := []rune(" " + strings.ToLower(strings.TrimSuffix(name, filepath.Ext(name))))
	count := map[[2]rune]int{}
	for i := range r[1:] {
		count[[2]rune{r[i], r[i+1]}]++
	}
	return count
}
