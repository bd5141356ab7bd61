package session

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"
)

const (
	// historyLimit bounds the file; when it grows past that the older half goes.
	historyLimit = 4 << 20
	// outputLimit bounds the result text of one entry in the file.
	outputLimit = 4 << 10
	// savePause gathers cells that come quickly one after another into one write.
	savePause = 100 * time.Millisecond
	// lockPatience bounds the wait for another kernel that writes.
	lockPatience = time.Second
)

// historyFile keeps entries as lines of JSON, readable by the user only. All of
// the user's kernels share it, each holding the lock file while it works on it;
// the lock file holds the number of the last session.
type historyFile struct{ path string }

// locked calls f while no other kernel touches the files.
func (hf *historyFile) locked(f func(lock *os.File) error) error {
	if err := os.MkdirAll(filepath.Dir(hf.path), 0o700); err != nil {
		return err
	}
	lock, err := os.OpenFile(hf.path+".lock", os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return err
	}
	defer lock.Close() // this unlocks too
	for end := time.Now().Add(lockPatience); ; time.Sleep(5 * time.Millisecond) {
		err := syscall.Flock(int(lock.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
		if err == nil {
			return f(lock)
		}
		if !errors.Is(err, syscall.EWOULDBLOCK) || time.Now().After(end) {
			return fmt.Errorf("cannot lock %s: %w", lock.Name(), err)
		}
	}
}

// nextSession returns a number that no other session has, one above the last.
func (hf *historyFile) nextSession() (n int, err error) {
	err = hf.locked(func(lock *os.File) error {
		var b [20]byte
		m, _ := lock.ReadAt(b[:], 0)
		n, _ = strconv.Atoi(strings.TrimSpace(string(b[:m])))
		if n <= 0 { // new, or lost
			entries, err := hf.entries()
			if err != nil {
				return err
			}
			for _, e := range entries {
				n = max(n, e.Session)
			}
		}
		n++
		if err := lock.Truncate(0); err != nil {
			return err
		}
		_, err := lock.WriteAt([]byte(strconv.Itoa(n)+"\n"), 0)
		return err
	})
	return n, err
}

// append adds entries, and drops the oldest if the file has become too long.
func (hf *historyFile) append(entries []Entry) error {
	var lines bytes.Buffer
	for _, e := range entries {
		if len(e.Output) > outputLimit {
			e.Output = e.Output[:outputLimit] + "..."
		}
		line, err := json.Marshal(e)
		if err != nil {
			return err
		}
		lines.Write(append(line, '\n'))
	}
	return hf.locked(func(*os.File) error {
		f, err := os.OpenFile(hf.path, os.O_WRONLY|os.O_APPEND|os.O_CREATE, 0o600)
		if err != nil {
			return err
		}
		defer f.Close()
		if err := f.Chmod(0o600); err != nil { // were it ever wider
			return err
		}
		if _, err := f.Write(lines.Bytes()); err != nil {
			return err
		}
		if info, err := f.Stat(); err != nil || info.Size() <= historyLimit {
			return err
		}
		return hf.halve()
	})
}

// halve keeps the newest lines, half of the limit's worth of them. The file is
// replaced whole, so that a crash loses nothing. The lock is held.
func (hf *historyFile) halve() error {
	data, err := os.ReadFile(hf.path)
	if err != nil {
		return err
	}
	data = data[len(data)-historyLimit/2:]
	data = data[bytes.IndexByte(data, '\n')+1:]
	next := hf.path + ".new"
	if err := os.WriteFile(next, data, 0o600); err != nil {
		return err
	}
	return os.Rename(next, hf.path)
}

// read returns the entries of the file.
func (hf *historyFile) read() (entries []Entry, err error) {
	err = hf.locked(func(*os.File) error {
		entries, err = hf.entries()
		return err
	})
	return entries, err
}

// entries reads the file; a line that is damaged is passed over. The lock is held.
func (hf *historyFile) entries() ([]Entry, error) {
	data, err := os.ReadFile(hf.path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var entries []Entry
	for line := range bytes.Lines(data) {
		var e Entry
		if json.Unmarshal(line, &e) == nil && e.Session > 0 && e.Line > 0 {
			entries = append(entries, e)
		}
	}
	return entries, nil
}
