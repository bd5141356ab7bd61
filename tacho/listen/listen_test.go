package listen

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"rotorhum/tacho"
	"rotorhum/tacho/listen/internal/ring"
	"rotorhum/tacho/listen/live"
	"rotorhum/tacho/synth"
)

var whirligig = tacho.Rotor{Name: "five-vane whirligig", Pulses: 5}

// trialSound returns a push on the club's five-vane whirligig: 16-bit samples at
// 48 kHz, and the truth about it.
var trialSound = sync.OnceValues(func() (frames []byte, truth synth.Truth) {
	scene := synth.Scene{
		Rate: 48000, Seconds: 5, Seed: 41, Peak: 0.5,
		Rotors: []synth.Rotor{{
			Name: "whirligig", Pulses: 5, TipRadius: 0.06, Growth: 2, GainSpread: 0.1,
			Profile: synth.Trial(synth.Friction{Coulomb: 0.3, Viscous: 0.05}, synth.Push{Start: 0.5, Seconds: 1.5, Accel: 9, Top: 25}),
		}},
		Noise: []synth.Noise{synth.Pink(20)},
	}
	take, err := scene.Make()
	if err != nil {
		panic(err)
	}
	for _, x := range take.Samples[0] {
		frames = binary.LittleEndian.AppendUint16(frames, uint16(int16(math.Round(32767*x))))
	}
	return frames, take.Truth
})

var cd48 = Format{48000, 1, S16}

// source returns a source whose sound play puts into the ring.
func source(f Format, play func(*ring.Ring)) *Source {
	return &Source{name: "test sound", open: func() (*stream, error) {
		r := newRing(f)
		go play(r)
		return &stream{name: "test sound", format: f, Reader: r, shut: r.Close, lost: func() int64 { return r.Lost() / int64(f.frameBytes()) }}, nil
	}}
}

func trialPath(t *testing.T) string { return filepath.Join(t.TempDir(), "trial.wav") }

// A trial from a stream of samples: every byte is kept, the speed is followed, the
// kept recording gives the same readings again, and its full measurement agrees
// with the truth and with what was followed.
func TestTrial(t *testing.T) {
	frames, truth := trialSound()
	path := trialPath(t)
	watched := 0
	var last State
	heard, err := Listen(path, Settings{Live: true, Source: Raw(bytes.NewReader(frames), cd48), Rotor: whirligig,
		Watch: func(s *State) { watched++; last = *s }})
	if err != nil {
		t.Fatal(err)
	}
	if heard.Ended != EndedSound || heard.Trouble != "" || len(heard.Warnings) > 0 || heard.Seconds != 5 || heard.Lost != 0 || heard.Skipped != 0 {
		t.Errorf("ended %q, trouble %q, warnings %q, %v s", heard.Ended, heard.Trouble, heard.Warnings, heard.Seconds)
	}
	data, err := os.ReadFile(path)
	if err != nil || !bytes.HasSuffix(data, frames) {
		t.Errorf("the kept file does not end in the samples that were sent: %v", err)
	}
	if want := int(5 / live.Step); heard.Readings != want || watched != want {
		t.Errorf("%d readings, %d watched, want %d", heard.Readings, watched, want)
	}
	if heard.Highest == nil || !reflect.DeepEqual(last.Reading.Highest, heard.Highest) {
		t.Fatalf("highest %v, last watched %v", heard.Highest, last.Reading.Highest)
	}
	again, err := Listen(path, Settings{Rotor: whirligig})
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(again.Points, heard.Points) || !reflect.DeepEqual(again.Highest, heard.Highest) || again.Recording.SHA256 != heard.Recording.SHA256 {
		t.Error("the kept recording, followed again, gives other readings")
	}
	m, err := tacho.Measure(heard.Recording, whirligig, tacho.Options{})
	if err != nil {
		t.Fatal(err)
	}
	a, err := heard.Against(m)
	if err != nil {
		t.Fatal(err)
	}
	if !a.Agree {
		t.Error(a)
	}
	if lo, hi := a.Full.CI95(); truth.PeakSpeed < lo || truth.PeakSpeed > hi {
		t.Errorf("true peak %.4f rev/s is outside %v", truth.PeakSpeed, a.Full.Between())
	}
}

