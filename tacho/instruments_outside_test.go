package tacho

import (
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Recordings of real instruments whose pitch somebody else has published, in the
// head of the file or in its name. They are read where a Debian package puts
// them and left there: most have licences of their own.
//
// Players and makers tune by ear, to 10 cents or so, so "stated" allows 15 cents
// (0.9 %); it tells a wrong octave or harmonic from a right one. "Loop" is sharp:
// a player of such a file repeats the samples between two published marks, so
// that its pitch is exactly a whole number of cycles per loop.
var instruments = []struct {
	from, file, name string
	sample           int     // of a patch
	cycles           int     // in the loop; 0: the sample itself
	hz               float64 // published, or by the loop
	cents            float64 // allowed
}{
	{"freepats", "034_Pick_Bass.pat", "", 0, 0, 38.267, 15},
	{"freepats", "007_Clavinet.pat", "", 0, 0, 61.729, 15},
	{"freepats", "058_Tuba.pat", "", 3, 0, 77.774, 15},
	{"freepats", "060_French_Horn.pat", "", 2, 0, 92.490, 15},
	{"freepats", "042_Cello.pat", "", 0, 0, 99.367, 15},
	{"freepats", "065_Alto_Sax.pat", "", 4, 0, 466.118, 15},
	{"freepats", "073_Flute.pat", "", 1, 0, 466.118, 15},
	{"freepats", "016_Hammond_Organ.pat", "", 6, 0, 554.311, 15},
	{"freepats", "042_Cello.pat", "", 0, 1, 22050.0 / 222, 0.9},
	{"timgm6mb-soundfont", "", "SopLowE", 0, 0, 296.049, 15},
	{"timgm6mb-soundfont", "", "Oboe F#", 0, 0, 369.994, 15},
	{"timgm6mb-soundfont", "", "AltoLoC", 0, 0, 154.846, 15},
	{"timgm6mb-soundfont", "", "TrumpC5", 0, 0, 264.055, 15},
	{"timgm6mb-soundfont", "", "BariE4", 0, 5, 5 * 22500.0 / 684, 0.9},
	{"timgm6mb-soundfont", "", "BariC5", 0, 5, 261.020882, 0.9},
	{"timgm6mb-soundfont", "", "BariC6", 0, 1, 523.255814, 0.9},
	{"sonic-pi-samples", "bass_trance_c.flac", "", 0, 0, 65.406, 20},
	{"sonic-pi-samples", "bass_voxy_c.flac", "", 0, 0, 65.406, 20},
	{"libpython3.11-testsuite", "Sine-1000Hz-300ms.aif", "", 0, 0, 1000, 0.9},
}

// instrumentSample is one sound out of a file of many.
type instrumentSample struct {
	name            string
	rate            float64
	x               []float64
	loopFrom, loopT int
	hz              float64 // published
}

func TestInstruments(t *testing.T) {
	for _, c := range instruments {
		t.Run(strings.TrimSpace(c.from+" "+c.file+" "+c.name), func(t *testing.T) {
			rec, stated := instrument(t, c.from, c.file, c.name, c.sample, c.cycles)
			if c.cycles == 0 && stated > 0 && math.Abs(stated-c.hz) > 0.001*c.hz {
				t.Errorf("the file says %v Hz, the table %v", stated, c.hz)
			}
			f, err := FindFamily(rec, Options{ClockPPM: -1})
			if err != nil {
				t.Fatal(err)
			}
			off := 1200 * math.Log2(f.Tone.X/c.hz)
			t.Logf("%.4f Hz, published %.4f: %+.2f cents", f.Tone.X, c.hz, off)
			if math.Abs(off) > c.cents {
				t.Errorf("%.4f Hz, published %.4f: %+.1f cents, at most %g allowed; others: %v", f.Tone.X, c.hz, off, c.cents, f.Alternatives)
			}
		})
	}
}

// instrument returns the sample, or its loop played for five seconds, and the
// frequency its file states, 0 if none.
func instrument(t *testing.T, from, file, name string, sample, cycles int) (*Recording, float64) {
	t.Helper()
	var s instrumentSample
	switch from {
	case "freepats":
		s = patchSample(t, installed(t, from, "/usr/share/midi/freepats/Tone_000/"+file), sample)
	case "timgm6mb-soundfont":
		s = fontSample(t, installed(t, from, "/usr/share/sounds/sf2/TimGM6mb.sf2"), name)
	default:
		dir := map[string]string{"sonic-pi-samples": "/usr/share/sonic-pi/samples/", "libpython3.11-testsuite": "/usr/lib/python3.11/test/"}[from]
		installed(t, from, dir+file)
		rec, err := Open(filepath.Join(dir, file))
		if err != nil {
			t.Fatal(err)
		}
		return rec, 0
	}
	if cycles > 0 {
		loop := s.x[s.loopFrom:s.loopT]
		s.x = nil
		for float64(len(s.x)) < 5*s.rate {
			s.x = append(s.x, loop...)
		}
	}
	rec, err := NewRecording(s.name, s.rate, s.x)
	if err != nil {
		t.Fatal(err)
	}
	return rec, s.hz
}

// installed returns a file of a Debian package, or skips.
func installed(t *testing.T, from, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Skipf("Debian's %s is not installed", from)
	}
	return data
}

