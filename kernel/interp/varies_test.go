package interp_test

import (
	"fmt"
	"strings"
	"testing"
)

func TestMapsAreGoneThroughInOrder(t *testing.T) {
	b := start(t)
	b.must("import \"fmt\"\ntype K struct{ A int; B string }\nm := map[string]int{}\nfor i := range 50 {\n\tm[fmt.Sprintf(\"%02d\", 49-i)] = i\n}")
	for _, c := range []struct{ code, want string }{
		{"for k, v := range m {\n\tfmt.Print(k, \"=\", v, \" \")\n\tif v == 47 { break }\n}", "00=49 01=48 02=47 "},
		{"n := 0\nfor range m { n++ }\nn", "50"},
		{"for _, v := range map[int]string{3: \"c\", 1: \"a\", 2: \"b\"} { fmt.Print(v) }", "abc"},
		{"for k := range map[float64]bool{2.5: true, -1: true, 0.5: true} { fmt.Print(k, \" \") }", "-1 0.5 2.5 "},
		{"for k := range map[bool]int{true: 1, false: 0} { fmt.Print(k, \" \") }", "false true "},
		{"for k, v := range map[K]int{{2, \"a\"}: 1, {1, \"z\"}: 2, {1, \"b\"}: 3} { fmt.Print(k.A, k.B, v, \" \") }", "1b3 1z2 2a1 "},
		{"for k := range map[[2]int]int{{1, 2}: 1, {0, 9}: 2} { fmt.Print(k) }", "[0 9][1 2]"},
		{"var k string; var v int\nfor k, v = range map[string]int{\"b\": 2, \"a\": 1} { fmt.Print(k, v, \" \") }\nk", "a1 b2 b"},
		{"d := map[int]int{1: 1, 2: 2, 3: 3}\nfor k := range d {\n\tdelete(d, k+1)\n\tfmt.Print(k, \" \")\n}", "1 3 "},
		{"e := map[int]int{1: 1, 2: 2}\nfor k, v := range e {\n\te[2] = 7\n\tfmt.Print(k, v, \" \")\n}", "1 1 2 7 "},
		{"outer:\nfor k := range map[int]int{1: 1, 2: 2, 3: 3} {\n\tfor j := range 3 {\n\t\tif k == 2 { continue outer }\n\t\tif k == 3 { break outer }\n\t\tfmt.Print(k, j, \" \")\n\t}\n}", "1 0 1 1 1 2 "},
		{"var fs []func() int\nfor k := range map[int]int{1: 1, 2: 2} { fs = append(fs, func() int { k++; return k }) }\nfmt.Print(fs[0](), fs[1](), fs[0]())", "2 3 3"},
		{"func keys(m map[string]int) (out []string) {\n\tfor k := range m { out = append(out, k) }\n\treturn\n}\nkeys(map[string]int{\"y\": 1, \"x\": 2})", "[x y]"},
		{"for k, v := range map[string][]int{\"b\": {1}, \"a\": {2, 3}} { v[0]++; fmt.Print(k, v) }", "a[3 3]b[2]"},
		{"type M map[string]int\nfor k := range (M{\"q\": 1, \"p\": 2}) { fmt.Print(k) }", "pq"},
		{"for k, v := range map[string]error{\"b\": nil, \"a\": fmt.Errorf(\"x\")} { fmt.Print(k, v, \" \") }", "ax b<nil> "},
		{"var none map[string]int\nfor k := range none { fmt.Print(k) }", ""},
	} {
		if got := b.must(c.code); got != c.want {
			t.Errorf("%s showed %q, want %q", c.code, got, c.want)
		}
	}
	if _, o := b.run("import \"math\"\nfor k := range map[float64]int{math.NaN(): 1} { fmt.Print(k) }"); o.Fault == nil || !strings.Contains(o.Fault.Value, "NaN") {
		t.Errorf("NaN among the keys: %v", o.Fault)
	}
}

