package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/signal"
	"path/filepath"
	"runtime/debug"
	"strconv"
	"sync"
	"syscall"
	"time"

	"rotorhum/kernel/bindings"
	"rotorhum/kernel/cell"
	"rotorhum/kernel/interp"
	"rotorhum/kernel/session"
	"rotorhum/kernel/show/player"
	"rotorhum/kernel/spec"
	"rotorhum/kernel/wire"
)

const serveHelp = `usage: rotorhum serve [-verbose] CONNECTION_FILE

Serves as a Jupyter kernel. Jupyter itself starts this command, once it knows the
kernel (rotorhum install), and writes the connection file, which says where to
listen. The kernel ends when a front end shuts it down, when the program that
started it ends, or on SIGTERM; SIGINT (Ctrl-C) only interrupts the running cell.

Example: write a connection file, serve by hand, and talk to it from a console

  python3 -c 'from jupyter_client import connect
  connect.write_connection_file("kernel.json")'
  rotorhum serve kernel.json &
  jupyter console --existing kernel.json

Flags:
`

// parentCheck is how often serve looks whether its parent still lives.
const parentCheck = 500 * time.Millisecond

// offspringPatience is how long processes that cells have started have to end by
// themselves when the kernel ends.
const offspringPatience = 200 * time.Millisecond

// runServe is the command "rotorhum serve".
func runServe(args []string, stdout, stderr io.Writer) int {
	parent := parentProcess()
	flags := flag.NewFlagSet("serve", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	verbose := flags.Bool("verbose", false, "log also what happens to peers that misbehave")
	if err := flags.Parse(args); errors.Is(err, flag.ErrHelp) {
		fmt.Fprint(stdout, serveHelp)
		flags.SetOutput(stdout)
		flags.PrintDefaults()
		return exitOK
	} else if err != nil || flags.NArg() != 1 {
		fmt.Fprintln(stderr, "rotorhum serve: give the connection file that Jupyter writes; rotorhum serve -h explains")
		return exitBadUsage
	}
	level := slog.LevelWarn
	if *verbose {
		level = slog.LevelDebug
	}
	log := slog.New(slog.NewTextHandler(stderr, &slog.HandlerOptions{Level: level}))
	connection, err := wire.ReadConnection(flags.Arg(0))
	if err != nil {
		fmt.Fprintf(stderr, "rotorhum serve: %v\n", err)
		return exitBadInput
	}
	signals := make(chan os.Signal, 8)
	signal.Notify(signals, syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP)
	ports, err := wire.Bind(connection, log)
	if err != nil {
		fmt.Fprintf(stderr, "rotorhum serve: %v\n", err)
		return exitBadInput
	}
	signer, err := wire.NewSigner(connection.SignatureScheme, connection.Key)
	if err != nil { // ReadConnection has checked it
		fmt.Fprintf(stderr, "rotorhum serve: %v\n", err)
		return exitBadInput
	}
	s := session.New(session.Options{
		Shell: ports.Shell, Control: ports.Control, Stdin: ports.Stdin, IOPub: ports.IOPub,
		Signer: signer, Start: startInterp, About: about(),
		History: session.NewHistory(historyPath(), log), Log: log,
	})
	go func() {
		for sig := range signals {
			if sig == syscall.SIGINT {
				s.Interrupt()
			} else {
				s.Stop()
			}
		}
	}()
	go func() {
		for parent.lives() {
			time.Sleep(parentCheck)
		}
		s.Stop()
	}()
	s.Run()
	var ends sync.WaitGroup
	ends.Go(func() { endOffspring(offspringPatience) })
	if err := ports.Close(); err != nil {
		log.Warn("close", "err", err)
	}
	ends.Wait()
	return exitOK
}

func startInterp() (cell.Runner, error) {
	return interp.New(interp.Options{Docs: new(bindings.Docs).Find, Render: player.Render, Readers: bindings.Readers})
}

// parent is the process whose end ends the kernel.
type parent int

// parentProcess returns the process that started this one: the present parent,
// or, if that has gone before we could look, the one that Jupyter names in the
// environment.
func parentProcess() parent {
	now := os.Getppid()
	named, err := strconv.Atoi(os.Getenv("JPY_PARENT_PID"))
	if err == nil && now == 1 && errors.Is(syscall.Kill(named, 0), syscall.ESRCH) {
		return parent(named)
	}
	return parent(now)
}

func (p parent) lives() bool { return os.Getppid() == int(p) }

// about tells front ends which program this is.
func about() session.About {
	version := "devel"
	if build, ok := debug.ReadBuildInfo(); ok && build.Main.Version != "" && build.Main.Version != "(devel)" {
		version = build.Main.Version
	}
	return session.About{
		Version: version,
		Banner:  "Rotorhum " + version + ": Go cells, with the packages of acoustic tachometry at hand. Begin with import \"rotorhum/tacho\".",
	}
}

// historyPath returns where the cells of this user are remembered, "" if there
// is no such place.
func historyPath() string {
	data, err := spec.UserData()
	if err != nil {
		return ""
	}
	return filepath.Join(data, "rotorhum", "history.jsonl")
}