// A WAV stream, whatever its header says of its length, and bare samples are the
// same sound.
func TestStreamsAgree(t *testing.T) {
	frames, _ := trialSound()
	frames = frames[:3*48000*2]
	hear := func(s *Source) *Result {
		t.Helper()
		r, err := Listen(trialPath(t), Settings{Live: true, Source: s, Rotor: whirligig})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	bare := hear(Raw(bytes.NewReader(frames), cd48))
	head := (&keeper{format: cd48, limit: maxSize32}).header()
	for _, size := range []uint32{0, 0xffffffff, 0x7ffff000, 100} {
		h := bytes.Clone(head)
		binary.LittleEndian.PutUint32(h[len(h)-4:], size)
		// pieces of odd sizes, as a pipe may deliver them
		r, w := io.Pipe()
		go func() {
			for all := append(h, frames...); len(all) > 0; {
				n := min(len(all), 777)
				w.Write(all[:n])
				all = all[n:]
			}
			w.Close()
		}()
		got := hear(WAV(r))
		if !reflect.DeepEqual(got.Points, bare.Points) || got.Seconds != bare.Seconds {
			t.Errorf("size %#x in the header: %d points in %v s, want %d in %v s", size, len(got.Points), got.Seconds, len(bare.Points), bare.Seconds)
		}
	}
}

func TestBadStreams(t *testing.T) {
	head := (&keeper{format: cd48, limit: maxSize32}).header()
	alaw := bytes.Clone(head)
	at := bytes.Index(alaw, []byte("fmt ")) + 8
	alaw[at] = 6
	wide := bytes.Clone(head)
	wide[at+14] = 64
	for _, c := range []struct {
		name string
		s    *Source
		want error
	}{
		{"nothing", Raw(strings.NewReader(""), cd48), tacho.ErrNoSamples},
		{"half a frame", Raw(strings.NewReader("x"), cd48), tacho.ErrNoSamples},
		{"no rate", Raw(strings.NewReader("xxxx"), Format{}), tacho.ErrOption},
		{"rate 20", Raw(strings.NewReader("xxxx"), Format{Rate: 20}), tacho.ErrOption},
		{"channels", Raw(strings.NewReader("xxxx"), Format{48000, -1, S16}), tacho.ErrOption},
		{"encoding", Raw(strings.NewReader("xxxx"), Format{48000, 1, "mu-law"}), tacho.ErrOption},
		{"no WAV", WAV(strings.NewReader("these are no samples in a file")), tacho.ErrNotSound},
		{"short", WAV(strings.NewReader("RIFF")), tacho.ErrNoSamples},
		{"cut header", WAV(bytes.NewReader(head[:30])), tacho.ErrDamaged},
		{"no format", WAV(bytes.NewReader(append(bytes.Clone(head[:12]), head[len(head)-8:]...))), tacho.ErrDamaged},
		{"companded", WAV(bytes.NewReader(append(alaw, 1, 2, 3, 4))), tacho.ErrUnsupported},
		{"64 bits", WAV(bytes.NewReader(append(wide, 1, 2, 3, 4))), tacho.ErrUnsupported},
		{"header only", WAV(bytes.NewReader(head)), tacho.ErrNoSamples},
	} {
		path := trialPath(t)
		r, err := Listen(path, Settings{Live: true, Source: c.s})
		if !errors.Is(err, c.want) || r != nil {
			t.Errorf("%s: %v, %v; want %v", c.name, r, err, c.want)
		}
		if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s: a file without sound was left behind", c.name)
		}
	}
}

func TestPlannedLength(t *testing.T) {
	frames, _ := trialSound()
	for _, seconds := range []float64{1, 1.23456, 0.00002} {
		r, err := Listen(trialPath(t), Settings{Live: true, Source: Raw(io.MultiReader(bytes.NewReader(frames), &endless{}), cd48), Seconds: seconds, Rotor: whirligig})
		if err != nil {
			t.Fatal(err)
		}
		if want := int(math.Round(seconds * 48000)); r.Recording.Frames != want || r.Ended != EndedPlanned {
			t.Errorf("planned %v s: %d frames kept, want %d; ended %q", seconds, r.Recording.Frames, want, r.Ended)
		}
	}
}

// endless is a stream of silence at about the pace of sound.
type endless struct{ at int }

func (e *endless) Read(p []byte) (int, error) {
	time.Sleep(5 * time.Millisecond)
	n := min(len(p), 480)
	clear(p[:n])
	e.at += n
	return n, nil
}

