// Package spec holds the kernelspec: the file by which Jupyter finds and starts
// the kernel, and the logo that front ends show. The PNG files are renderings
// of logo-svg.svg.
package spec

import (
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Name is the kernel's name in Jupyter, DisplayName what people see.
const (
	Name        = "rotorhum"
	DisplayName = "Rotorhum (Go)"
)

//go:embed logo-svg.svg logo-32x32.png logo-64x64.png
var logos embed.FS

// File is the content of kernel.json ("Kernel specs", the documentation of
// jupyter_client).
type File struct {
	Argv          []string       `json:"argv"`
	DisplayName   string         `json:"display_name"`
	Language      string         `json:"language"`
	InterruptMode string         `json:"interrupt_mode"`
	Metadata      map[string]any `json:"metadata"`
}

// For returns the kernelspec of the program at the absolute path. Interrupts
// come as messages: they reach the kernel also where it cannot be signalled.
func For(program string) File {
	return File{
		Argv:        []string{program, "serve", "{connection_file}"},
		DisplayName: DisplayName, Language: "go", InterruptMode: "message",
		Metadata: map[string]any{"debugger": false},
	}
}

// Write writes kernel.json and the logos for the program at an absolute path
// into Jupyter's directory of kernels, and returns the directory of the
// kernelspec. What a front end may be reading meanwhile is replaced file by
// file, each whole.
func Write(kernels, program string) (dir string, err error) {
	if !filepath.IsAbs(program) {
		return "", fmt.Errorf("the kernel's program needs an absolute path, not %s", program)
	}
	dir = filepath.Join(kernels, Name)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return "", err
	}
	kernel, err := json.MarshalIndent(For(program), "", "  ")
	if err != nil {
		return "", err
	}
	if err := replace(filepath.Join(dir, "kernel.json"), append(kernel, '\n')); err != nil {
		return "", err
	}
	names, err := fs.Glob(logos, "logo-*")
	if err != nil {
		return "", err
	}
	for _, name := range names {
		data, err := logos.ReadFile(name)
		if err != nil {
			return "", err
		}
		if err := replace(filepath.Join(dir, name), data); err != nil {
			return "", err
		}
	}
	return dir, nil
}

func replace(path string, data []byte) error {
	next := path + ".new"
	if err := errors.Join(os.WriteFile(next, data, 0o644), os.Chmod(next, 0o644)); err != nil {
		return err
	}
	return os.Rename(next, path)
}

// UserKernels returns where Jupyter looks for the kernels of this user
// ("Data files", the documentation of jupyter_core).
func UserKernels() (string, error) {
	if dir := os.Getenv("JUPYTER_DATA_DIR"); dir != "" {
		return filepath.Join(dir, "kernels"), nil
	}
	data, err := UserData()
	return filepath.Join(data, "jupyter", "kernels"), err
}

// PrefixKernels returns where a Jupyter that is installed under prefix looks.
func PrefixKernels(prefix string) string {
	return filepath.Join(prefix, "share", "jupyter", "kernels")
}

// UserData returns the directory under which programs keep what they know of
// this user: XDG_DATA_HOME, or .local/share in the home directory.
func UserData() (string, error) {
	if dir := os.Getenv("XDG_DATA_HOME"); filepath.IsAbs(dir) {
		return dir, nil
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return "", fmt.Errorf("cannot tell where your files are: %w", err)
	}
	return filepath.Join(home, ".local", "share"), nil
}
