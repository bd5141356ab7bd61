package tacho

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// formats are ways to store the same sound, by the options of ffmpeg that make
// them, whether ffmpeg is needed to read them, and what Codec then is.
var formats = []struct {
	name, options, codec string
	ffmpeg               bool
}{
	{"s16.wav", "-c:a pcm_s16le", "WAV", false},
	{"s24.wav", "-c:a pcm_s24le", "WAV", false},
	{"f32.wav", "-c:a pcm_f32le", "WAV", false},
	{"long.wav", "-rf64 always", "WAV", false},
	{"16.flac", "-sample_fmt s16", "FLAC", false},
	{"24.flac", "-sample_fmt s32", "FLAC", false},
	{"stereo.flac", "-ac 2", "FLAC", false},
	{"constant.mp3", "-b:a 128k", "MP3", false},
	{"variable.mp3", "-q:a 4 -ac 2", "MP3", false},
	{"22050.mp3", "-ar 22050 -b:a 64k", "MP3", false},
	{"padded.mp3", "-ar 22050 -b:a 32k", "mp3 through ffmpeg", true},
	{"11025.mp3", "-ar 11025 -b:a 32k", "mp3 through ffmpeg", true},
	{"vorbis.ogg", "-c:a libvorbis", "Ogg Vorbis", false},
	{"stereo.ogg", "-c:a libvorbis -ac 2 -ar 44100", "Ogg Vorbis", false},
	{"phone.opus", "-c:a libopus", "opus through ffmpeg", true},
	{"phone.m4a", "-c:a aac", "aac through ffmpeg", true},
	{"phone.3gp", "-c:a aac -ar 16000 -b:a 32k", "aac through ffmpeg", true},
	{"phone.aac", "-c:a aac", "aac through ffmpeg", true},
	{"alac.m4a", "-c:a alac", "alac through ffmpeg", true},
	{"camera.mov", "-c:a pcm_s24be", "pcm_s24be through ffmpeg", true},
	{"sound.webm", "-c:a libopus", "opus through ffmpeg", true},
	{"sound.mkv", "-c:a flac", "flac through ffmpeg", true},
	{"sound.aiff", "", "pcm_s16be through ffmpeg", true},
	{"sound.caf", "", "pcm_s16be through ffmpeg", true},
	{"sound.au", "", "pcm_s16be through ffmpeg", true},
	{"sound.w64", "", "pcm_s16le through ffmpeg", true},
	{"sound.wma", "", "wmav2 through ffmpeg", true},
	{"sound.mp2", "", "mp2 through ffmpeg", true},
	{"sound.avi", "-c:a mp3", "mp3 through ffmpeg", true},
	{"sound.ts", "-c:a aac", "aac through ffmpeg", true},
	{"adpcm.wav", "-c:a adpcm_ms", "adpcm_ms through ffmpeg", true},
	{"law.wav", "-c:a pcm_mulaw", "pcm_mulaw through ffmpeg", true},
	{"video.mp4", "-f lavfi -i testsrc=d=6:s=160x120:r=10 -c:v mpeg4 -c:a aac", "aac through ffmpeg", true},
}

// makeFormat converts the siren disc, whose tone is 295.2 Hz, and returns the
// new file, under a name that does not tell its kind.
func makeFormat(t *testing.T, dir, name, options string) string {
	t.Helper()
	if _, err := exec.LookPath("ffmpeg"); err != nil {
		t.Skip("ffmpeg is not installed")
	}
	path := filepath.Join(dir, name)
	args := append([]string{"-v", "error", "-i", "../datasets/siren-disc-steady.wav"}, strings.Fields(options)...)
	if out, err := exec.Command("ffmpeg", append(args, path)...).CombinedOutput(); err != nil {
		t.Fatalf("%s: %v\n%s", name, err, out)
	}
	nameless := filepath.Join(dir, "-i "+strings.ReplaceAll(name, ".", "%d")+" :x")
	if err := os.Rename(path, nameless); err != nil {
		t.Fatal(err)
	}
	return nameless
}

