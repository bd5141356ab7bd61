package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"rotorhum/kernel/spec"
)

const installHelp = `usage: rotorhum install [-user | -sys | -prefix DIR]

Tells Jupyter about the kernel: writes a kernelspec named rotorhum, shown in front
ends as "Rotorhum (Go)", that starts this program. Needs no Go toolchain
afterwards. Installing again replaces; jupyter kernelspec remove rotorhum undoes.

With -user (the default) the kernel is there for you in every Jupyter. With -sys it
goes into the conda or virtual environment that is active, or where none is, to
/usr/local for every user of this machine. With -prefix DIR it goes to
DIR/share/jupyter/kernels, for a Jupyter that is installed under DIR.

If this program lies in a place that will not last ("go run" builds into a cache)
or that other users cannot reach, Jupyter starts a copy of it: for -user in
~/.local/share/rotorhum, else in lib/rotorhum under the prefix.

Example: install into a new environment and see it there

  python3 -m venv env && . env/bin/activate && pip install jupyter
  rotorhum install -sys
  jupyter kernelspec list

Flags:
`

// runInstall is the command "rotorhum install".
func runInstall(args []string, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("install", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	user := flags.Bool("user", false, "install for this user (the default)")
	sys := flags.Bool("sys", false, "install into the active environment, else into /usr/local")
	prefix := flags.String("prefix", "", "install under this `directory`")
	if err := flags.Parse(args); errors.Is(err, flag.ErrHelp) {
		fmt.Fprint(stdout, installHelp)
		flags.SetOutput(stdout)
		flags.PrintDefaults()
		return exitOK
	} else if err != nil {
		fmt.Fprintf(stderr, "rotorhum install: %v; rotorhum install -h explains\n", err)
		return exitBadUsage
	}
	places := 0
	for _, given := range []bool{*user, *sys, *prefix != ""} {
		if given {
			places++
		}
	}
	if flags.NArg() > 0 || places > 1 {
		fmt.Fprintln(stderr, "rotorhum install: give at most one of -user, -sys and -prefix DIR; rotorhum install -h explains")
		return exitBadUsage
	}
	if *sys {
		*prefix = activeEnvironment()
	}
	if err := install(*prefix, stdout); err != nil {
		fmt.Fprintf(stderr, "rotorhum install: %v\n", err)
		if errors.Is(err, os.ErrPermission) {
			fmt.Fprintln(stderr, "You may not write there: install with -user, or into a -prefix of your own.")
		}
		return exitBadInput
	}
	return exitOK
}

// activeEnvironment returns the directory of the active conda or virtual
// environment, or /usr/local.
func activeEnvironment() string {
	for _, name := range []string{"VIRTUAL_ENV", "CONDA_PREFIX"} {
		if dir := os.Getenv(name); filepath.IsAbs(dir) {
			return dir
		}
	}
	return "/usr/local"
}

// install writes the kernelspec under prefix, or for the user if prefix is
// empty, and tells where.
func install(prefix string, stdout io.Writer) error {
	program, err := os.Executable()
	if err != nil {
		return err
	}
	if program, err = filepath.EvalSymlinks(program); err != nil {
		return err
	}
	kernels, keep := "", ""
	if prefix == "" {
		data, err := spec.UserData()
		if err != nil {
			return err
		}
		if kernels, err = spec.UserKernels(); err != nil {
			return err
		}
		keep = filepath.Join(data, "rotorhum", "rotorhum")
	} else {
		if prefix, err = filepath.Abs(prefix); err != nil {
			return err
		}
		kernels, keep = spec.PrefixKernels(prefix), filepath.Join(prefix, "lib", "rotorhum", "rotorhum")
	}
	if why := cannotStay(program, prefix != ""); why != "" && program != keep {
		if err := copyProgram(program, keep); err != nil {
			return err
		}
		fmt.Fprintf(stdout, "This program %s; a copy of it is now %s\n", why, keep)
		program = keep
	}
	dir, err := spec.Write(kernels, program)
	if err != nil {
		return err
	}
	fmt.Fprintf(stdout, "Jupyter now offers %q: kernelspec %s in %s, program %s\n", spec.DisplayName, spec.Name, dir, program)
	return nil
}

// cannotStay says why a kernelspec must not point at the program where it is,
// "" if it may.
func cannotStay(program string, shared bool) string {
	caches := []string{os.TempDir(), os.Getenv("GOCACHE")}
	if dir, err := os.UserCacheDir(); err == nil {
		caches = append(caches, filepath.Join(dir, "go-build"))
	}
	for _, dir := range caches {
		if dir != "" && strings.HasPrefix(program, filepath.Clean(dir)+string(filepath.Separator)) {
			return "lies in a cache that will not last"
		}
	}
	if strings.Contains(program, string(filepath.Separator)+"go-build") {
		return "lies in a cache that will not last"
	}
	for path := program; shared; path = filepath.Dir(path) {
		info, err := os.Stat(path)
		if err != nil || info.Mode().Perm()&0o005 != 0o005 && (path == program || info.Mode().Perm()&0o001 == 0) {
			return "cannot be reached by other users"
		}
		if path == filepath.Dir(path) {
			break
		}
	}
	return ""
}

// copyProgram copies a program to a path, replacing what is there in one step:
// a kernel that runs from it goes on undisturbed.
func copyProgram(from, to string) error {
	if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
		return err
	}
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.CreateTemp(filepath.Dir(to), "rotorhum-*")
	if err != nil {
		return err
	}
	defer os.Remove(out.Name()) // does nothing after the rename
	if _, err := io.Copy(out, in); err != nil {
		out.Close()
		return err
	}
	if err := errors.Join(out.Chmod(0o755), out.Close()); err != nil {
		return err
	}
	return os.Rename(out.Name(), to)
}
