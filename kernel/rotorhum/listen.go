package main

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"rotorhum/tacho"
	"rotorhum/tacho/listen"
)

const listenHelp = `usage: rotorhum listen [-pulses Z] [-radius R] [-range LO:HI] [-for D] [-keep FILE.wav]
                       [-microphone NAME | -raw FORMAT - | -] [-json] [-plain]
       rotorhum listen -check [-pulses Z] [-range LO:HI] [-microphone NAME]
       rotorhum listen -microphones

Follows the speed of a rotor while it spins: the sound of the last seconds, the lines
of the rotor in it, the speed now and the highest so far with their intervals, and how
loud it is. Everything heard is kept in a WAV file as it comes, which is whole at every
moment. A key, Ctrl-C or the planned length ends it; then the kept recording is
measured in full, and compared with what was followed live.

Without a terminal it writes two lines a second. -check listens for five seconds before
a trial and says what to change.

With "-" the sound comes from standard input, so that any recorder program or network
pipe can feed it: a WAV stream, or, with -raw, bare samples whose format must be said. (Tell
ffmpeg -nostdin, or it takes the keyboard.)

Every interval printed is a 95 % interval. Exit code: 0 a reading, 3 no rotor can be
claimed or -check found something to change, 1 trouble with the microphone, the disk or
a file, 2 wrong usage.

Examples: twenty seconds of a whirligig with five vanes; sound from another program;
a rehearsal without microphone

  rotorhum listen -pulses 5 -for 20s -keep trial-3.wav
  arecord -q -t raw -f S16_LE -r 48000 -c 1 | rotorhum listen -pulses 5 -raw 48000 -
  rotorhum listen -pulses 5 -rehearse datasets/whirligig-three-pushes.wav

Flags:
`

// listenOptions is what the command line of "rotorhum listen" says.
type listenOptions struct {
	rotor       tacho.Rotor
	options     tacho.Options
	length      time.Duration
	keep        string
	microphone  string
	raw         *listen.Format
	stdin       bool
	rehearse    string
	json, plain bool
	check, list bool
}

