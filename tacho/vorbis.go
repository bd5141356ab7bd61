package tacho

import (
	"errors"
	"fmt"
	"io"
	"math"
	"math/bits"

	"github.com/jfreymuth/vorbis"
)

// decodeVorbis decodes an Ogg file with one stream of Vorbis (Vorbis I
// specification, xiph.org).
func decodeVorbis(in *encoded) (*decoded, error) {
	v := &vorbisDecoder{in: in, packets: in.oggPackets(), out: &decoded{codec: "Ogg Vorbis", spool: newSpool()}}
	if err := in.guard(v.decode); err != nil {
		return in.salvage(v.out, err, v.packets.page.at)
	}
	return v.out, nil
}

// vorbisDecoder is the work on one file.
type vorbisDecoder struct {
	in      *encoded
	packets *oggPackets
	dec     vorbis.Decoder
	out     *decoded
	held    []byte // samples of the page in hand
	begun   bool   // a page was written
	written int64  // samples of each channel
	buf     []float32
}

func (v *vorbisDecoder) decode() error {
	if err := v.headers(); err != nil {
		return err
	}
	v.buf = make([]float32, v.dec.BufferSize())
	for {
		packet, endOfPage, err := v.packets.read()
		switch {
		case err == io.EOF || errors.Is(err, errNextStream):
			if err != io.EOF {
				v.out.warn("another recording begins at byte %d; only the first is read", v.packets.page.at)
			}
			return v.flush(-1, true)
		case err != nil:
			return errors.Join(v.flush(-1, true), err)
		}
		if len(packet) > 0 { // an empty packet stands for nothing
			samples, err := v.dec.DecodeInto(packet, v.buf)
			if err != nil {
				return errors.Join(v.flush(-1, true), err)
			}
			for _, x := range samples {
				v.held = le.AppendUint32(v.held, math.Float32bits(x))
			}
		}
		if endOfPage {
			if err := v.flush(v.packets.page.granule, v.packets.page.flags&oggLast != 0); err != nil {
				return err
			}
			if err := v.in.reached(v.packets.at); err != nil {
				return err
			}
		}
	}
}

// headers reads the first three packets. The comments of the second are skipped.
func (v *vorbisDecoder) headers() error {
	identification, _, err := v.packets.read()
	if err != nil {
		return err
	}
	if err := checkVorbisIdentification(identification); err != nil {
		return v.in.fail(ErrUnsupported, v.in.start, err.Error(), "")
	}
	if err := v.dec.ReadHeader(identification); err != nil {
		return err
	}
	if _, _, err := v.packets.read(); err != nil {
		return err
	}
	setup, _, err := v.packets.read()
	if err != nil {
		return err
	}
	if err := checkCodebooks(setup); err != nil {
		return err
	}
	if err := v.dec.ReadHeader(setup); err != nil {
		return err
	}
	v.out.wavFormat = wavFormat{rate: uint32(v.dec.SampleRate()), channels: v.dec.Channels(), bits: 32, bytes: 4, float: true}
	return nil
}

// flush writes the samples of a page. The first page tells by its granule how
// many of them stand before the sound, the last how many behind.
func (v *vorbisDecoder) flush(granule int64, last bool) error {
	frame := v.out.frameBytes()
	n := int64(len(v.held)) / frame
	skip := int64(0)
	if !v.begun && n > 0 {
		v.begun = true
		if granule >= 0 && granule < n && !last {
			skip = n - granule
		}
	}
	if last && granule >= v.written && granule < v.written+n-skip {
		n = granule - v.written + skip
	}
	_, err := v.out.spool.Write(v.held[skip*frame : n*frame])
	v.written += n - skip
	v.held = v.held[:0]
	return err
}

// checkVorbisIdentification refuses what the decoder would stumble over.
func checkVorbisIdentification(p []byte) error {
	const size, channels, rate, blocks = 30, 11, 12, 28
	if len(p) < size || p[0] != 1 {
		return errors.New("a first header of Vorbis that is too short")
	}
	small, large := p[blocks]&15, p[blocks]>>4
	switch {
	case p[channels] == 0 || p[channels] > 8:
		return fmt.Errorf("Vorbis with %d channels, expected 1 to 8", p[channels])
	case le.Uint32(p[rate:]) == 0:
		return errors.New("a sample rate of 0 Hz, which makes every frequency meaningless")
	case small < 6 || large < small || large > 13:
		return fmt.Errorf("Vorbis in blocks of 2^%d and 2^%d samples, expected 2^6 to 2^13", small, large)
	}
	return nil
}

// checkCodebooks walks over the codebooks of a setup header and refuses those
// that make the decoder take memory or time without bound: it believes every
// count that it finds.
func checkCodebooks(p []byte) error {
	const maxValues = 1 << 22 // of all books together; real files have some ten thousand
	r := &bitWalker{data: p}
	r.take(7 * 8) // type of header and name
	total := 0
	for range int(r.take(8)) + 1 {
		const sync = 0x564342
		if r.take(24) != sync {
			return errors.New("a codebook of Vorbis that does not begin as it must")
		}
		dimensions, entries := int(r.take(16)), int(r.take(24))
		if total += entries * max(dimensions, 1); dimensions == 0 || entries == 0 || total > maxValues {
			return fmt.Errorf("a codebook of Vorbis with %d entries of %d values", entries, dimensions)
		}
		if used := r.lengths(entries); used == 0 {
			return errors.New("a codebook of Vorbis with impossible code lengths")
		}
		switch lookup := r.take(4); lookup {
		case 0:
		case 1, 2:
			r.take(32)
			r.take(32)
			width := int(r.take(4)) + 1
			r.take(1)
			values := entries * dimensions
			if lookup == 1 {
				values = int(math.Floor(math.Pow(float64(entries), 1/float64(dimensions))))
			}
			r.skip(values * width)
		default:
			return errors.New("a codebook of Vorbis of unknown kind")
		}
		if r.short {
			return errors.New("the codebooks of Vorbis are cut short")
		}
	}
	return nil
}

// bitWalker takes numbers of some bits from bytes, lowest bit first.
type bitWalker struct {
	data  []byte
	at    int // bit
	short bool
}

func (r *bitWalker) take(n int) uint64 {
	var v uint64
	for i := range n {
		if r.at>>3 >= len(r.data) {
			r.short = true
			return 0
		}
		v |= uint64(r.data[r.at>>3]>>(r.at&7)&1) << i
		r.at++
	}
	return v
}

func (r *bitWalker) skip(n int) {
	r.at += n
	r.short = r.short || r.at > 8*len(r.data)
}

// lengths walks over the code lengths of a codebook and returns how many
// entries have one; 0 if they make no sense.
func (r *bitWalker) lengths(entries int) (used int) {
	if ordered := r.take(1) == 1; ordered {
		length := int(r.take(5)) + 1
		for used < entries {
			n := int(r.take(bits.Len(uint(entries - used))))
			if used += n; used > entries || length > 32 || r.short {
				return 0
			}
			length++
		}
		return used
	}
	sparse := r.take(1) == 1
	for range entries {
		if r.short {
			return 0
		}
		if !sparse || r.take(1) == 1 {
			r.take(5)
			used++
		}
	}
	return used
}