func TestWhatVariesIsSaid(t *testing.T) {
	b := start(t)
	b.must("import (\"fmt\"; \"time\"; \"os\"; \"runtime\"; \"math/rand\"; r2 \"math/rand/v2\"; \"gonum.org/v1/gonum/stat/distuv\")\nvar x struct{ N int }\ndone := make(chan bool)")
	for _, c := range []struct{ code, says string }{
		{"time.Now().Year() > 2000", "reads the clock (time.Now)"},
		{"func stamp() int64 { return time.Now().Unix() }", ""},
		{"stamp() > 0", "reads the clock (time.Now)"},
		{"time.Since(time.Unix(0, 0)) > 0", "reads the clock (time.Since)"},
		{"time.Unix(0, 0).UTC()", ""},
		{"fmt.Printf(\"%p\", &x)", "an address in memory"},
		{"fmt.Println(&x.N)", "an address in memory"},
		{"[]*struct{ N int }{&x}", "an address in memory"},
		{"fmt.Printf(\"100 %%p\")", ""},
		{"fmt.Println(\"0xc0ffee\", &x)", ""},
		{"os.Getpid() > 0", "asks the machine (os.Getpid)"},
		{"runtime.NumCPU() > 0", "asks the machine (runtime.NumCPU)"},
		{"rand.Intn(5) < 5 && r2.IntN(5) < 5", ""},
		{"distuv.Normal{Mu: 0, Sigma: 1}.Rand() < 1e9", "nobody has seeded (give Normal a Src)"},
		{"d := distuv.Uniform{Min: 0, Max: 1, Src: r2.NewPCG(1, 2)}\nd.Rand() < 2", ""},
		{"distuv.Normal{Mu: 0, Sigma: 1}.Prob(0) > 0", ""},
		{"for k := range map[any]int{1: 1, \"a\": 2} { _ = k }", "whose keys have no order"},
		{"for k, v := range map[string]int{\"a\": 1} { fmt.Println(k, v) }", ""},
		{"fmt.Println(1)\ngo func() { fmt.Println(2); done <- true }()\n<-done\nfmt.Println(3)", ""},
		{"for i := range 2 {\n\tgo func() { fmt.Println(i); done <- true }()\n}\n<-done\n<-done", "goroutines print side by side"},
		{"go func() {\n\tfor i := range 3 {\n\t\tfmt.Println(i)\n\t\tdone <- true\n\t\t<-done\n\t}\n}()\nfor range 3 {\n\t<-done\n\tfmt.Println(\"main\")\n\tdone <- true\n}", "goroutines print side by side"},
		{"fmt.Println(\"the same every time\")", ""},
		{"panic(time.Now().Year())", "reads the clock"},
	} {
		r, _ := b.run(c.code)
		const head = "This output may differ from run to run: "
		said := strings.Contains(r.err.String(), head)
		if said != (c.says != "") || !strings.Contains(r.err.String(), c.says) {
			t.Errorf("%s: %q, want a warning that says %q", c.code, r.err.String(), c.says)
		}
		runs := b.Provenance().Runs
		if varies := runs[len(runs)-1].Varies; (len(varies) > 0) != (c.says != "") {
			t.Errorf("%s: the provenance says %q", c.code, varies)
		}
	}
}

func TestTwoSessionsShowTheSame(t *testing.T) {
	const code = "import (\"fmt\"; \"math/rand/v2\")\nm := map[string]float64{}\nfor i := range 40 { m[fmt.Sprint(\"k\", i)] = rand.Float64() }\n" +
		"s := 0.0\nfor k, v := range m { s = s*1.0001 + v; fmt.Println(k, s) }\nfmt.Println(m, rand.Perm(9))"
	var first string
	for i := range 3 {
		b := start(t)
		got := fmt.Sprint(b.must(code))
		b.Close()
		if i == 0 {
			first = got
		} else if got != first {
			t.Fatalf("session %d showed\n%s\nand the first\n%s", i+1, got, first)
		}
	}
}
