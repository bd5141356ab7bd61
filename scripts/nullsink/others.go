package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"time"

	"rotorhum/tacho"
	"rotorhum/tacho/listen"
)

// piped listens with the program to what a recorder program writes.
func piped(program, folder string) error {
	rec := exec.Command("parec", "--raw", "--format=s16le", fmt.Sprintf("--rate=%d", sinkRate), "--channels=1", "--latency-msec=20", "--device="+sink+".monitor")
	out, err := rec.StdoutPipe()
	if err != nil {
		return err
	}
	path := filepath.Join(folder, "piped.wav")
	cmd := exec.Command(program, "listen", "-pulses", "5", "-json", "-for", "11s", "-keep", path, "-raw", fmt.Sprint(sinkRate), "-")
	cmd.Stdin = out
	if err := rec.Start(); err != nil {
		return err
	}
	defer rec.Wait()
	defer rec.Process.Kill()
	return programHears(cmd, path)
}

// alone lets the program capture by itself.
func alone(program, folder string) error {
	path := filepath.Join(folder, "alone.wav")
	return programHears(exec.Command(program, "listen", "-pulses", "5", "-json", "-for", "11s", "-keep", path, "-microphone", sink), path)
}

// programHears plays a trial while cmd listens, and checks what it says.
func programHears(cmd *exec.Cmd, path string) error {
	s, err := makeSound(3)
	if err != nil {
		return err
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		return err
	}
	var said bytes.Buffer
	cmd.Stderr = &said
	if err := cmd.Start(); err != nil {
		return err
	}
	var p player
	played := make(chan error, 1)
	lines, last := 0, ""
	for scan := bufio.NewScanner(out); scan.Scan(); {
		if lines++; lines == 1 {
			go func() { played <- p.play(s) }()
		}
		last = scan.Text()
		if len(last) > 60_000 {
			break // only the last line is long
		}
	}
	rest := bytes.Buffer{}
	rest.ReadFrom(out)
	if err := cmd.Wait(); err != nil {
		return fmt.Errorf("%w: %s", err, said.String())
	}
	if err := <-played; err != nil {
		return err
	}
	var end struct {
		Ended       string
		Agree       bool
		Measurement struct{ Verdict string }
	}
	if err := json.Unmarshal([]byte(last), &end); err != nil {
		return fmt.Errorf("the last line: %w", err)
	}
	if end.Ended != "planned" || !end.Agree || end.Measurement.Verdict != "varying" || lines < 70 {
		return fmt.Errorf("%d lines, the last says %+v", lines, end)
	}
	rec, err := tacho.Open(path)
	if err != nil {
		return err
	}
	_, err = unchanged(s, rec)
	return err
}

// unplugged ends the sound server in the middle of a trial.
func unplugged(sv *server, path string) error {
	s, err := makeSound(1)
	if err != nil {
		return err
	}
	began := time.Now()
	var p player
	heard, _, _, err := listenTo(func() error { return p.play(s) }, path, 60, func() {
		time.Sleep(3 * time.Second)
		sv.stop()
	})
	if heard == nil {
		return err // that the player fails as well is no wonder
	}
	switch {
	case heard.Ended != listen.EndedTrouble || heard.Trouble == "":
		return fmt.Errorf("ended %q after %v, trouble %q", heard.Ended, time.Since(began), heard.Trouble)
	case heard.Recording == nil || heard.Recording.Seconds() < 2:
		return errors.New("what was heard is not kept")
	}
	if _, err := os.Stat(path); err != nil {
		return err
	}
	fmt.Printf("   said: %s\n", heard.Trouble)
	return nil
}
