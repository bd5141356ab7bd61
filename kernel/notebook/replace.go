package notebook

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// ReplaceFile writes content to the named file so that a crash or a full disk
// leaves either the old content or the new, never a part. A file that exists
// keeps its permissions, and a symbolic link stays a link to its target.
func ReplaceFile(name string, content []byte) error {
	if target, err := filepath.EvalSymlinks(name); err == nil {
		name = target
	}
	mode := fs.FileMode(0o644)
	if info, err := os.Stat(name); err == nil {
		if !info.Mode().IsRegular() {
			return fmt.Errorf("%s: not a regular file; name another output file", name)
		}
		mode = info.Mode().Perm()
	}
	temp, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+".*")
	if err != nil {
		return err
	}
	defer os.Remove(temp.Name()) // fails, as it should, once the file has its name
	_, err = temp.Write(content)
	if err == nil {
		err = temp.Chmod(mode)
	}
	if err == nil {
		err = temp.Sync()
	}
	if closing := temp.Close(); err == nil {
		err = closing
	}
	if err == nil {
		err = os.Rename(temp.Name(), name)
	}
	return err
}