// patchSample reads one sample of a GUS patch: three headers of 239 bytes in all,
// then samples with a header of 96 bytes each; the root frequency stands in it in
// thousandths of a hertz (the layout is common practice).
func patchSample(t *testing.T, file []byte, n int) instrumentSample {
	t.Helper()
	const heads, head = 239, 96
	at := heads
	for range n {
		at += head + int(binary.LittleEndian.Uint32(file[at+8:]))
	}
	u32 := func(i int) int { return int(binary.LittleEndian.Uint32(file[at+i:])) }
	size, modes := u32(8), file[at+55]
	s := instrumentSample{name: strings.TrimRight(string(file[at:at+7]), "\x00"), rate: float64(binary.LittleEndian.Uint16(file[at+20:])),
		loopFrom: u32(12) / 2, loopT: u32(16) / 2, hz: float64(u32(30)) / 1000}
	if modes&1 == 0 {
		t.Fatalf("%s: samples of 8 bits", s.name)
	}
	for i := at + head; i+1 < at+head+size; i += 2 {
		v := binary.LittleEndian.Uint16(file[i:])
		if modes&2 != 0 { // without sign
			v ^= 0x8000
		}
		s.x = append(s.x, float64(int16(v))/32768)
	}
	return s
}

// fontSample reads one sample of a SoundFont 2 file: its "smpl" chunk holds all
// samples, its "shdr" chunk 46 bytes about each, among them key and correction.
func fontSample(t *testing.T, file []byte, name string) instrumentSample {
	t.Helper()
	var samples, heads []byte
	for at := 12; at+8 <= len(file); {
		id, size := string(file[at:at+4]), int(binary.LittleEndian.Uint32(file[at+4:]))
		if id == "LIST" {
			at += 12
			continue
		}
		switch id {
		case "smpl":
			samples = file[at+8 : at+8+size]
		case "shdr":
			heads = file[at+8 : at+8+size]
		}
		at += 8 + size + size%2
	}
	for ; len(heads) >= 46; heads = heads[46:] {
		if strings.TrimRight(string(heads[:20]), "\x00 ") != name {
			continue
		}
		u32 := func(i int) int { return int(binary.LittleEndian.Uint32(heads[i:])) }
		first, end := u32(20), u32(24)
		s := instrumentSample{name: name, rate: float64(u32(36)), loopFrom: u32(28) - first, loopT: u32(32) - first,
			hz: 440 * math.Exp2((float64(heads[40])-float64(int8(heads[41]))/100-69)/12)}
		for i := first; i < end; i++ {
			s.x = append(s.x, float64(int16(binary.LittleEndian.Uint16(samples[2*i:])))/32768)
		}
		return s
	}
	t.Fatalf("no sample %q in the file", name)
	return instrumentSample{}
}