// Whoever ends the listening gets what was heard until then.
func TestEndEarly(t *testing.T) {
	ends := map[string]func(*Settings) func(){
		"context": func(s *Settings) func() {
			ctx, cancel := context.WithCancel(context.Background())
			s.Context = ctx
			return cancel
		},
		"enough": func(s *Settings) func() {
			end := make(chan func(), 1)
			over := false
			s.Enough = func(f func()) func() {
				end <- f
				return func() { over = true }
			}
			t.Cleanup(func() {
				if !over {
					t.Error("nobody was told that the listening is over")
				}
			})
			return func() { (<-end)() }
		},
	}
	for name, prepare := range ends {
		s := Settings{Live: true, Source: Raw(&endless{}, cd48)}
		end := prepare(&s)
		s.Watch = func(st *State) {
			if st.Reading.At > 0.4 && end != nil {
				end()
				end = nil
			}
		}
		r, err := Listen(trialPath(t), s)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if r.Ended != EndedAsked || r.Trouble != "" || r.Recording.Seconds() < 0.4 || r.Seconds != r.Recording.Seconds() {
			t.Errorf("%s: ended %q after %v s, trouble %q, kept %v", name, r.Ended, r.Seconds, r.Trouble, r.Recording)
		}
	}
}

// A microphone that is unplugged, or a disk that fills up, ends the listening with
// everything until then kept, and says so.
func TestTroubleKeepsTheRest(t *testing.T) {
	frames, _ := trialSound()
	gone := source(cd48, func(r *ring.Ring) {
		r.Put(frames[:96000])
		r.End(ErrUnplugged)
	})
	r, err := Listen(trialPath(t), Settings{Live: true, Source: gone, Rotor: whirligig})
	if err != nil {
		t.Fatal(err)
	}
	if r.Ended != EndedTrouble || !strings.Contains(r.Trouble, "unplugged") || r.Recording.Frames != 48000 {
		t.Errorf("unplugged: ended %q, trouble %q, kept %v", r.Ended, r.Trouble, r.Recording)
	}

	d := &disk{room: 50_000}
	s, _ := Settings{Live: true, Source: Raw(bytes.NewReader(frames), cd48), Rotor: whirligig}.normal()
	tr, err := s.start("full.wav", func(_ string, f Format) (*keeper, error) { return newKeeper(d, f) })
	if err != nil {
		t.Fatal(err)
	}
	tr.run()
	if err := tr.keeper.Close(); err != nil {
		t.Fatal(err)
	}
	if tr.result.Ended != EndedTrouble || !strings.Contains(tr.result.Trouble, errFull.Error()) || !strings.Contains(tr.result.Trouble, "full.wav") {
		t.Errorf("full disk: ended %q, trouble %q", tr.result.Ended, tr.result.Trouble)
	}
	n := len(d.data) - int(tr.keeper.head)
	if n < 49_800 || tr.result.Seconds != float64(n/2)/48000 {
		t.Errorf("full disk: %d bytes of sound kept, %v s", n, tr.result.Seconds)
	}
	opened(t, cd48, d.data, frames[:n])
}

// A microphone that delivers nothing at all is noticed.
func TestStillMicrophone(t *testing.T) {
	s := source(cd48, func(*ring.Ring) {})
	open := s.open
	s.open = func() (*stream, error) {
		st, err := open()
		st.still = 20 * time.Millisecond
		return st, err
	}
	r, err := Listen(trialPath(t), Settings{Live: true, Source: s})
	if r != nil || err == nil || !strings.Contains(err.Error(), ErrStill.Error()) {
		t.Errorf("%v, %v", r, err)
	}
}

