package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"golang.org/x/net/html"

	"rotorhum/kernel/notebook"
)

// Files that a stranger may have made, and what each gets: refused with a line
// that says why, or taken without harm. Nothing outside of the folder that was
// named for results may be written, whatever they hold.
func TestFilesOfAStranger(t *testing.T) {
	wrap := func(cells, metadata string) string {
		return `{"nbformat":4,"nbformat_minor":5,"metadata":{` + metadata + `},"cells":[` + cells + `]}`
	}
	code := func(source, metadata, outputs string) string {
		return fmt.Sprintf(`{"cell_type":"code","id":"a","execution_count":1,"source":%q,"metadata":{%s},"outputs":[%s]}`, source, metadata, outputs)
	}
	bomb := "iVBORw0KGgoAAAANSUhEUgAA6mAAAOpgCAYAAAA=" // says 60000 × 60000 pixels
	tests := []struct {
		name, file string
		refused    string // what the line says; "" for a notebook that is taken
	}{
		{"nothing", "", "the file is empty"},
		{"no notebook", "%PDF-1.4", "line 1 is not JSON"},
		{"cut short", `{"cells":[{"cell_type":"code"`, "ends in the middle"},
		{"not UTF-8", "{\"cells\":\"\xff\"}", "not UTF-8"},
		{"zero bytes", strings.Repeat("\x00", 100), "not JSON"},
		{"another kernel", wrap("", `"kernelspec":{"name":"bash","language":"bash","display_name":""}`), "written in bash"},
		{"depth", strings.Repeat(`{"a":`, 1e5) + "1" + strings.Repeat("}", 1e5), "nested more than"},
		{"depth in an output", wrap(code("1", "", `{"output_type":"display_data","metadata":{},"data":{"application/json":`+strings.Repeat("[", 1e4)+strings.Repeat("]", 1e4)+`}}`), ""), "nested more than"},
		{"many values", wrap("", `"a":[`+strings.Repeat("0,", notebook.MaxValues)+`0]`), "more than"},
		{"a number of a million digits", wrap(code("1 + 1", "", `{"output_type":"execute_result","metadata":{},"execution_count":1,"data":{"text/plain":"2"}}`), `"n":`+strings.Repeat("9", 1e6)), ""},
		{"a huge count", wrap(code("1", "", `{"output_type":"execute_result","metadata":{},"execution_count":99999999999999999999,"data":{"text/plain":"1"}}`), ""), ""},
		{"a path as cell id", wrap(strings.Replace(code("1", "", ""), `"id":"a"`, `"id":"../../../escape"`, 1), ""), ""},
		{"paths in metadata", wrap(code("1", `"filename":"../../escape","path":"/etc/passwd"`, ""), `"name":"../escape","path":"../escape","rotorhum":{"out":"../escape","provenance":{"files":[{"name":"/etc/passwd","sha256":"00"}]}}`), ""},
		{"paths as attachment", wrap(`{"cell_type":"markdown","id":"m","metadata":{},"source":"![x](attachment:../../escape.png)","attachments":{"../../escape.png":{"image/png":"AAAA"}}},`+code("1", "", ""), ""), ""},
		{"provenance of another shape", wrap(code("1", "", ""), `"rotorhum":{"provenance":{"files":"no","runs":7}}`), ""},
		{"our metadata of another shape", wrap(code("1", `"rotorhum":[],"tags":"x"`, ""), `"rotorhum":"no"`), ""},
		{"a picture that claims to be huge", wrap(code("1", "", `{"output_type":"display_data","metadata":{},"data":{"image/png":"`+bomb+`","text/plain":"p"}}`), ""), ""},
		{"an SVG with entities", wrap(code("1", "", `{"output_type":"display_data","metadata":{},"data":{"image/svg+xml":"<!DOCTYPE s [<!ENTITY a \"aaaa\"><!ENTITY b \"&a;&a;&a;\">]><svg>&b;<script>alert(1)</script></svg>","text/plain":"p"}}`), ""), ""},
		{"script in HTML", wrap(code("1", "", `{"output_type":"display_data","metadata":{},"data":{"text/html":"<script>alert(1)</script><img src=x onerror=alert(2)>","text/plain":"<script>"}}`), `"title":"</title><script>alert(3)</script>"`), ""},
		{"script in the kernel's name", wrap(code("1", "", ""), `"kernelspec":{"name":"<script>alert(1)</script>","language":"go","display_name":"\"><script>alert(2)</script>"}`), ""},
		{"script in tags", wrap(code("1", `"tags":["<script>alert(1)</script>","parameters\"><script>"]`, ""), ""), ""},
		{"script in prose", wrap(`{"cell_type":"markdown","id":"m","metadata":{},"source":"# <script>alert(1)</script>\n[x](javascript:alert(2)) <iframe srcdoc=x></iframe>"}`, ""), ""},
		{"a tolerance that lets all pass", wrap(code("1", `"tags":["tolerance=1e999"]`, ""), ""), "verify only: tolerance=1e999"},
		{"a time limit that is none", wrap(code("1", `"rotorhum":{"timeout_s":-5}`, ""), `"rotorhum":{"timeout_s":"1e999"}`), ""},
	}
	base := t.TempDir()
	outside := snapshotOf(t, base)
	for _, test := range tests {
		dir := filepath.Join(base, "x", "in")
		results := filepath.Join(base, "x", "results")
		if err := os.MkdirAll(dir, 0o777); err != nil {
			t.Fatal(err)
		}
		name := filepath.Join(dir, "n.ipynb")
		write(t, name, test.file)
		says, onlyVerify := strings.CutPrefix(test.refused, "verify only: ")

		c, out, errs := call("run", "-quiet", "-dir", results, name)
		if refused := says != "" && !onlyVerify; refused && (c != exitBadInput || !strings.Contains(errs, says) || strings.Count(errs, "\n") != 1 || len(errs) > 1000) || !refused && c != exitOK {
			t.Errorf("%s: run gives %d, %.300q, want a line that says %q", test.name, c, errs, says)
		} else if !refused {
			if bad := scriptsIn(t, filepath.Join(results, "n.executed.html")); len(bad) > 0 {
				t.Errorf("%s: the page holds %q", test.name, bad)
			}
		}
		c, out, errs = call("verify", "-update", name)
		if says != "" && (c != exitBadInput || !strings.Contains(out, says) || len(out) > 1000) {
			t.Errorf("%s: verify gives %d, %.300q, want a line that says %q", test.name, c, out+errs, says)
		}
		if says != "" && fileText(t, name) != test.file {
			t.Errorf("%s: a refused notebook was changed", test.name)
		}
		c, _, errs = call("clean", name)
		if refused := c != exitOK; refused != (says != "" && !onlyVerify && test.name != "another kernel") {
			t.Errorf("%s: clean gives %d, %.300q", test.name, c, errs)
		}
		if again, _, errs := call("clean", "-check", name); c == exitOK && again != exitOK {
			t.Errorf("%s: cleaning once is not enough: %.300q", test.name, errs)
		}
		if err := os.RemoveAll(filepath.Join(base, "x")); err != nil {
			t.Fatal(err)
		}
		if now := snapshotOf(t, base); now != outside {
			t.Fatalf("%s: something was written outside: %s", test.name, now)
		}
	}
}