// The same sound in every format has the same length and gives the same speed
// within its interval: 12 holes at 24.6 rev/s (datasets/manifest.json).
func TestFormats(t *testing.T) {
	dir := t.TempDir()
	for _, f := range formats {
		t.Run(f.name, func(t *testing.T) {
			path := makeFormat(t, dir, f.name, f.options)
			if !f.ffmpeg {
				t.Setenv("PATH", t.TempDir())
			}
			rec, err := Open(path)
			if err != nil {
				t.Fatal(err)
			}
			if rec.Codec != f.codec {
				t.Errorf("codec %q, want %q", rec.Codec, f.codec)
			}
			// Coders work in blocks; not every format says where its last ends.
			if late := rec.Seconds() - 6; math.Abs(late) > 0.15 {
				t.Errorf("%.4f s of 6 s", rec.Seconds())
			}
			m, err := Measure(rec, Rotor{Pulses: 12}, Options{})
			if err != nil {
				t.Fatal(err)
			}
			if m.Speed == nil {
				t.Fatalf("%s: %v", m.Verdict, m.Reasons)
			}
			lo, hi := m.Speed.CI95()
			t.Logf("%s, %d channels, %.4f s: %.5f to %.5f rev/s; warnings %q", rec.Codec, rec.Channels, rec.Seconds(), lo, hi, rec.Warnings)
			if !(lo <= 24.6 && 24.6 <= hi) {
				t.Errorf("%.5f to %.5f rev/s, truth 24.6", lo, hi)
			}
		})
	}
}

// soxFormats are made by another program, sox, by its options for the output; a
// phone's codec for speech is among them.
var soxFormats = []struct {
	name, options, codec string
	ffmpeg               bool
}{
	{"24.wav", "-b 24 -t wav", "WAV", false},
	{"32.wav", "-b 32 -e signed-integer -t wav", "WAV", false},
	{"64.wav", "-b 64 -e floating-point -t wav", "WAV", false},
	{"8.wav", "-b 8 -e unsigned-integer -t wav", "WAV", false},
	{"24.flac", "-b 24 -C 8 -t flac", "FLAC", false},
	{"best.mp3", "-C 192.2 -t mp3", "MP3", false},
	{"five.ogg", "-C 5 -t ogg", "Ogg Vorbis", false},
	{"sound.aiff", "-b 24 -t aiff", "pcm_s24be through ffmpeg", true},
	{"sound.au", "-e mu-law -t au", "pcm_mulaw through ffmpeg", true},
	{"sound.caf", "-t caf", "pcm_s16be through ffmpeg", true},
	{"ima.wav", "-e ima-adpcm -t wav", "adpcm_ima_wav through ffmpeg", true},
	{"gsm.wav", "-r 8000 -e gsm-full-rate -t wav", "gsm_ms through ffmpeg", true},
	{"narrow.amr", "-r 8000 -t amr-nb", "amr_nb through ffmpeg", true},
}

// The same sound as stored by sox: the length, the codec and the speed.
func TestFormatsBySox(t *testing.T) {
	sox, err := exec.LookPath("sox")
	if err != nil {
		t.Skip("sox is not installed")
	}
	dir := t.TempDir()
	for _, f := range soxFormats {
		t.Run(f.name, func(t *testing.T) {
			path := filepath.Join(dir, strings.ReplaceAll(f.name, ".", " ")) // its name tells nothing
			args := append([]string{"-D", "../datasets/siren-disc-steady.wav"}, strings.Fields(f.options)...)
			if out, err := exec.Command(sox, append(args, path)...).CombinedOutput(); err != nil {
				if strings.Contains(string(out), "no handler") {
					t.Skipf("this sox does not write it: %s", out)
				}
				t.Fatalf("%v\n%s", err, out)
			}
			if f.ffmpeg {
				if _, err := exec.LookPath("ffmpeg"); err != nil {
					t.Skip("ffmpeg is not installed")
				}
			} else {
				t.Setenv("PATH", t.TempDir())
			}
			rec, err := Open(path)
			if err != nil {
				t.Fatal(err)
			}
			if rec.Codec != f.codec || math.Abs(rec.Seconds()-6) > 0.15 {
				t.Errorf("codec %q, %.4f s; want %q, 6 s", rec.Codec, rec.Seconds(), f.codec)
			}
			m, err := Measure(rec, Rotor{Pulses: 12}, Options{})
			if err != nil {
				t.Fatal(err)
			}
			if m.Speed == nil {
				t.Fatalf("%s: %v", m.Verdict, m.Reasons)
			}
			lo, hi := m.Speed.CI95()
			t.Logf("%s, %.0f Hz: %.5f to %.5f rev/s; warnings %q", rec.Codec, rec.Rate, lo, hi, rec.Warnings)
			if !(lo <= 24.6 && 24.6 <= hi) {
				t.Errorf("%.5f to %.5f rev/s, truth 24.6", lo, hi)
			}
		})
	}
}