// A follower that is stuck delays nothing: all sound is kept, what was not followed
// is counted, and the readings after it stand at the right time.
func TestSlowFollowerLosesNothing(t *testing.T) {
	frames, _ := trialSound()
	var stuck atomic.Bool
	release := make(chan bool)
	slow := source(cd48, func(r *ring.Ring) {
		r.PutAll(frames[:48000]) // half a second
		for !stuck.Load() {
			time.Sleep(time.Millisecond)
		}
		r.PutAll(frames[48000 : 8*48000])
		for r.Waiting() > 0 {
			time.Sleep(time.Millisecond)
		}
		close(release)
		r.PutAll(frames[8*48000:])
		r.End(nil)
	})
	s, _ := Settings{Live: true, Source: slow, Rotor: whirligig, Watch: func(st *State) {
		if st.Reading.At > 0.1 && !stuck.Swap(true) {
			<-release
		}
	}}.normal()
	path := trialPath(t)
	tr, err := s.start(path, createKept)
	if err != nil {
		t.Fatal(err)
	}
	// the sound comes as a microphone's would that began a minute ago: nothing can wait
	tr.queue.began = time.Now().Add(-time.Minute)
	tr.run()
	tr.keeper.Close()
	r := tr.result
	if data, _ := os.ReadFile(path); !bytes.HasSuffix(data, frames) {
		t.Error("not all sound was kept")
	}
	if r.Skipped < 1 || r.Skipped > 4.5 || len(r.Warnings) != 1 {
		t.Errorf("%v s skipped, warnings %q", r.Skipped, r.Warnings)
	}
	if r.Seconds != 5 || math.Abs(tr.follower.Seconds()-5) > 1e-9 {
		t.Errorf("%v s heard, %v s followed", r.Seconds, tr.follower.Seconds())
	}
}

// A disk that is stuck loses nothing for as long as the source can hold it.
func TestSlowDiskLosesNothing(t *testing.T) {
	frames, _ := trialSound()
	put := make(chan bool)
	src := source(cd48, func(r *ring.Ring) {
		for b := frames; len(b) > 0; b = b[960:] {
			r.Put(b[:960]) // as a device does, without waiting
		}
		r.End(nil)
		close(put)
	})
	d := &disk{room: math.MaxInt32}
	d.fail = func(at, n int) error {
		if at > 10_000 {
			<-put
		}
		return nil
	}
	s, _ := Settings{Live: true, Source: src, Rotor: whirligig}.normal()
	tr, err := s.start("slow.wav", func(_ string, f Format) (*keeper, error) { return newKeeper(d, f) })
	if err != nil {
		t.Fatal(err)
	}
	tr.run()
	tr.keeper.Close()
	if !bytes.HasSuffix(d.data, frames) || tr.result.Lost != 0 {
		t.Errorf("not all sound was kept; %v s lost", tr.result.Lost)
	}
}

// The program is killed, for real, while it listens; the file it leaves is whole.
func TestKilledWhileListening(t *testing.T) {
	const name = "LISTEN_UNTIL_KILLED"
	if path := os.Getenv(name); path != "" {
		Listen(path, Settings{Live: true, Source: Raw(&endless{}, Format{48000, 2, S16})})
		return
	}
	path := trialPath(t)
	cmd := exec.Command(os.Args[0], "-test.run=^TestKilledWhileListening$")
	cmd.Env = append(os.Environ(), name+"="+path)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	for { // until there is something to lose
		if info, err := os.Stat(path); err == nil && info.Size() > 40_000 {
			break
		}
		time.Sleep(time.Millisecond)
	}
	cmd.Process.Kill()
	cmd.Wait()
	rec, err := tacho.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	info, _ := os.Stat(path)
	if missing := info.Size() - int64(rec.Frames)*4; missing > 8192 {
		t.Errorf("%d bytes in the file, %d frames readable", info.Size(), rec.Frames)
	}
	if r, err := Listen(path, Settings{}); err != nil || r.Recording.Frames != rec.Frames {
		t.Errorf("followed again: %v, %v", r, err)
	}
}

func TestFilesAreGuarded(t *testing.T) {
	frames, _ := trialSound()
	path := trialPath(t)
	if _, err := Listen(path, Settings{}); !errors.Is(err, fs.ErrNotExist) || !strings.Contains(err.Error(), "Live") {
		t.Errorf("nothing recorded yet: %v", err)
	}
	os.WriteFile(path, []byte("mine"), 0o666)
	if _, err := Listen(path, Settings{Live: true, Source: Raw(bytes.NewReader(frames), cd48)}); !errors.Is(err, fs.ErrExist) {
		t.Errorf("live on a file that exists: %v", err)
	}
	if text, _ := os.ReadFile(path); string(text) != "mine" {
		t.Error("the file was changed")
	}
	if _, err := Listen(path, Settings{}); !errors.Is(err, tacho.ErrNotSound) {
		t.Errorf("followed again, no sound: %v", err)
	}
	if _, err := Listen("", Settings{Live: true, Source: Raw(bytes.NewReader(frames), cd48)}); !errors.Is(err, tacho.ErrOption) {
		t.Errorf("no file named: %v", err)
	}
	if _, err := Listen(filepath.Join(path, "deeper", "x.wav"), Settings{Live: true, Source: Raw(bytes.NewReader(frames), cd48)}); err == nil {
		t.Error("a folder that is none gave no error")
	}
}

