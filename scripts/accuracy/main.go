// Command accuracy examines the measuring engine on recordings with known truth
// and prints a table for every class of them:
//
//	go run ./scripts/accuracy                         everything: an hour or so
//	go run ./scripts/accuracy -short                  a few of each
//	go run ./scripts/accuracy -class trial,ramp -draws 100 -worst 5
//	go run ./scripts/accuracy -class trial -draw 17 -dump /tmp/look
//
// The same seed gives the same recordings and the same table, but for the last
// column, the time taken. -worst prints the worst cases of each class with what
// is needed to repeat them, -dump writes the worst or the chosen ones as WAV and
// JSON.
package main

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"rotorhum/scripts/accuracy/exam"
)

func main() {
	var wanted list
	flag.Var(&wanted, "class", "examine only this `class` (may be repeated, or several with commas)")
	draws := flag.Int("draws", 0, "number of draws in each class; 0 is the class's own number")
	seed := flag.Uint64("seed", 1, "seed of all draws")
	short := flag.Bool("short", false, "a few draws of each class")
	worst := flag.Int("worst", 0, "print the worst K cases of each class")
	group := flag.String("group", "", "examine only groups whose name holds this `text`")
	dump := flag.String("dump", "", "write the worst cases (those of -worst, or of -draw) as WAV and JSON into this `folder`")
	var only list
	flag.Var(&only, "draw", "examine only this draw (may be repeated, or several with commas)")
	flag.Parse()
	if err := run(wanted, only, *group, *draws, *seed, *short, *worst, *dump); err != nil {
		fmt.Fprintln(os.Stderr, "accuracy:", err)
		os.Exit(1)
	}
}

// list is a flag that may be given several times or with commas.
type list []string

func (l *list) String() string { return strings.Join(*l, ",") }
func (l *list) Set(s string) error {
	*l = append(*l, strings.Split(s, ",")...)
	return nil
}

func run(wanted, only list, group string, draws int, seed uint64, short bool, worst int, dump string) error {
	classes, err := choose(wanted)
	if err != nil {
		return err
	}
	var chosen []int
	for _, s := range only {
		d, err := strconv.Atoi(s)
		if err != nil || d < 0 {
			return fmt.Errorf("-draw %q: give the number of a draw, from 0", s)
		}
		chosen = append(chosen, d)
	}
	begun := time.Now()
	for _, c := range classes {
		n := c.Draws
		if short {
			n = c.Short
		}
		if draws > 0 {
			n = draws
		}
		numbers, show := exam.First(n), worst
		if len(chosen) > 0 {
			numbers, show = chosen, len(chosen)
		}
		if group != "" {
			numbers = within(c, seed, numbers, group)
		}
		start, done := time.Now(), 0
		out := exam.Examine(c, seed, numbers, func(exam.Outcome) {
			if done++; done%50 == 0 {
				fmt.Fprintf(os.Stderr, "\r%s %d of %d ", c.Name, done, len(numbers))
			}
		})
		fmt.Fprint(os.Stderr, "\r")
		exam.WriteTable(os.Stdout, c, exam.Summarise(out))
		exam.WriteMistakes(os.Stdout, out)
		for _, o := range exam.Worst(out, show) {
			fmt.Println("  " + o.String())
			if dump != "" {
				if err := write(dump, c, o); err != nil {
					return err
				}
			}
		}
		fmt.Printf("  %d recordings, seed %d, %.0f s of wall time\n\n", len(out), seed, time.Since(start).Seconds())
	}
	fmt.Print(exam.Legend)
	fmt.Printf("all: %.0f s of wall time\n", time.Since(begun).Seconds())
	return nil
}

// choose returns the classes of the given names, all for none.
func choose(wanted list) ([]exam.Class, error) {
	all := exam.Classes()
	if len(wanted) == 0 {
		return all, nil
	}
	var out []exam.Class
	var names []string
	for _, c := range all {
		names = append(names, c.Name)
	}
	for _, w := range wanted {
		found := false
		for _, c := range all {
			if c.Name == w {
				out, found = append(out, c), true
			}
		}
		if !found {
			return nil, fmt.Errorf("-class %q: there is none of that name; the classes are %s", w, strings.Join(names, ", "))
		}
	}
	return out, nil
}

// within keeps the draws whose group's name holds text.
func within(c exam.Class, seed uint64, draws []int, text string) []int {
	var out []int
	for _, d := range draws {
		if strings.Contains(c.Case(seed, d).Group, text) {
			out = append(out, d)
		}
	}
	return out
}

// write keeps a case: NAME.wav is the sound, NAME.json the scene, the options and
// what was measured.
func write(dir string, c exam.Class, o exam.Outcome) error {
	k := c.Case(o.Seed, o.Draw)
	take, err := k.Scene.Make()
	if err != nil {
		return err
	}
	data, err := take.WAV(24)
	if err != nil {
		return err
	}
	text, err := json.MarshalIndent(struct {
		Scene   any
		Pulses  int
		Range   any
		Outcome exam.Outcome
	}{k.Scene, k.Options.Pulses, k.Options.Range, o}, "", "  ")
	if err != nil {
		return err
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	name := filepath.Join(dir, fmt.Sprintf("%s-%d-%d", c.Name, o.Seed, o.Draw))
	if err := os.WriteFile(name+".wav", data, 0o666); err != nil {
		return err
	}
	return os.WriteFile(name+".json", append(text, '\n'), 0o666)
}
