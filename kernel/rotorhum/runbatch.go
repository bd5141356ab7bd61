package main

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"rotorhum/kernel/notebook"
)

// soundFiles are the endings of the files in a folder that a batch runs over.
var soundFiles = []string{".wav", ".wave", ".bwf", ".flac", ".mp3", ".ogg", ".oga", ".opus", ".m4a", ".aac", ".aif", ".aiff", ".wma"}

// batch is one notebook to be run for each recording of a folder.
type batch struct {
	notebook string
	text     []byte // of its file
	o        runOptions
	rows     []*batchRow // in the order of the recordings' names
	values   []string    // of the parameter, for each row
	targets  []runTarget

	mu sync.Mutex // guards the rows once runs are under way, and stdout
}

// runBatch runs a notebook for every recording of a folder. One that fails does
// not stop the rest.
func runBatch(ctx context.Context, name string, o runOptions, stdout, stderr io.Writer) int {
	b, err := newBatch(name, o)
	if err != nil {
		fmt.Fprintf(stderr, "rotorhum run: %v\n", err)
		return exitBadInput
	}
	slots := make(chan struct{}, o.jobs)
	var all sync.WaitGroup
	for i := range b.rows {
		all.Go(func() {
			slots <- struct{}{}
			defer func() { <-slots }()
			if ctx.Err() != nil {
				return // the row says that it was not run
			}
			row, err := b.run(ctx, i)
			b.mu.Lock()
			defer b.mu.Unlock()
			if *b.rows[i] = row; err != nil {
				b.rows[i].Result = strings.ReplaceAll(err.Error(), "\n", " ")
			}
			fmt.Fprintf(stdout, "%s: %s\n", terminalLine(b.rows[i].Recording), shortened(b.rows[i].Result, maxWidth))
			if err := b.writeTable(); err != nil {
				fmt.Fprintf(stderr, "rotorhum run: %v\n", err)
			}
		})
	}
	all.Wait()
	fmt.Fprintln(stdout)
	printRows(stdout, b.rows)
	code := exitOK
	if err := b.writeTable(); err != nil {
		fmt.Fprintf(stderr, "rotorhum run: %v\n", err)
		code = exitBadInput
	}
	if o.table != "" {
		fmt.Fprintf(stdout, "table: %s\n", o.table)
	}
	if bad := slices.IndexFunc(b.rows, func(r *batchRow) bool { return r.Result != resultOK }); bad >= 0 {
		code = exitBadInput
	}
	return code
}

// newBatch finds the recordings and checks all that can be wrong with the whole
// before anything runs.
func newBatch(name string, o runOptions) (*batch, error) {
	text, err := notebook.ReadText(name)
	if err != nil {
		return nil, err
	}
	if err := mayBecome(o.table, ""); err != nil {
		return nil, err
	}
	files, err := recordingsIn(o.each.Value)
	if err != nil {
		return nil, err
	}
	b := &batch{notebook: name, text: text, o: o}
	for i, file := range files {
		value, err := seenFrom(filepath.Dir(name), file)
		if err != nil {
			return nil, err
		}
		if i == 0 {
			nb, err := notebook.Read(text)
			if err == nil {
				err = cmp.Or(nb.CheckLanguage(), nb.Set(b.settings(value)))
			}
			if err != nil {
				return nil, fmt.Errorf("%s: %w", name, err)
			}
		}
		t := runTarget{notebook: filepath.Join(o.dir, resultName(file, files)+".ipynb")}
		if !o.noPage {
			t.page = filepath.Join(o.dir, resultName(file, files)+".html")
		}
		b.values = append(b.values, value)
		b.targets = append(b.targets, t)
		b.rows = append(b.rows, &batchRow{Recording: file, Result: "not run"})
	}
	return b, nil
}

// recordingsIn lists the sound files in a folder, by name.
func recordingsIn(folder string) ([]string, error) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil, err
	}
	var files []string
	for _, e := range entries {
		file := filepath.Join(folder, e.Name())
		info, err := os.Stat(file)
		if err != nil || !info.Mode().IsRegular() || !slices.Contains(soundFiles, strings.ToLower(filepath.Ext(file))) {
			continue
		}
		files = append(files, file)
	}
	if len(files) == 0 {
		return nil, fmt.Errorf("%s: there is no recording in it; their names end in %s", folder, strings.Join(soundFiles[:7], ", "))
	}
	return files, nil
}

// resultName is the name, without its ending, of what is made from a recording:
// the recording's own, with its ending where two would share one.
func resultName(file string, all []string) string {
	stem := func(f string) string { return strings.ToLower(strings.TrimSuffix(filepath.Base(f), filepath.Ext(f))) }
	shared := 0
	for _, other := range all {
		if stem(other) == stem(file) {
			shared++
		}
	}
	if shared > 1 || stem(file) == "" {
		return filepath.Base(file)
	}
	return strings.TrimSuffix(filepath.Base(file), filepath.Ext(file))
}

// seenFrom returns the name of a file as cells that work in folder give it; an
// absolute name stays.
func seenFrom(folder, file string) (string, error) {
	if filepath.IsAbs(file) {
		return filepath.ToSlash(file), nil
	}
	from, err := filepath.Abs(folder)
	if err != nil {
		return "", err
	}
	to, err := filepath.Abs(file)
	if err != nil {
		return "", err
	}
	rel, err := filepath.Rel(from, to)
	return filepath.ToSlash(rel), err
}

func (b *batch) settings(value string) []notebook.Setting {
	return append(slices.Clone(b.o.settings), notebook.Setting{Name: b.o.each.Name, Value: value})
}

// run runs the notebook for one recording. The row says what can be said even
// if there is an error.
func (b *batch) run(ctx context.Context, i int) (batchRow, error) {
	row := batchRow{Recording: b.rows[i].Recording, Result: resultOK}
	nb, err := notebook.Read(b.text)
	if err != nil {
		return row, err
	}
	if err := nb.Set(b.settings(b.values[i])); err != nil {
		return row, err
	}
	res, err := executeTo(ctx, nb, b.notebook, b.targets[i], b.o, &runPrinter{out: io.Discard, quiet: true})
	if err != nil {
		return row, err
	}
	row.Notebook = b.targets[i].notebook
	if err := row.read(nb, b.values[i]); err != nil {
		row.Result = err.Error()
	}
	if f := res.Failed; f != nil {
		row.Result = fmt.Sprintf("cell %d (%s) failed: %s", f.Number, f.Cell.ID, f.Fault.Error())
	}
	return row, nil
}