func TestBadSettings(t *testing.T) {
	frames, _ := trialSound()
	raw := func() *Source { return Raw(bytes.NewReader(frames), cd48) }
	used := raw()
	if _, err := Listen(trialPath(t), Settings{Live: true, Source: used, Seconds: 0.1}); err != nil {
		t.Fatal(err)
	}
	rec, err := tacho.NewRecording("odd", 44100.5, make([]float64, 1000))
	if err != nil {
		t.Fatal(err)
	}
	for name, s := range map[string]Settings{
		"length":      {Live: true, Source: raw(), Seconds: -1},
		"no length":   {Live: true, Source: raw(), Seconds: math.NaN()},
		"two counts":  {Live: true, Source: raw(), Rotor: tacho.Rotor{Pulses: 5}, Options: tacho.Options{Pulses: 7}},
		"pulses":      {Live: true, Source: raw(), Options: tacho.Options{Pulses: -1}},
		"range":       {Live: true, Source: raw(), Options: tacho.Options{Range: tacho.Range{Lo: 100, Hi: 50}}},
		"channel":     {Live: true, Source: raw(), Options: tacho.Options{Channel: 2}},
		"used source": {Live: true, Source: used},
		"pace":        {Live: true, Source: Rehearse(rec, -1)},
		"odd rate":    {Live: true, Source: Rehearse(rec, 1)},
	} {
		path := trialPath(t)
		if _, err := Listen(path, s); !errors.Is(err, tacho.ErrOption) {
			t.Errorf("%s: %v", name, err)
		}
		if _, err := os.Stat(path); err == nil {
			t.Errorf("%s: a file was made", name)
		}
	}
}

// A rehearsal needs no file, and can be kept in one like any trial.
func TestRehearse(t *testing.T) {
	rec, err := tacho.Open("../../datasets/bicycle-wheel-coast-down.wav")
	if err != nil {
		t.Fatal(err)
	}
	r, err := Listen("", Settings{Live: true, Source: Rehearse(rec, 0), Seconds: 2})
	if err != nil || r.Recording.Frames != 2*44100 || r.Recording.SHA256 != rec.SHA256 {
		t.Fatalf("%v, %v", r, err)
	}
	path := trialPath(t)
	kept, err := Listen(path, Settings{Live: true, Source: Rehearse(rec, 40), Seconds: 2})
	if err != nil {
		t.Fatal(err)
	}
	for ch := 1; ch <= 2; ch++ {
		if !reflect.DeepEqual(kept.Recording.Channel(ch), r.Recording.Channel(ch)) {
			t.Errorf("channel %d was kept otherwise than it was recorded", ch)
		}
	}
	if !reflect.DeepEqual(kept.Points, r.Points) {
		t.Error("another pace gives other readings")
	}
}

// Pictures are shown while sound comes, and one at the end, with every reading in
// it; of a kept recording, only that one.
func TestShow(t *testing.T) {
	frames, _ := trialSound()
	path := trialPath(t)
	shown := 0
	s := Settings{Rotor: whirligig, Show: func(p any) {
		if _, ok := p.(*live.Screen); !ok {
			t.Errorf("shown: %T", p)
		}
		shown++
	}}
	s.Live, s.Source = true, Raw(bytes.NewReader(frames), cd48)
	if _, err := Listen(path, s); err != nil || shown == 0 {
		t.Fatal(err, shown)
	}
	s.Live, s.Source, shown = false, nil, 0
	if _, err := Listen(path, s); err != nil || shown != 1 {
		t.Errorf("%v; the kept recording was shown %d times, want once", err, shown)
	}
}

