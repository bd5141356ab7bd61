package main

import (
	"bufio"
	_ "embed"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
)

//go:embed reference/fftw.c
var fftwSource []byte

//go:embed reference/scipy_speed.py
var scipySource []byte

// program is a running program that times tasks; tacho/internal/speed says how
// it is asked.
type program struct {
	name string
	cmd  *exec.Cmd
	in   io.WriteCloser
	out  *bufio.Scanner
}

// start builds and starts all programs that the machine has the parts for, ours
// first, and says what is left out.
func start() (programs []*program, stop func(), err error) {
	dir, err := os.MkdirTemp("", "bench")
	if err != nil {
		return nil, nil, err
	}
	stop = func() {
		for _, p := range programs {
			p.in.Close()
			p.cmd.Wait()
		}
		os.RemoveAll(dir)
	}
	defer func() {
		if err != nil {
			stop()
		}
	}()
	open := func(name string, command ...string) error {
		p, err := run(name, command...)
		if err == nil {
			programs = append(programs, p)
		}
		return err
	}
	ours, plain := filepath.Join(dir, "ours"), filepath.Join(dir, "plain")
	for bin, tags := range map[string]string{ours: "", plain: "purego"} {
		if out, err := exec.Command("go", "build", "-tags", tags, "-o", bin, "rotorhum/tacho/internal/speed").CombinedOutput(); err != nil {
			return programs, stop, fmt.Errorf("building our program: %w\n%s", err, out)
		}
	}
	if err := open("ours", ours); err != nil {
		return programs, stop, err
	}
	if err := startSciPy(dir, open); err != nil {
		fmt.Println("SciPy is left out:", err)
	}
	if err := startFFTW(dir, open); err != nil {
		fmt.Println("FFTW is left out:", err)
	}
	if err := open("gonum", ours, "gonum"); err != nil {
		return programs, stop, err
	}
	return programs, stop, open("plain Go", plain)
}

func startSciPy(dir string, open func(string, ...string) error) error {
	file := filepath.Join(dir, "scipy_speed.py")
	if err := os.WriteFile(file, scipySource, 0o600); err != nil {
		return err
	}
	for _, python := range []string{"/usr/bin/python3", "python3"} {
		if exec.Command(python, "-c", "import scipy.fft, scipy.signal").Run() == nil {
			return open("SciPy", python, file)
		}
	}
	return fmt.Errorf("no python3 here can import it (Debian package python3-scipy)")
}

func startFFTW(dir string, open func(string, ...string) error) error {
	source, bin := filepath.Join(dir, "fftw.c"), filepath.Join(dir, "fftw")
	if err := os.WriteFile(source, fftwSource, 0o600); err != nil {
		return err
	}
	out, err := exec.Command("gcc", "-O2", source, "-o", bin, "-lfftw3_threads", "-lfftw3", "-lpthread", "-lm").CombinedOutput()
	if err != nil {
		first, _, _ := strings.Cut(string(out), "\n")
		return fmt.Errorf("%w: %s (Debian packages gcc and libfftw3-dev)", err, first)
	}
	return open("FFTW", bin)
}

func run(name string, command ...string) (*program, error) {
	cmd := exec.Command(command[0], command[1:]...)
	cmd.Stderr = os.Stderr
	in, err := cmd.StdinPipe()
	if err != nil {
		return nil, err
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	return &program{name, cmd, in, bufio.NewScanner(out)}, cmd.Start()
}

// ask has the task done reps times and returns the nanoseconds of one, or 0 if
// the program cannot do it.
func (p *program) ask(t task, cores, reps int) (float64, error) {
	if _, err := fmt.Fprintln(p.in, t.name, t.n, cores, reps); err != nil {
		return 0, fmt.Errorf("%s no longer listens: %w", p.name, err)
	}
	if !p.out.Scan() {
		return 0, fmt.Errorf("%s gave no answer to %s %d", p.name, t.name, t.n)
	}
	if p.out.Text() == "none" {
		return 0, nil
	}
	ns, err := strconv.ParseFloat(p.out.Text(), 64)
	if err != nil || !(ns > 0) {
		return 0, fmt.Errorf("%s answered %q to %s %d", p.name, p.out.Text(), t.name, t.n)
	}
	return ns, nil
}
