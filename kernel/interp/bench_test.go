package interp_test

import (
	"fmt"
	"testing"

	"rotorhum/kernel/bindings"
	"rotorhum/kernel/cell"
	"rotorhum/kernel/interp"
)

func BenchmarkStart(b *testing.B) {
	for b.Loop() {
		in, err := interp.New(interp.Options{})
		if err != nil {
			b.Fatal(err)
		}
		in.Close()
	}
}

// benchmarkCell runs one cell over and over, after a first one.
func benchmarkCell(b *testing.B, first, code string) {
	in, err := interp.New(interp.Options{})
	if err != nil {
		b.Fatal(err)
	}
	defer in.Close()
	run := func(code string) {
		if o := in.Run(cell.Request{Code: code, Sink: &recorder{}}); o.Fault != nil {
			b.Fatal(o.Fault)
		}
	}
	run(first)
	for b.Loop() {
		run(code)
	}
}

func BenchmarkEmptyCell(b *testing.B) { benchmarkCell(b, "", "") }
func BenchmarkSmallCell(b *testing.B) { benchmarkCell(b, "x := 1", "x++\nx*2") }
func BenchmarkFunctionCell(b *testing.B) {
	benchmarkCell(b, "import \"math\"", `
func rms(xs []float64) float64 {
	sum := 0.0
	for _, x := range xs {
		sum += x * x
	}
	return math.Sqrt(sum / float64(len(xs)))
}
rms([]float64{1, 2, 3})`)
}

func BenchmarkImports(b *testing.B) {
	for b.Loop() {
		in, err := interp.New(interp.Options{})
		if err != nil {
			b.Fatal(err)
		}
		if o := in.Run(cell.Request{Code: `import ("fmt"; "math"; "strings"; "sort"; "time"; "os"; "errors"; "strconv")`, Sink: &recorder{}}); o.Fault != nil {
			b.Fatal(o.Fault)
		}
		in.Close()
	}
}

func BenchmarkLines100000(b *testing.B) {
	benchmarkCell(b, "import \"fmt\"", "for i := range 100000 {\n\tfmt.Println(\"line\", i)\n}")
}

func BenchmarkLoopMillion(b *testing.B) {
	benchmarkCell(b, "", "s := 0.0\nfor i := range 1000000 {\n\ts += float64(i)\n}")
}

func BenchmarkCalls100000(b *testing.B) {
	benchmarkCell(b, "func f(x float64) float64 { return x + 1 }", "s := 0.0\nfor range 100000 {\n\ts = f(s)\n}")
}

func BenchmarkComplete(b *testing.B) {
	for _, code := range []string{"x1", "tacho.", "p.X.Label.", "math.Sq"} {
		b.Run(code, func(b *testing.B) {
			in, err := interp.New(interp.Options{Docs: new(bindings.Docs).Find})
			if err != nil {
				b.Fatal(err)
			}
			defer in.Close()
			in.Run(cell.Request{Code: "import (\"math\"; \"rotorhum/tacho\"; \"gonum.org/v1/plot\")\np := plot.New()", Sink: &recorder{}})
			for i := range 300 {
				in.Run(cell.Request{Code: fmt.Sprintf("x%d := %d", i, i), Sink: &recorder{}})
			}
			for b.Loop() {
				if len(in.Complete(code, len(code)).Matches) == 0 {
					b.Fatal("nothing found")
				}
			}
		})
	}
}

func BenchmarkInspect(b *testing.B) {
	in, err := interp.New(interp.Options{Docs: new(bindings.Docs).Find})
	if err != nil {
		b.Fatal(err)
	}
	defer in.Close()
	in.Run(cell.Request{Code: "import \"math\"", Sink: &recorder{}})
	for b.Loop() {
		if _, ok := in.Inspect("math.Sqrt(2)", 6, 0); !ok {
			b.Fatal("nothing found")
		}
	}
}

// BenchmarkCell301 is a cell in a session with many names.
func BenchmarkCell301(b *testing.B) {
	in, err := interp.New(interp.Options{})
	if err != nil {
		b.Fatal(err)
	}
	defer in.Close()
	for i := range 300 {
		in.Run(cell.Request{Code: fmt.Sprintf("x%d := %d\nfunc f%d(a int) int { return a + x%d }", i, i, i, i), Sink: &recorder{}})
	}
	for b.Loop() {
		in.Run(cell.Request{Code: "f7(3)", Sink: &recorder{}})
	}
}
