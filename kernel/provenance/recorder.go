package provenance

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
)

// Recorder gathers the provenance of one session. Its methods may be called
// from any goroutine. The zero value is ready.
type Recorder struct {
	mu    sync.Mutex
	seed  uint64
	draws int
	files []File
	runs  []Run
}

// Seeded says what the global random functions start from.
func (r *Recorder) Seeded(seed uint64) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.seed = seed
}

// Drew counts one use of a global random function.
func (r *Recorder) Drew() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.draws++
}

// Draws returns how often a global random function has been used.
func (r *Recorder) Draws() int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.draws
}

// ReadHashed says that a file was read whose hash is known already.
func (r *Recorder) ReadHashed(name, sha string, size int64) {
	r.add(File{Name: tidy(name), SHA256: sha, Size: size})
}

// Read says that a file is about to be read, and hashes it. What is no regular
// file (a folder, a device) is not noted. A file that cannot be hashed is noted
// with the reason.
func (r *Recorder) Read(name string) {
	info, err := os.Stat(name)
	if err != nil || !info.Mode().IsRegular() {
		return // whoever reads it will meet the same error
	}
	f := File{Name: tidy(name), Size: info.Size()}
	if f.SHA256, err = hash(name); err != nil {
		f.Why = "it could not be read when its hash was to be taken"
	}
	r.add(f)
}

// Unhashed notes a file, or all that a name stands for, of which the session
// knows no more than that it may have been read.
func (r *Recorder) Unhashed(name, why string) { r.add(File{Name: tidy(name), Why: why}) }

func (r *Recorder) add(f File) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if !slices.Contains(r.files, f) {
		r.files = append(r.files, f)
	}
}

func hash(name string) (string, error) {
	f, err := os.Open(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// tidy makes a name inside the working folder relative to it, so that the
// record is the same wherever the folder stands.
func tidy(name string) string {
	name = filepath.Clean(name)
	if filepath.IsAbs(name) {
		if here, err := os.Getwd(); err == nil {
			if rel, err := filepath.Rel(here, name); err == nil && rel != ".." && !strings.HasPrefix(rel, "../") {
				name = rel
			}
		}
	}
	return filepath.ToSlash(name)
}

// Ran says that a cell has run. id may be "".
func (r *Recorder) Ran(name, id, source string, failed bool, varies []string) {
	sum := sha256.Sum256([]byte(source))
	r.mu.Lock()
	defer r.mu.Unlock()
	r.runs = append(r.runs, Run{Name: name, Cell: id, Source: hex.EncodeToString(sum[:]), Failed: failed, Varies: varies})
}

// Record returns what has been gathered so far.
func (r *Recorder) Record() *Record {
	r.mu.Lock()
	defer r.mu.Unlock()
	rec := &Record{Program: This(), Seed: r.seed, RandomDraws: r.draws, Files: append([]File{}, r.files...), Runs: append([]Run{}, r.runs...)}
	slices.SortFunc(rec.Files, func(a, b File) int {
		return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.SHA256, b.SHA256), cmp.Compare(a.Why, b.Why))
	})
	return rec
}