// A codec for speech is told in every form of the report, with a warning: of the
// siren's tone and its harmonics it keeps what lies below 3.4 kHz.
func TestSpeechCodecs(t *testing.T) {
	dir := t.TempDir()
	for name, c := range map[string]struct{ options, codec string }{
		"speech.ogg": {"-c:a libspeex -ar 8000 -ac 1", "speex through ffmpeg"},
		"phone.wav":  {"-c:a libgsm_ms -ar 8000 -ac 1", "gsm_ms through ffmpeg"},
	} {
		rec, err := Open(makeFormat(t, dir, name, c.options))
		if err != nil {
			t.Fatal(err)
		}
		if rec.Codec != c.codec || !strings.Contains(strings.Join(rec.Warnings, " "), "a codec for speech") {
			t.Errorf("%s: %q, warnings %q", name, rec.Codec, rec.Warnings)
		}
		m, err := Measure(rec, Rotor{Pulses: 12}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if m.Speed == nil || math.Abs(m.Speed.X-24.6) > 0.01 {
			t.Errorf("%s: %v", name, m)
		}
		data, err := json.Marshal(m)
		if err != nil {
			t.Fatal(err)
		}
		html := m.HTML()
		for form, text := range map[string]string{"text": m.String(), "Markdown": strings.ReplaceAll(m.Markdown(), "\\", ""), "HTML": html, "JSON": string(data)} {
			flat := strings.Join(strings.Fields(text), " ")
			if !strings.Contains(flat, c.codec) || !strings.Contains(flat, "it was stored by a codec for speech") {
				t.Errorf("%s, %s: neither %q nor the warning in\n%s", name, form, c.codec, text)
			}
		}
	}
}

// Where there is no ffmpeg, the error says what the file is, and how to get on.
func TestWithoutFFmpeg(t *testing.T) {
	path := makeFormat(t, t.TempDir(), "phone.m4a", "-c:a aac")
	t.Setenv("PATH", t.TempDir())
	_, err := Open(path)
	if !errors.Is(err, ErrUnsupported) {
		t.Fatalf("%v, want ErrUnsupported", err)
	}
	for _, says := range []string{"MPEG-4", "ffmpeg decodes it", "apt install ffmpeg", "WAV or FLAC"} {
		if !strings.Contains(err.Error(), says) {
			t.Errorf("%v does not say %q", err, says)
		}
	}
}

// A video without sound, and files that would have ffmpeg read others.
func TestFFmpegIsKeptIn(t *testing.T) {
	dir := t.TempDir()
	secret := makeFormat(t, dir, "secret.wav", "")
	silent := filepath.Join(dir, "silent.mp4")
	if out, err := exec.Command("ffmpeg", "-v", "error", "-f", "lavfi", "-i", "testsrc=d=1:s=64x64", "-c:v", "mpeg4", silent).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if _, err := Open(silent); !errors.Is(err, ErrNoSamples) || !strings.Contains(err.Error(), "sound track") {
		t.Errorf("a video without sound: %v", err)
	}
	for i, text := range []string{
		"#EXTM3U\n#EXT-X-TARGETDURATION:9\n#EXTINF:9,\nfile:" + secret + "\n#EXT-X-ENDLIST\n",
		"ffconcat version 1.0\nfile '" + secret + "'\n",
		"\n#EXTM3U\nfile:" + secret + "\n",
		"v=0\no=- 0 0 IN IP4 127.0.0.1\nm=audio 9 RTP/AVP 0\n",
		"[playlist]\nFile1=" + secret + "\n",
		"\x00\x00\x00\x14ftypM4A \x00\x00\x00\x00isom#EXTM3U\nfile:" + secret + "\n",
	} {
		path := filepath.Join(dir, fmt.Sprint("list", i))
		if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
		if rec, err := Open(path); err == nil {
			t.Errorf("%q is read as %v", text[:12], rec)
		}
	}
}
