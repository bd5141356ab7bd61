package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// installed runs "rotorhum install" and returns the program that the kernelspec
// in dir names.
func installed(t *testing.T, dir string, args ...string) string {
	t.Helper()
	var out, errs bytes.Buffer
	if code := dispatch(append([]string{"install"}, args...), &out, &errs); code != exitOK || errs.Len() > 0 {
		t.Fatalf("install %q = %d: %s", args, code, &errs)
	}
	if !strings.Contains(out.String(), dir) {
		t.Errorf("install %q does not say that it wrote to %s: %s", args, dir, &out)
	}
	data, err := os.ReadFile(filepath.Join(dir, "kernel.json"))
	if err != nil {
		t.Fatal(err)
	}
	var k struct{ Argv []string }
	if err := json.Unmarshal(data, &k); err != nil || len(k.Argv) != 3 {
		t.Fatalf("kernel.json %s: %v", data, err)
	}
	return k.Argv[0]
}

// The program under test lies in the go command's cache, as with "go run".
func TestInstallKeepsACopyOfAFleetingProgram(t *testing.T) {
	home, prefix, env := t.TempDir(), t.TempDir(), t.TempDir()
	t.Setenv("HOME", home)
	for _, name := range []string{"XDG_DATA_HOME", "JUPYTER_DATA_DIR", "CONDA_PREFIX"} {
		t.Setenv(name, "")
	}
	t.Setenv("VIRTUAL_ENV", env)
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	want, err := os.Stat(self)
	if err != nil {
		t.Fatal(err)
	}
	spec := "share/jupyter/kernels/rotorhum"
	for _, row := range []struct {
		args          []string
		spec, program string
	}{
		{nil, filepath.Join(home, ".local", spec), filepath.Join(home, ".local/share/rotorhum/rotorhum")},
		{[]string{"-user"}, filepath.Join(home, ".local", spec), filepath.Join(home, ".local/share/rotorhum/rotorhum")},
		{[]string{"-prefix", prefix}, filepath.Join(prefix, spec), filepath.Join(prefix, "lib/rotorhum/rotorhum")},
		{[]string{"-sys"}, filepath.Join(env, spec), filepath.Join(env, "lib/rotorhum/rotorhum")},
	} {
		program := installed(t, row.spec, row.args...)
		if program != row.program {
			t.Errorf("install %q: program %s, want %s", row.args, program, row.program)
			continue
		}
		got, err := os.Stat(program)
		if err != nil {
			t.Error(err)
			continue
		}
		if got.Size() != want.Size() || got.Mode().Perm() != 0o755 {
			t.Errorf("install %q: the copy has %d bytes and mode %v, want %d and rwxr-xr-x", row.args, got.Size(), got.Mode(), want.Size())
		}
		left, err := filepath.Glob(filepath.Join(filepath.Dir(program), "rotorhum-*"))
		if err != nil || len(left) > 0 {
			t.Errorf("install %q leaves %v, %v", row.args, left, err)
		}
	}
}

func TestCannotStay(t *testing.T) {
	home := t.TempDir()
	t.Setenv("HOME", home)
	t.Setenv("XDG_CACHE_HOME", "")
	t.Setenv("GOCACHE", "/big/gocache")
	t.Setenv("TMPDIR", "/scratch")
	for program, fleeting := range map[string]bool{
		"/scratch/go-build123/b001/exe/rotorhum":   true,
		"/scratch/rotorhum":                        true,
		"/scratchy/rotorhum":                       false,
		home + "/.cache/go-build/ab/cd-d/rotorhum": true,
		"/big/gocache/ab/cd-d/rotorhum":            true,
		home + "/bin/rotorhum":                     false,
		"/usr/local/bin/rotorhum":                  false,
	} {
		if why := cannotStay(program, false); (why != "") != fleeting {
			t.Errorf("cannotStay(%s) = %q", program, why)
		}
	}
	t.Setenv("TMPDIR", "/nowhere")
	private := filepath.Join(home, "private")
	program := filepath.Join(private, "rotorhum")
	if err := os.Mkdir(private, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(program, nil, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, mode := range []os.FileMode{0o700, 0o750} {
		if err := os.Chmod(private, mode); err != nil {
			t.Fatal(err)
		}
		if cannotStay(program, true) == "" {
			t.Errorf("a program in a folder with mode %v may be shared", mode)
		}
		if why := cannotStay(program, false); why != "" {
			t.Errorf("a program in a folder with mode %v may not be used by its owner: it %s", mode, why)
		}
	}
}

func TestInstallRefuses(t *testing.T) {
	blocked := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(blocked, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		args []string
		code int
	}{
		{[]string{"-user", "-sys"}, exitBadUsage},
		{[]string{"-sys", "-prefix", "/x"}, exitBadUsage},
		{[]string{"somewhere"}, exitBadUsage},
		{[]string{"-nonsense"}, exitBadUsage},
		{[]string{"-prefix", blocked}, exitBadInput},
	} {
		var out, errs bytes.Buffer
		if code := dispatch(append([]string{"install"}, row.args...), &out, &errs); code != row.code || errs.Len() == 0 {
			t.Errorf("install %q = %d, want %d: %q", row.args, code, row.code, &errs)
		}
	}
}