// snapshotOf lists all files below a folder.
func snapshotOf(t *testing.T, dir string) string {
	t.Helper()
	var names []string
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		names = append(names, path)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(names, "\n")
}

// scriptsIn lists what in a page could run.
func scriptsIn(t *testing.T, name string) []string {
	t.Helper()
	root, err := html.Parse(strings.NewReader(fileText(t, name)))
	if err != nil {
		t.Fatal(err)
	}
	var bad []string
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		switch n.Data {
		case "script", "iframe", "object", "embed", "svg":
			if n.Type == html.ElementNode {
				bad = append(bad, n.Data)
			}
		}
		for _, a := range n.Attr {
			if strings.HasPrefix(a.Key, "on") || a.Key == "srcdoc" || strings.HasPrefix(strings.ToLower(strings.TrimSpace(a.Val)), "javascript:") {
				bad = append(bad, n.Data+" "+a.Key)
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(root)
	return bad
}

// A folder from a stranger may hold links where results go, and things that
// are no files.
func TestFolderOfAStranger(t *testing.T) {
	dir := t.TempDir()
	victim := filepath.Join(t.TempDir(), "victim")
	write(t, victim, "precious")
	name := put(t, dir, "n.ipynb", "1")
	for _, link := range []string{"n.executed.ipynb", "n.executed.html"} {
		link = filepath.Join(dir, link)
		for _, target := range []string{victim, filepath.Join(filepath.Dir(victim), "not there yet")} {
			if err := os.Symlink(target, link); err != nil {
				t.Fatal(err)
			}
			if code, _, errs := call("run", name); code != exitBadInput || !strings.Contains(errs, "it is a link") {
				t.Errorf("%s leads to %s: exit code %d, %s", link, target, code, errs)
			}
			if err := os.Remove(link); err != nil {
				t.Fatal(err)
			}
		}
	}
	if fileText(t, victim) != "precious" || strings.Contains(snapshotOf(t, filepath.Dir(victim)), "not there") {
		t.Error("a link led a result out of the folder")
	}
	pipe := filepath.Join(dir, "pipe.ipynb")
	if err := syscall.Mkfifo(pipe, 0o666); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"run", pipe}, {"clean", pipe}, {"verify", pipe}} {
		if code, out, errs := call(args...); code != exitBadInput || !strings.Contains(out+errs, "not a regular file") {
			t.Errorf("%v: exit code %d, %s%s", args, code, out, errs)
		}
	}
	// What is no result is not overwritten.
	own := put(t, dir, "own.ipynb", "2")
	notes := filepath.Join(dir, "notes.html")
	write(t, notes, "<p>mine</p>")
	for _, args := range [][]string{{"-o", own}, {"-html", notes}} {
		before := snapshotOf(t, dir) + fileText(t, own) + fileText(t, notes)
		if code, _, errs := call(append(append([]string{"run"}, args...), name)...); code != exitBadInput || !strings.Contains(errs, "no result of an earlier run") {
			t.Errorf("%v: exit code %d, %s", args, code, errs)
		}
		if snapshotOf(t, dir)+fileText(t, own)+fileText(t, notes) != before {
			t.Errorf("%v wrote something", args)
		}
	}
}

// The name of a recording is a stranger's text, too.
func TestRecordingOfAStranger(t *testing.T) {
	path := soundFile(t, "<img src=x onerror=alert(1)>.wav", 1)
	page := filepath.Join(t.TempDir(), "r.html")
	if code, _, errs := call("measure", "-pulses", "3", "-motion", "steady", "-report", page, path); code != exitOK {
		t.Fatal(errs)
	}
	for _, bad := range scriptsIn(t, page) {
		if bad != "svg" { // our own drawings
			t.Errorf("the report holds %s", bad)
		}
	}
}
