// Package lessons_test checks the form of the lessons: the parts that every one
// of them has, cells that fit a projector, links that lead somewhere. That they
// run, and that their numbers are right, they check themselves.
package lessons_test

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"rotorhum/kernel/notebook"
)

const (
	mostLines = 12 // of code in a cell
	widest    = 72 // characters of a line of code, a tab being 4: what fits at 150 %
)

// lesson is one notebook, its texts taken apart.
type lesson struct {
	file, title string
	cells       []*notebook.Cell
	texts       string // all Markdown
	code        string // all code but that of the solutions
}

func lessons(t *testing.T) []lesson {
	t.Helper()
	files, err := filepath.Glob("*.ipynb")
	if err != nil || len(files) == 0 {
		t.Fatalf("no lessons: %v", err)
	}
	slices.Sort(files)
	var all []lesson
	for _, file := range files {
		nb, err := notebook.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		l := lesson{file: file, cells: nb.Cells}
		for _, c := range nb.Cells {
			switch {
			case c.Kind == notebook.MarkdownCell:
				l.texts += c.Source + "\n\n"
			case !c.Tagged(notebook.SolutionTag):
				l.code += c.Source + "\n\n"
			}
		}
		first, _, _ := strings.Cut(l.texts, "\n")
		l.title = strings.TrimPrefix(first, "# ")
		all = append(all, l)
	}
	return all
}

func TestEveryLessonHasItsParts(t *testing.T) {
	for i, l := range lessons(t) {
		t.Run(l.file, func(t *testing.T) {
			if !strings.HasPrefix(l.file, fmt.Sprintf("%02d_", i)) {
				t.Errorf("the lessons are not numbered on: number %d is %s", i, l.file)
			}
			first, last := l.cells[0].Source, l.cells[len(l.cells)-1].Source
			for _, part := range []string{"*About ", "**Questions**", "**You will do**", "**You will be able to**", "**You need**"} {
				if !strings.Contains(first, part) {
					t.Errorf("the first cell lacks %q", part)
				}
			}
			if !strings.HasPrefix(last, "## Key points") || !strings.Contains(last, "README.md") {
				t.Errorf("the last cell is not the key points, with the way on: %.80q", last)
			}
			for _, part := range []struct {
				text        string
				least, most int
			}{
				{"**Predict, then see", 2, 9},
				{"Turn the knob", 1, 2},
				{"A planned failure", 1, 2},
				{"## Exercises", 1, 1},
				{"**Stop here until you have tried.**", 1, 1},
			} {
				if n := strings.Count(l.texts, part.text); n < part.least || n > part.most {
					t.Errorf("%q stands %d times, not %d to %d", part.text, n, part.least, part.most)
				}
			}
			if !regexp.MustCompile(`check\.(Answer|Choice)\(`).MatchString(l.code) {
				t.Error("no cell in which pupils check themselves")
			}
			if want := fmt.Sprintf("check.NewLedger(%q)", l.title); strings.Count(strings.ReplaceAll(l.code, "(\n\t", "("), want) != 1 {
				t.Errorf("no ledger of that title: %s", want)
			}
			if strings.Count(l.code, "ledger.Close()") != 1 {
				t.Error("the ledger is not closed, once")
			}
			if !strings.Contains(l.code, "figure.") {
				t.Error("no picture")
			}
		})
	}
}

// Every exercise has its folded solution, the self-check one more, and the cells
// of the solutions are folded where the front end can do it.
func TestExercisesHaveSolutions(t *testing.T) {
	number := regexp.MustCompile(`(?m)^(\d+)\. \*`)
	for _, l := range lessons(t) {
		t.Run(l.file, func(t *testing.T) {
			_, exercises, _ := strings.Cut(l.texts, "## Exercises")
			n := len(number.FindAllString(exercises, -1))
			if n < 3 || n > 5 {
				t.Errorf("%d exercises, not 3 to 5", n)
			}
			for i := range n {
				if want := fmt.Sprintf("<details><summary>Solution to %d (click)</summary>\n\n", i+1); strings.Count(exercises, want) != 1 {
					t.Errorf("not one %q", want)
				}
			}
			if strings.Count(exercises, "<summary>Solution to the self-check") != 1 {
				t.Error("no solution to the self-check")
			}
			if strings.Count(exercises, "<details>") != strings.Count(exercises, "</details>") {
				t.Error("a solution is not closed")
			}
			solutions, stop := 0, false
			for _, c := range l.cells {
				stop = stop || strings.Contains(c.Source, "**Stop here until you have tried.**")
				if !c.Tagged(notebook.SolutionTag) {
					continue
				}
				solutions++
				state, _ := c.Metadata["jupyter"].(map[string]any)
				if state["source_hidden"] != true || state["outputs_hidden"] != true {
					t.Errorf("solution cell %s is not folded", c.ID)
				}
				if !stop {
					t.Errorf("solution cell %s stands above the warning", c.ID)
				}
			}
			if solutions < 2 {
				t.Errorf("%d solution cells: some of the exercises and the self-check are run", solutions)
			}
		})
	}
}

func TestCodeFitsTheWall(t *testing.T) {
	for _, l := range lessons(t) {
		for _, c := range l.cells {
			if c.Kind != notebook.CodeCell {
				continue
			}
			lines := strings.Split(c.Source, "\n")
			if len(lines) > mostLines {
				t.Errorf("%s, cell %s has %d lines, more than %d", l.file, c.ID, len(lines), mostLines)
			}
			for _, line := range lines {
				if n := utf8.RuneCountInString(strings.ReplaceAll(line, "\t", "    ")); n > widest {
					t.Errorf("%s, cell %s: %d characters, more than %d: %s", l.file, c.ID, n, widest, line)
				}
			}
		}
	}
}

// The pages name every lesson by its title and minutes, and all links to files
// lead to one.
func TestPagesNameTheLessons(t *testing.T) {
	read := func(name string) string {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	index := read("README.md")
	pages := map[string]string{"README.md": index}
	for _, name := range []string{"teacher.md", "setup.md", "pupil-sheet.md"} {
		pages[name] = read(name)
	}
	minutes := regexp.MustCompile(`\*About (\d+) minutes`)
	for i, l := range lessons(t) {
		pages[l.file] = l.texts
		m := minutes.FindStringSubmatch(l.texts)
		if m == nil {
			t.Errorf("%s does not say how long it takes", l.file)
			continue
		}
		if row := fmt.Sprintf("| %d | [%s](%s) | %s ", i, l.title, l.file, m[1]); !strings.Contains(index, row) {
			t.Errorf("README.md lacks the row %q", row)
		}
	}
	link := regexp.MustCompile(`\]\(([^)#]+)\)`)
	for name, text := range pages {
		for _, m := range link.FindAllStringSubmatch(text, -1) {
			if strings.Contains(m[1], "://") {
				continue
			}
			if _, err := os.Stat(m[1]); err != nil {
				t.Errorf("%s links to %s: %v", name, m[1], err)
			}
		}
	}
}

func TestGlossaryIsInOrder(t *testing.T) {
	text, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, glossary, found := strings.Cut(string(text), "## Glossary")
	if !found {
		t.Fatal("no glossary")
	}
	rows := regexp.MustCompile(`(?m)^\| ([^|-][^|]*) \|`).FindAllStringSubmatch(glossary, -1)
	before := ""
	for _, row := range rows[1:] { // the first is the header
		word := strings.ToLower(row[1])
		if word <= before {
			t.Errorf("%q stands behind %q", row[1], before)
		}
		before = word
	}
	if len(rows) < 50 {
		t.Errorf("only %d words were found", len(rows))
	}
}
