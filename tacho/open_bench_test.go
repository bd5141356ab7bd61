package tacho

import (
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// What reading compressed sound costs: a minute and ten minutes of the siren
// disc in stereo at 48 kHz. MB/s are of 16-bit samples; peak-MB is the most heap
// in use, beyond what was before, as the reading saw it when it told progress.
// It must not grow with the length.
func BenchmarkOpen(b *testing.B) {
	if _, err := exec.LookPath("ffmpeg"); err != nil {
		b.Skip("ffmpeg is not installed")
	}
	dir := b.TempDir()
	for _, c := range []struct{ name, loops, options string }{
		{"wav 1 min", "9", ""}, {"wav 10 min", "99", ""},
		{"flac 1 min", "9", ""}, {"flac 10 min", "99", ""},
		{"mp3 1 min", "9", "-b:a 128k"}, {"mp3 10 min", "99", "-b:a 128k"},
		{"ogg 1 min", "9", "-c:a libvorbis"}, {"ogg 10 min", "99", "-c:a libvorbis"},
		{"m4a 1 min", "9", "-c:a aac"}, {"m4a 10 min", "99", "-c:a aac"},
	} {
		b.Run(c.name, func(b *testing.B) {
			path := filepath.Join(dir, strings.ReplaceAll(c.name, " ", "")+"."+c.name[:3])
			if strings.HasPrefix(c.name, "flac") {
				path = strings.TrimSuffix(path, ".fla") + ".flac"
			}
			args := append([]string{"-v", "error", "-y", "-stream_loop", c.loops, "-i", "../datasets/siren-disc-steady.wav", "-ac", "2"}, strings.Fields(c.options)...)
			if out, err := exec.Command("ffmpeg", append(args, path)...).CombinedOutput(); err != nil {
				b.Fatalf("%v\n%s", err, out)
			}
			var most uint64
			for b.Loop() {
				runtime.GC()
				var m runtime.MemStats
				runtime.ReadMemStats(&m)
				before, calls := m.HeapInuse, 0
				rec, err := OpenWith(path, Watch{Progress: func(float64) {
					if calls++; calls%64 == 0 {
						runtime.ReadMemStats(&m)
						most = max(most, m.HeapInuse-min(before, m.HeapInuse))
					}
				}})
				if err != nil {
					b.Fatal(err)
				}
				b.SetBytes(4 * int64(rec.Frames))
			}
			b.ReportMetric(float64(most)/1e6, "peak-MB")
		})
	}
}
