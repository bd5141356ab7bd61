package listen

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"sync"
	"time"
)

// keeper writes what is heard to a WAV file, which is whole at every moment: the
// header never states more than has been written. However the program ends, no
// sound is lost but what had not come to be written yet.
//
// A file that grows beyond 4 GB becomes one with 64-bit sizes on the spot, in the
// room that was left for them (EBU Tech 3306).
type keeper struct {
	file   keptFile
	format Format
	head   int64 // bytes before the first sample
	bytes  int64 // of samples, written and in the header
	limit  uint64
	bad    error // after which nothing more is written

	stop chan struct{} // ends the goroutine that brings the file to the disk
	done sync.WaitGroup
}

// keptFile is what a keeper needs of an os.File.
type keptFile interface {
	io.WriterAt
	Truncate(size int64) error
	Sync() error
	Close() error
}

// syncEvery is how often the file is brought to the disk itself, which only the
// end of the whole machine would show.
const syncEvery = 2 * time.Second

// maxSize32 is the largest size that a 32-bit header can state.
const maxSize32 = math.MaxUint32

// createKept makes the file, which must not exist: nothing is ever overwritten.
func createKept(path string, f Format) (*keeper, error) {
	file, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666)
	if errors.Is(err, fs.ErrExist) {
		return nil, fmt.Errorf("%w; it is left as it is: keep this trial under another name", err)
	}
	if err != nil {
		return nil, fmt.Errorf("what is heard cannot be kept: %w", err)
	}
	k, err := newKeeper(file, f)
	if err != nil {
		file.Close()
		os.Remove(path) // ours, and empty
		return nil, fmt.Errorf("what is heard cannot be kept in %s: %w", path, err)
	}
	return k, nil
}

func newKeeper(file keptFile, f Format) (*keeper, error) {
	k := &keeper{file: file, format: f, limit: maxSize32, stop: make(chan struct{})}
	head := k.header()
	k.head = int64(len(head))
	if _, err := file.WriteAt(head, 0); err != nil {
		return nil, err
	}
	k.done.Go(func() {
		tick := time.NewTicker(syncEvery)
		defer tick.Stop()
		for {
			select {
			case <-tick.C:
				file.Sync() // a disk that fails will tell Write
			case <-k.stop:
				return
			}
		}
	})
	return k, nil
}

// header returns everything before the first sample, for what is kept so far.
func (k *keeper) header() []byte {
	const long = 28 // bytes of 64-bit sizes
	le := binary.LittleEndian
	tag, extra := uint16(tagPCM), 0
	if k.format.Encoding == F32 {
		tag, extra = tagFloat, 2 // the size of an extension, which is empty
	}
	size := 12 + (8 + long) + (8 + 16 + extra) + 8
	if tag == tagFloat {
		size += 8 + 4
	}
	frames := uint64(k.bytes) / uint64(k.format.frameBytes())
	riff := uint64(size) - 8 + uint64(k.bytes+k.bytes%2)
	h := make([]byte, 0, size)
	if riff <= k.limit {
		h = le.AppendUint32(append(h, "RIFF"...), uint32(riff))
		h = le.AppendUint32(append(h, "WAVEJUNK"...), long)
		h = append(h, make([]byte, long)...)
	} else {
		h = le.AppendUint32(append(h, "RF64"...), math.MaxUint32)
		h = le.AppendUint32(append(h, "WAVEds64"...), long)
		h = le.AppendUint64(h, riff)
		h = le.AppendUint64(h, uint64(k.bytes))
		h = le.AppendUint64(h, frames)
		h = le.AppendUint32(h, 0) // no table of other sizes
	}
	h = le.AppendUint32(append(h, "fmt "...), uint32(16+extra))
	h = le.AppendUint16(h, tag)
	h = le.AppendUint16(h, uint16(k.format.Channels))
	h = le.AppendUint32(h, uint32(k.format.Rate))
	h = le.AppendUint32(h, uint32(k.format.Rate*k.format.frameBytes()))
	h = le.AppendUint16(h, uint16(k.format.frameBytes()))
	h = le.AppendUint16(h, uint16(k.format.Encoding.bits()))
	h = append(h, make([]byte, extra)...)
	if tag == tagFloat {
		h = le.AppendUint32(append(h, "fact"...), 4)
		h = le.AppendUint32(h, uint32(min(frames, math.MaxUint32)))
	}
	h = append(h, "data"...)
	if riff <= k.limit {
		return le.AppendUint32(h, uint32(k.bytes))
	}
	return le.AppendUint32(h, math.MaxUint32)
}

// Write keeps whole frames. After an error the file holds what was kept before,
// and every further call returns that error.
func (k *keeper) Write(frames []byte) error {
	if k.bad != nil {
		return k.bad
	}
	n, err := k.file.WriteAt(frames, k.head+k.bytes)
	n -= n % k.format.frameBytes() // what the disk still took
	before := k.bytes
	k.bytes += int64(n)
	if _, herr := k.file.WriteAt(k.header(), 0); herr != nil {
		k.bytes = before
		err = errors.Join(err, herr)
	}
	k.bad = err
	return err
}

// frames returns how many frames are kept.
func (k *keeper) frames() int64 { return k.bytes / int64(k.format.frameBytes()) }

// Close brings the file to the disk and closes it.
func (k *keeper) Close() error {
	close(k.stop)
	k.done.Wait()
	var errs []error
	if k.bad != nil {
		errs = append(errs, k.file.Truncate(k.head+k.bytes)) // no piece of a frame behind the rest
	} else if k.bytes%2 != 0 {
		_, err := k.file.WriteAt([]byte{0}, k.head+k.bytes) // chunks have even sizes
		errs = append(errs, err)
	}
	errs = append(errs, k.file.Sync(), k.file.Close())
	return errors.Join(errs...)
}
