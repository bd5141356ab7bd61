package spec

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"image/png"
	"os"
	"path/filepath"
	"testing"
)

func TestWrite(t *testing.T) {
	kernels := filepath.Join(t.TempDir(), "share", "jupyter", "kernels")
	for range 2 { // installing again replaces
		dir, err := Write(kernels, "/opt/rotor hum/rotorhum")
		if err != nil {
			t.Fatal(err)
		}
		if want := filepath.Join(kernels, "rotorhum"); dir != want {
			t.Errorf("written to %s, want %s", dir, want)
		}
	}
	files, err := os.ReadDir(filepath.Join(kernels, "rotorhum"))
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range files {
		names = append(names, f.Name())
	}
	if got, want := len(names), 4; got != want {
		t.Errorf("the kernelspec has the files %v", names)
	}
	data, err := os.ReadFile(filepath.Join(kernels, "rotorhum", "kernel.json"))
	if err != nil {
		t.Fatal(err)
	}
	var k map[string]any
	if err := json.Unmarshal(data, &k); err != nil {
		t.Fatal(err)
	}
	argv, _ := json.Marshal(k["argv"])
	if want := `["/opt/rotor hum/rotorhum","serve","{connection_file}"]`; string(argv) != want {
		t.Errorf("argv %s, want %s", argv, want)
	}
	for field, want := range map[string]string{"display_name": "Rotorhum (Go)", "language": "go", "interrupt_mode": "message"} {
		if k[field] != want {
			t.Errorf("%s is %v, want %s", field, k[field], want)
		}
	}
}

func TestWriteRefusesARelativeProgram(t *testing.T) {
	if _, err := Write(t.TempDir(), "rotorhum"); err == nil {
		t.Error("a relative path was written into the kernelspec")
	}
}

func TestLogos(t *testing.T) {
	for name, size := range map[string]int{"logo-32x32.png": 32, "logo-64x64.png": 64} {
		data, err := logos.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if b := img.Bounds(); b.Dx() != size || b.Dy() != size {
			t.Errorf("%s has %v", name, b)
		}
		if _, _, _, alpha := img.At(0, 0).RGBA(); alpha != 0 {
			t.Errorf("%s: its corner is not transparent", name)
		}
	}
	data, err := logos.ReadFile("logo-svg.svg")
	if err != nil {
		t.Fatal(err)
	}
	var root struct{ XMLName xml.Name }
	if err := xml.Unmarshal(data, &root); err != nil || root.XMLName.Local != "svg" {
		t.Errorf("logo-svg.svg: %v, root %s", err, root.XMLName.Local)
	}
}

func TestPlaces(t *testing.T) {
	t.Setenv("HOME", "/home/ada")
	t.Setenv("XDG_DATA_HOME", "")
	t.Setenv("JUPYTER_DATA_DIR", "")
	check := func(want string) {
		t.Helper()
		if got, err := UserKernels(); err != nil || got != want {
			t.Errorf("UserKernels() = %s, %v; want %s", got, err, want)
		}
	}
	check("/home/ada/.local/share/jupyter/kernels")
	t.Setenv("XDG_DATA_HOME", "relative/is/to/be/ignored") // says the XDG specification
	check("/home/ada/.local/share/jupyter/kernels")
	t.Setenv("XDG_DATA_HOME", "/data")
	check("/data/jupyter/kernels")
	t.Setenv("JUPYTER_DATA_DIR", "/jupyter")
	check("/jupyter/kernels")
	if got, want := PrefixKernels("/opt/env"), "/opt/env/share/jupyter/kernels"; got != want {
		t.Errorf("PrefixKernels = %s, want %s", got, want)
	}
}
