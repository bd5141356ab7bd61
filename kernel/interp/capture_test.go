package interp_test

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"rotorhum/kernel/interp"
)

func TestOutputComesInOrder(t *testing.T) {
	b := start(t)
	b.must("import (\"fmt\"; \"os\"; \"log\")")
	for range 50 {
		r, _ := b.run(`fmt.Println("one")
display(1)
os.Stdout.WriteString("two\n")
fmt.Fprintln(os.Stderr, "three")
fmt.Println("four")
println("five")
display(2)
fmt.Print("six")
fmt.Fprint(os.Stdout, "seven")
os.Stderr.WriteString("eight")`)
		if got, want := strings.Join(r.order, " "), "stdout display stdout stderr stdout stderr display stdout stderr"; got != want {
			t.Fatalf("order %s, want %s", got, want)
		}
		if got, want := r.out.String(), "one\ntwo\nfour\nsixseven"; got != want {
			t.Fatalf("stdout %q, want %q", got, want)
		}
		if got, want := r.err.String(), "three\nfive\neight"; got != want {
			t.Fatalf("stderr %q, want %q", got, want)
		}
	}
}

func TestCompiledAndInterpretedOutputMixInOrder(t *testing.T) {
	b := start(t)
	b.must("import (\"fmt\"; \"os\")")
	r, _ := b.run(`for i := range 2000 {
	if i%2 == 0 {
		fmt.Println(i)
	} else {
		fmt.Fprintf(os.Stdout, "%d\n", i)
	}
	if i%3 == 0 {
		os.Stdout.WriteString("-\n")
	}
}`)
	want := ""
	for i := range 2000 {
		want += fmt.Sprintln(i)
		if i%3 == 0 {
			want += "-\n"
		}
	}
	if r.out.String() != want {
		t.Errorf("%d bytes printed, want %d in order", r.out.Len(), len(want))
	}
}

func TestNoLineIsLost(t *testing.T) {
	b := start(t)
	b.must("import \"fmt\"")
	r, _ := b.run("for i := range 20000 {\n\tfmt.Println(\"line é\", i)\n}")
	lines := strings.Split(strings.TrimSuffix(r.out.String(), "\n"), "\n")
	if len(lines) != 20000 {
		t.Fatalf("%d lines, want 20000", len(lines))
	}
	for i, l := range lines {
		if l != fmt.Sprint("line é ", i) {
			t.Fatalf("line %d is %q", i, l)
		}
	}
}

func TestGoroutinesPrintWholeLines(t *testing.T) {
	b := start(t)
	b.must("import (\"fmt\"; \"sync\")")
	r, o := b.run(`var wg sync.WaitGroup
for g := range 8 {
	wg.Add(1)
	go func() {
		defer wg.Done()
		for i := range 200 {
			fmt.Printf("goroutine %d line %d\n", g, i)
		}
	}()
}
wg.Wait()`)
	if o.Fault != nil {
		t.Fatal(o.Fault)
	}
	lines := strings.Split(strings.TrimSpace(r.out.String()), "\n")
	if len(lines) != 1600 {
		t.Errorf("%d lines, want 1600", len(lines))
	}
	for _, l := range lines {
		var g, i int
		if n, _ := fmt.Sscanf(l, "goroutine %d line %d", &g, &i); n != 2 {
			t.Fatalf("a mixed line: %q", l)
		}
	}
}

func TestOutputIsValidText(t *testing.T) {
	b := start(t)
	b.must("import (\"fmt\"; \"os\")")
	r, _ := b.run("fmt.Print(\"a\\xffb\")\nfor _, c := range []byte(\"é\") {\n\tos.Stdout.Write([]byte{c})\n\tfmt.Print()\n}")
	if got, want := r.out.String(), "a\uFFFDbé"; got != want {
		t.Errorf("stdout %q, want %q", got, want)
	}
}

func TestOutputIsCapped(t *testing.T) {
	in, err := interp.New(interp.Options{MaxOutput: 1000})
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	b := &bench{in, t}
	b.must("import \"fmt\"")
	r, o := b.run("for i := range 100000 {\n\tfmt.Println(i)\n}\n7")
	if o.Fault != nil || o.Result.Data["text/plain"] != "7" {
		t.Errorf("the cell did not go on: %v", o.Fault)
	}
	if r.out.Len() != 1000 || !strings.Contains(r.err.String(), "more than 1000 bytes") {
		t.Errorf("%d bytes and the note %q, want 1000 bytes", r.out.Len(), r.err.String())
	}
	if r, _ := b.run("fmt.Println(\"again\")"); r.out.String() != "again\n" {
		t.Errorf("the next cell printed %q", r.out.String())
	}
}

func TestLateOutputGoesToTheLastCell(t *testing.T) {
	b := start(t)
	b.must("import (\"fmt\"; \"time\")\nstart := make(chan bool)\ngone := make(chan bool)\ngo func() { <-start; fmt.Println(\"late\"); gone <- true }()")
	r, _ := b.run("start <- true\n<-gone")
	if r.out.String() != "late\n" {
		t.Errorf("the second cell showed %q", r.out.String())
	}
}

func TestStreamsAreGivenBack(t *testing.T) {
	out, errs := os.Stdout, os.Stderr
	in, err := interp.New(interp.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if os.Stdout == out {
		t.Error("stdout is not captured")
	}
	in.Close()
	if os.Stdout != out || os.Stderr != errs {
		t.Error("the standard streams were not given back")
	}
}

func TestLongTextsComeWhole(t *testing.T) {
	b := start(t)
	b.must("import (\"fmt\"; \"os\"; \"strings\")")
	r, _ := b.run(`long := strings.Repeat("vane ½ ", 30000)
for range 2 {
	fmt.Print("a", long, "b", long[:len(long)-2]) // ends within the character
	fmt.Print(long[len(long)-2:])
	fmt.Fprint(os.Stderr, long)
	fmt.Print(long)
}`)
	long := strings.Repeat("vane ½ ", 30000)
	if want := strings.Repeat("a"+long+"b"+long+long, 2); r.out.String() != want {
		t.Errorf("%d bytes on stdout, want %d", r.out.Len(), len(want))
	}
	if r.err.String() != long+long {
		t.Errorf("%d bytes on stderr, want %d", r.err.Len(), 2*len(long))
	}
	if got, want := strings.Join(r.order, " "), "stdout stderr stdout stderr stdout"; got != want {
		t.Errorf("order %s, want %s", got, want)
	}
}
