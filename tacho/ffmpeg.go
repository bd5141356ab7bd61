package tacho

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"
)

// adviceFFmpeg is what to do where a file needs ffmpeg and there is none.
const adviceFFmpeg = "install ffmpeg (Debian: apt install ffmpeg; macOS: brew install ffmpeg; Windows: winget install ffmpeg) " +
	"so that it is on the PATH, or convert the file elsewhere to WAV or FLAC"

// soundCodecs are the decoders that ffmpeg may use. Whatever else a file may
// hold (pictures, subtitles) is never decoded.
const soundCodecs = "aac,aac_fixed,aac_latm,alac,opus,libopus,vorbis,libvorbis,flac,mp3,mp3float,mp2,mp2float,mp1,mp1float,ac3,eac3," +
	"amrnb,amrwb,libopencore_amrnb,libopencore_amrwb,wmav1,wmav2,wmapro,wmalossless,speex,libspeex,gsm,gsm_ms,libgsm,libgsm_ms," +
	"pcm_alaw,pcm_mulaw,pcm_u8,pcm_s8,pcm_s16le,pcm_s16be,pcm_s24le,pcm_s24be,pcm_s32le,pcm_s32be,pcm_f32le,pcm_f32be,pcm_f64le,pcm_f64be," +
	"adpcm_ms,adpcm_ima_wav,adpcm_ima_qt,g726,wavpack,qdm2,mace3,mace6,truespeech,nellymoser,dca,truehd"

// speechCodecs are those that rebuild a voice from its pitch and its formants, with
// the band that they keep (ITU-T G.722.2 for amr_wb; the rest is common practice).
var speechCodecs = map[string]string{
	"amr_nb": "some 200 to 3400 Hz", "amr_wb": "some 50 to 7000 Hz", "gsm": "some 200 to 3400 Hz", "gsm_ms": "some 200 to 3400 Hz",
	"speex": "less than half its sampling rate", "truespeech": "some 200 to 3400 Hz",
}

// stall is how long ffmpeg may work without giving a sample.
const stall = 2 * time.Minute

// decodeWithFFmpeg lets the program ffmpeg decode the first sound track of the
// file; why is what hinders us ourselves.
//
// ffmpeg is told the kind of file that we found and may use no other, no
// protocol but files and pipes and no decoder but those of sound, so that a
// file cannot make it read other files: a playlist is never given to it. The
// name is a path with the prefix "file:", which is neither an option nor an
// address. It writes floating-point samples to a pipe; their amount, the memory
// of one piece and the time without any progress are bounded.
func decodeWithFFmpeg(in *encoded, kind fileKind, why *FileError) (*decoded, error) {
	program, err := exec.LookPath("ffmpeg")
	if err != nil {
		return nil, in.fail(ErrUnsupported, max(why.Offset, 0), why.Problem+"; the program ffmpeg decodes it, and there is none on the PATH", adviceFFmpeg)
	}
	path := in.path
	if path == "" {
		var remove func()
		if path, remove, err = in.copyToDisk(); err != nil {
			return nil, err
		}
		defer remove()
	}
	ctx, cancel := context.WithCancel(in.ctx)
	defer cancel()
	cmd := exec.CommandContext(ctx, program, "-nostdin", "-hide_banner", "-loglevel", "level+info", "-max_alloc", strconv.Itoa(256<<20),
		"-threads", "1", "-protocol_whitelist", "file,pipe", "-codec_whitelist", soundCodecs, "-f", kind.demuxer, "-i", "file:"+path,
		"-map", "0:a:0", "-vn", "-sn", "-dn", "-map_metadata", "-1", "-map_chapters", "-1", "-fflags", "+bitexact",
		"-c:a", "pcm_f32le", "-f", "wav", "pipe:1")
	cmd.Env = withoutReport(os.Environ())
	cmd.WaitDelay = 5 * time.Second
	said := &ffmpegMessages{}
	out := &decoded{codec: "ffmpeg", spool: newSpool()}
	watch := time.AfterFunc(stall, cancel)
	defer watch.Stop()
	sink := &ffmpegSink{in: in, out: out, said: said, alive: func() { watch.Reset(stall) }}
	cmd.Stdout, cmd.Stderr = sink, said
	runErr := cmd.Run()
	switch {
	case in.ctx.Err() != nil:
		out.spool.discard()
		return nil, in.ctx.Err()
	case sink.err != nil:
		return in.salvage(out, sink.err, in.start)
	case ctx.Err() != nil:
		out.spool.discard()
		return nil, in.fail(ErrDamaged, in.start, fmt.Sprintf("ffmpeg gave no sound for %v and was stopped", stall), adviceAgain)
	}
	return in.fromFFmpeg(kind, out, said, runErr)
}

// fromFFmpeg makes of what ffmpeg wrote, a WAV file, the samples in it.
func (in *encoded) fromFFmpeg(kind fileKind, out *decoded, said *ffmpegMessages, runErr error) (*decoded, error) {
	content, err := out.spool.content()
	if err != nil {
		return nil, err
	}
	w, err := parseWAV(content, out.spool.size, in.name)
	if err != nil || w.channels == 0 {
		out.spool.discard()
		if said.noSound() {
			return nil, in.fail(ErrNoSamples, in.start, "this is "+kind.what+" without a sound track", "give a file with sound")
		}
		return nil, in.fail(ErrDamaged, in.start, "this is "+kind.what+", but ffmpeg cannot decode it: "+said.complaint(runErr), adviceAgain)
	}
	out.wavFormat, out.at = w.wavFormat, w.dataAt
	out.codec = strings.TrimSpace(said.codec() + " through ffmpeg")
	if band, speech := speechCodecs[said.codec()]; speech {
		out.warn("it was stored by a codec for speech (%s), which keeps %s and shapes that after a voice: other lines are lost, "+
			"and how strong the rest are is not to be trusted; set the recorder to WAV or FLAC", said.codec(), band)
	}
	if tracks := said.tracks(); tracks > 1 {
		out.warn("there are %d sound tracks; the first is read", tracks)
	}
	if runErr != nil || said.failed() {
		out.warn("ffmpeg could not decode all of it (%s): sound may be missing", said.complaint(runErr))
	}
	return out, nil
}