// parseListen reads the command line.
func parseListen(args []string) (o listenOptions, flags *flag.FlagSet, err error) {
	flags = flag.NewFlagSet("listen", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	rotorFlags(flags, &o.rotor, &o.options)
	flags.DurationVar(&o.length, "for", 0, "planned `length` of the trial, such as 20s (default: until a key is pressed)")
	flags.StringVar(&o.keep, "keep", "", "keep what is heard in this new `file`, which ends in .wav (default: heard-DATE-TIME.wav)")
	flags.StringVar(&o.microphone, "microphone", "", "listen to the microphone of this `name`, or part of a name (default: the system's default)")
	flags.Func("raw", "bare samples come from standard input in this `format`: rate, and if they are not 1 and s16le,\nchannels and encoding, such as 48000 or 44100:2:s24le; encodings: u8, s16le, s24le, s32le, f32le", func(s string) error {
		f, err := listen.ParseFormat(s)
		o.raw = &f
		return err
	})
	flags.StringVar(&o.rehearse, "rehearse", "", "follow this recorded `file` in real time instead of a microphone; nothing is kept unless -keep is given")
	flags.BoolVar(&o.json, "json", false, "write one line of JSON for every reading, and one with the full measurement")
	flags.BoolVar(&o.plain, "plain", false, "write plain lines in a terminal too")
	flags.BoolVar(&o.check, "check", false, "check the set-up before a trial; keep nothing")
	flags.BoolVar(&o.list, "microphones", false, "list the microphones and stop")
	if err := flags.Parse(args); err != nil {
		return o, flags, err
	}
	o.stdin = flags.NArg() == 1 && flags.Arg(0) == "-"
	sources := 0
	for _, given := range []bool{o.microphone != "", o.stdin, o.rehearse != ""} {
		if given {
			sources++
		}
	}
	switch {
	case flags.NArg() > 0 && !o.stdin:
		return o, flags, fmt.Errorf("%q: flags only, or - for standard input; to measure a recording, use rotorhum measure", flags.Arg(0))
	case sources > 1:
		return o, flags, errors.New("-microphone, -rehearse and - are different sources: choose one")
	case o.raw != nil && !o.stdin:
		return o, flags, errors.New("-raw is the format of what comes from standard input: end the command with -")
	case o.length < 0:
		return o, flags, errors.New("-for: give a length of more than 0, such as 20s")
	case o.keep != "" && !strings.EqualFold(filepath.Ext(o.keep), ".wav"):
		return o, flags, fmt.Errorf("-keep %s: end the name in .wav", o.keep)
	case o.check && o.keep != "":
		return o, flags, errors.New("-check keeps nothing: leave -keep out")
	}
	return o, flags, nil
}

// runListen is the command "rotorhum listen".
func runListen(args []string, stdout, stderr io.Writer) int {
	o, flags, err := parseListen(args)
	switch {
	case errors.Is(err, flag.ErrHelp):
		fmt.Fprint(stdout, listenHelp)
		flags.SetOutput(stdout)
		flags.PrintDefaults()
		return exitOK
	case err != nil:
		fmt.Fprintf(stderr, "rotorhum listen: %v; rotorhum listen -h explains\n", err)
		return exitBadUsage
	}
	run := o.trial
	switch {
	case o.list:
		run = listMicrophones
	case o.check:
		run = o.checkSetup
	}
	code, err := run(stdout, stderr)
	if err != nil {
		fmt.Fprintf(stderr, "rotorhum listen: %v\n", advised(err))
		if errors.Is(err, tacho.ErrOption) {
			return exitBadUsage
		}
		return exitBadInput
	}
	return code
}

func listMicrophones(stdout, _ io.Writer) (int, error) {
	names, err := listen.Microphones()
	if err == nil && len(names) == 0 {
		err = fmt.Errorf("%w: the sound system knows no device to record from", listen.ErrNoMicrophone)
	}
	if err != nil {
		return exitBadInput, err
	}
	for _, n := range names {
		fmt.Fprintln(stdout, n)
	}
	return exitOK, nil
}

// checkSetup listens for some seconds and says what to change.
func (o listenOptions) checkSetup(stdout, stderr io.Writer) (int, error) {
	s, err := o.settings()
	if err != nil {
		return exitBadInput, err
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	s.Context = ctx
	fmt.Fprintf(stderr, "listening to %s; let the rotor spin, or keep still to hear the room\n", s.Source)
	setup, err := listen.Check(s)
	if err != nil {
		return exitBadInput, err
	}
	fmt.Fprint(stdout, setup)
	if !setup.OK() {
		return exitNoReading, nil
	}
	return exitOK, nil
}

// settings returns what the command line says in the words of package listen.
func (o listenOptions) settings() (s listen.Settings, err error) {
	s = listen.Settings{Live: true, Rotor: o.rotor, Options: o.options, Seconds: o.length.Seconds()}
	switch {
	case o.rehearse != "":
		rec, err := tacho.Open(o.rehearse)
		if err != nil {
			return s, err
		}
		s.Source = listen.Rehearse(rec, 1)
	case o.stdin && o.raw != nil:
		s.Source = listen.Raw(os.Stdin, *o.raw)
	case o.stdin:
		s.Source = listen.WAV(os.Stdin)
	default:
		s.Source = listen.Microphone(o.microphone)
	}
	return s, nil
}

// trial listens, then measures what was kept.
func (o listenOptions) trial(stdout, stderr io.Writer) (int, error) {
	s, err := o.settings()
	if err != nil {
		return exitBadInput, err
	}
	if o.keep == "" && o.rehearse == "" {
		o.keep = time.Now().Format("heard-2006-01-02-150405.wav")
	}
	view := o.view(stdout, stderr)
	defer view.end() // whatever happens, the terminal is given back
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	s.Context, s.Enough, s.Watch = ctx, view.begin, view.show
	heard, err := listen.Listen(o.keep, s)
	view.end()
	stop()
	if err != nil {
		return exitBadInput, err
	}
	return o.measure(heard, view, stdout, stderr)
}

// measure measures what was heard in full and says how the two agree.
func (o listenOptions) measure(heard *listen.Result, view listenView, stdout, stderr io.Writer) (int, error) {
	view.heard(heard)
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	show, done := progressBar(stderr)
	opt := o.options
	opt.Context, opt.Progress = ctx, show
	m, err := tacho.Measure(heard.Recording, o.rotor, opt)
	done()
	if err != nil {
		if heard.File != "" {
			err = fmt.Errorf("%w; the recording is kept in %s", err, heard.File)
		}
		return exitBadInput, err
	}
	if err := view.measured(heard, m); err != nil {
		return exitBadInput, err
	}
	switch {
	case heard.Ended == listen.EndedTrouble || heard.Trouble != "":
		fmt.Fprintf(stderr, "rotorhum listen: %s\n", heard.Trouble)
		return exitBadInput, nil
	case m.Verdict == tacho.VerdictNoReading:
		return exitNoReading, nil
	}
	return exitOK, nil
}

// listenView shows a trial: on the whole terminal, in lines, or as JSON.
type listenView interface {
	// begin is Settings.Enough.
	begin(end func()) (over func())
	show(*listen.State)
	// end gives the terminal back.
	end()
	heard(*listen.Result)
	measured(*listen.Result, *tacho.Measurement) error
}

// view chooses how to show the trial.
func (o listenOptions) view(stdout, stderr io.Writer) listenView {
	writeCautions(stderr)
	if o.json {
		return &jsonView{out: stdout}
	}
	if !o.plain {
		if screen := newListenScreen(stdout, o.stdin); screen != nil {
			return screen
		}
	}
	return &lineView{out: stdout}
}

// writeCautions prints the cautions for who stands beside a rotor that spins, with
// their sources.
func writeCautions(w io.Writer) {
	var b bytes.Buffer
	b.WriteString("Before anything spins:\n")
	for _, c := range tacho.Cautions() {
		fmt.Fprintf(&b, "- %s: %s (%s)\n", c.Hazard, c.Text, c.Source)
	}
	fmt.Fprintf(&b, "%s\n\n", tacho.CautionNote)
	w.Write(b.Bytes())
}