// A panic of the caller's function reaches the caller, with the sound kept.
func TestPanicKeepsTheSound(t *testing.T) {
	frames, _ := trialSound()
	path := trialPath(t)
	var got any
	func() {
		defer func() { got = recover() }()
		Listen(path, Settings{Live: true, Source: Raw(bytes.NewReader(frames), cd48), Watch: func(s *State) {
			if s.Reading.At > 1 {
				panic("in the caller's function")
			}
		}})
	}()
	if got != "in the caller's function" {
		t.Errorf("recovered %v", got)
	}
	if rec, err := tacho.Open(path); err != nil || rec.Seconds() < 1 {
		t.Errorf("kept: %v, %v", rec, err)
	}
}

// A check before the trial hears what the trial would, and keeps nothing.
func TestCheck(t *testing.T) {
	frames, _ := trialSound()
	t.Chdir(t.TempDir())
	setup, err := Check(Settings{Source: Raw(bytes.NewReader(frames[2*2*48000:]), cd48), Rotor: whirligig, Seconds: 2.5})
	if err != nil {
		t.Fatal(err)
	}
	if setup.Seconds != 2.5 || setup.Rate != 48000 || setup.Speed == nil || len(setup.Findings) == 0 {
		t.Errorf("%+v", setup)
	}
	if left, _ := os.ReadDir("."); len(left) > 0 {
		t.Errorf("%v was left behind", left)
	}
	if _, err := Check(Settings{Source: Raw(bytes.NewReader(nil), cd48)}); !errors.Is(err, tacho.ErrNoSamples) {
		t.Errorf("no sound: %v", err)
	}
}

func TestParseFormat(t *testing.T) {
	for in, want := range map[string]Format{
		"48000": {48000, 1, S16}, "44100:2": {44100, 2, S16}, "96000:1:S24LE": {96000, 1, S24}, "8000:1:u8": {8000, 1, U8},
	} {
		if got, err := ParseFormat(in); err != nil || got != want {
			t.Errorf("ParseFormat(%q) = %v, %v; want %v", in, got, err, want)
		}
	}
	for _, in := range []string{"", "x", "48000:0", "48000:two", "48000:1:mp3", "48000:1:s16le:4", "-5", "0", "48k"} {
		if f, err := ParseFormat(in); !errors.Is(err, tacho.ErrOption) {
			t.Errorf("ParseFormat(%q) = %v, %v", in, f, err)
		}
	}
}

// Two channels of opposite sense do not cancel; a chosen one is taken alone.
func TestMono(t *testing.T) {
	f := Format{8000, 2, S16}
	var block []byte
	tone := synth.Tone(440, 8000, 4000)
	for _, x := range tone {
		v := int16(math.Round(30000 * x))
		block = binary.LittleEndian.AppendUint16(block, uint16(v))
		block = binary.LittleEndian.AppendUint16(block, uint16(-v))
	}
	for channel, want := range map[int]float64{0: 30000. / 32768, 1: 30000. / 32768, 2: -30000. / 32768, tacho.MixDown: 0} {
		m, err := newMono(f, channel)
		if err != nil {
			t.Fatal(err)
		}
		m.mix(block) // learns the signs
		x, full := m.mix(block)
		if math.Abs(float64(x[0])-want) > 1e-6 || full {
			t.Errorf("channel %d: first sample %v, want %v; full scale %v", channel, x[0], want, full)
		}
	}
	binary.LittleEndian.PutUint16(block[2:], 0x8000)
	m, _ := newMono(f, 0)
	if _, full := m.mix(block); !full {
		t.Error("a sample at full scale was not seen")
	}
}

func ExampleListen() {
	// A rehearsal: the club's card wheel, from its recording. A trial of one's own
	// names a file and leaves Source out, which is the default microphone.
	rec, err := tacho.Open("../../datasets/card-wheel-run-up.wav")
	if err != nil {
		fmt.Println(err)
		return
	}
	rotor := tacho.Rotor{Name: "seven-tooth card wheel", Pulses: 7}
	heard, err := Listen("", Settings{Live: true, Source: Rehearse(rec, 0), Rotor: rotor})
	if err != nil {
		fmt.Println(err)
		return
	}
	m, err := tacho.Measure(heard.Recording, rotor, tacho.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	a, err := heard.Against(m)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("live %.1f rev/s, full measurement %.1f rev/s, agree: %v\n", a.Live.X, a.Full.X, a.Agree)
	// Output:
	// live 21.7 rev/s, full measurement 21.7 rev/s, agree: true
}