// withoutReport leaves out the variable that makes ffmpeg write a log file.
func withoutReport(env []string) []string {
	kept := env[:0:0]
	for _, e := range env {
		if !strings.HasPrefix(e, "FFREPORT=") {
			kept = append(kept, e)
		}
	}
	return kept
}

// copyToDisk writes the file to a temporary one, for a program to read.
func (in *encoded) copyToDisk() (path string, remove func(), err error) {
	f, err := os.CreateTemp("", "rotorhum-*.sound")
	if err != nil {
		return "", nil, adviseSpace(err)
	}
	remove = func() { os.Remove(f.Name()) }
	_, err = io.Copy(f, &stoppable{in.ctx, io.NewSectionReader(in.r, 0, in.size)})
	if err := errors.Join(err, f.Close()); err != nil {
		remove()
		return "", nil, adviseSpace(err)
	}
	return f.Name(), remove, nil
}

// ffmpegSink takes what ffmpeg writes.
type ffmpegSink struct {
	in    *encoded
	out   *decoded
	said  *ffmpegMessages
	alive func()
	err   error
}

func (s *ffmpegSink) Write(p []byte) (int, error) {
	s.alive()
	n, err := s.out.spool.Write(p)
	if err != nil {
		s.err = err
		return n, err
	}
	if total := s.said.wavBytes(); total > 0 {
		s.in.progress(decodeShare * min(1, float64(s.out.spool.size)/total))
	}
	return n, nil
}

// ffmpegMessages keeps the beginning and the complaints of what ffmpeg says.
type ffmpegMessages struct {
	mu     sync.Mutex
	info   bytes.Buffer
	rest   []byte
	faults []string
	total  float64 // bytes of samples to expect; -1 if not told
}

func (m *ffmpegMessages) Write(p []byte) (int, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	const enough = 1 << 16
	if m.info.Len() < enough {
		m.info.Write(p[:min(len(p), enough)])
	}
	m.rest = append(m.rest, p...)
	for {
		line, rest, ok := bytes.Cut(m.rest, []byte("\n"))
		if !ok {
			break
		}
		m.rest = rest
		for _, level := range []string{"[error] ", "[fatal] "} {
			// That it may not decode pictures is as we want it.
			if _, text, ok := bytes.Cut(line, []byte(level)); ok && len(m.faults) < 16 && !bytes.Contains(text, []byte("not on whitelist")) {
				m.faults = append(m.faults, string(bytes.TrimSpace(text[:min(len(text), 160)])))
			}
		}
	}
	if len(m.rest) > enough {
		m.rest = nil
	}
	return len(p), nil
}

var (
	ffmpegDuration = regexp.MustCompile(`Duration: (\d+):(\d\d):(\d\d)\.(\d\d)`)
	ffmpegStream   = regexp.MustCompile(`Stream #0:\d+.*?: Audio: (\w+).*?, (\d+) Hz, (mono|stereo|[0-9.]+)`)
	ffmpegInput    = regexp.MustCompile(`(?s)\[info\] Input #0.*?(Output #0|Stream mapping|\z)`)
)

// input returns what ffmpeg says of the file that it reads.
func (m *ffmpegMessages) input() []byte {
	m.mu.Lock()
	defer m.mu.Unlock()
	return bytes.Clone(ffmpegInput.Find(m.info.Bytes()))
}

// wavBytes returns how many bytes of samples are to be expected, 0 if unknown.
func (m *ffmpegMessages) wavBytes() float64 {
	if m.total != 0 {
		return max(m.total, 0)
	}
	m.total = -1
	text := m.input()
	d, s := ffmpegDuration.FindSubmatch(text), ffmpegStream.FindSubmatch(text)
	if d == nil || s == nil {
		return 0
	}
	var v [4]float64
	for i := range v {
		v[i], _ = strconv.ParseFloat(string(d[i+1]), 64)
	}
	rate, _ := strconv.ParseFloat(string(s[2]), 64)
	channels := 1.0
	if string(s[3]) != "mono" {
		channels = 2 // or more: the bar only gets there sooner
	}
	m.total = (3600*v[0] + 60*v[1] + v[2] + v[3]/100) * rate * channels * 4
	return m.total
}

// tracks returns how many sound tracks the file has.
func (m *ffmpegMessages) tracks() int { return len(ffmpegStream.FindAll(m.input(), -1)) }

// codec returns how the first sound track is coded, as ffmpeg calls it.
func (m *ffmpegMessages) codec() string {
	if s := ffmpegStream.FindSubmatch(m.input()); s != nil {
		return string(s[1])
	}
	return ""
}

func (m *ffmpegMessages) noSound() bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	return bytes.Contains(m.info.Bytes(), []byte("matches no streams"))
}

func (m *ffmpegMessages) failed() bool { return len(m.faults) > 0 }

// complaint returns the first thing that ffmpeg complained of.
func (m *ffmpegMessages) complaint(runErr error) string {
	if len(m.faults) > 0 {
		return strconv.QuoteToGraphic(m.faults[0])
	}
	if runErr != nil {
		return runErr.Error()
	}
	return "it does not say why"
}
