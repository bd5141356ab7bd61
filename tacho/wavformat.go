package tacho

import (
	"encoding/binary"
	"fmt"
)

// The format tags of WAV files that concern us (RFC 2361, appendix A).
const (
	tagPCM        = 0x0001
	tagFloat      = 0x0003
	tagExtensible = 0xFFFE
)

// tagNames are formats one may meet and that are no plain samples.
var tagNames = map[uint16]string{
	0x0002: "Microsoft ADPCM",
	0x0006: "A-law",
	0x0007: "mu-law",
	0x0011: "IMA ADPCM",
	0x0031: "GSM 6.10",
	0x0040: "G.721 ADPCM",
	0x0050: "MPEG",
	0x0055: "MP3",
	0x00FF: "AAC",
	0x0161: "Windows Media Audio",
	0x0162: "Windows Media Audio",
	0x1610: "AAC",
}

// extensibleGUID is the sub-format identifier of an extensible header without
// its first two bytes, which hold a format tag.
const extensibleGUID = "\x00\x00\x00\x00\x10\x00\x80\x00\x00\xaa\x00\x38\x9b\x71"

// format reads the "fmt " chunk at offset at, whose content is said to be n
// bytes long.
func (s *wavScan) format(at, n int64) error {
	const plain, extensible = 16, 40
	if n < plain || at+8+plain > s.size {
		return s.fail(ErrDamaged, "fmt ", at, fmt.Sprintf("%d bytes, of which %d are in the file; expected at least %d",
			n, max(0, min(n, s.size-at-8)), plain), adviceAgain)
	}
	content := make([]byte, max(plain, min(n, extensible, s.size-at-8)))
	if err := s.read(content, at+8); err != nil {
		return err
	}
	u16 := func(i int) uint16 { return binary.LittleEndian.Uint16(content[i:]) }
	tag := u16(0)
	f := wavFormat{
		channels: int(u16(2)),
		rate:     binary.LittleEndian.Uint32(content[4:]),
		bits:     int(u16(14)),
	}
	blockAlign := int(u16(12))
	if tag == tagExtensible {
		if len(content) < extensible {
			return s.fail(ErrDamaged, "fmt ", at, fmt.Sprintf("an extensible header of %d bytes, expected %d", len(content), extensible), adviceAgain)
		}
		tag = u16(24)
		if string(content[26:40]) != extensibleGUID {
			return s.fail(ErrUnsupported, "fmt ", at, fmt.Sprintf("sub-format %x is not one of the registered formats", content[24:40]), adviceConvert)
		}
	}
	if err := s.checkFormat(at, tag, f); err != nil {
		return err
	}
	f.float = tag == tagFloat
	f.bytes = (f.bits + 7) / 8
	if valid := extensibleBits(content); valid > 0 && valid < f.bits {
		f.bits = valid
	}
	if tight := f.channels * f.bytes; blockAlign != tight {
		if !f.float && f.bytes == 3 && blockAlign == 4*f.channels {
			s.out.warn("samples of %d bits stand in 4 bytes each; read as left-aligned", f.bits)
			f.bytes = 4
		} else {
			s.out.warn("the header gives %d bytes per frame, but %d channels of %d bits take %d; the latter is used", blockAlign, f.channels, f.bits, tight)
		}
	}
	if f.rate < 1000 || f.rate > 1_000_000 {
		s.out.warn("a sample rate of %d Hz is unusual: if it is wrong, every frequency is wrong by the same factor", f.rate)
	}
	s.out.wavFormat, s.haveFmt = f, true
	return nil
}

// extensibleBits returns how many bits of each sample an extensible header
// says to be valid; 0 if it does not say.
func extensibleBits(content []byte) int {
	if binary.LittleEndian.Uint16(content) != tagExtensible {
		return 0
	}
	return int(binary.LittleEndian.Uint16(content[18:]))
}

// checkFormat refuses what cannot be true and what cannot be decoded.
func (s *wavScan) checkFormat(at int64, tag uint16, f wavFormat) error {
	switch {
	case tag != tagPCM && tag != tagFloat:
		name, advice := tagNames[tag], ""
		if name == "" {
			name, advice = "unknown", adviceConvert
		}
		return s.fail(ErrUnsupported, "fmt ", at, fmt.Sprintf("the samples are coded in format %#04x (%s), expected PCM or IEEE float", tag, name), advice)
	case f.channels == 0:
		return s.fail(ErrDamaged, "fmt ", at, "0 channels, expected at least 1", adviceAgain)
	case f.rate == 0:
		return s.fail(ErrDamaged, "fmt ", at, "a sample rate of 0 Hz, which makes every frequency meaningless", adviceAgain)
	case f.bits == 0:
		return s.fail(ErrDamaged, "fmt ", at, "0 bits per sample", adviceAgain)
	case tag == tagFloat && f.bits != 32 && f.bits != 64:
		return s.fail(ErrUnsupported, "fmt ", at, fmt.Sprintf("floating-point samples of %d bits, expected 32 or 64", f.bits), adviceConvert)
	case tag == tagPCM && f.bits > 32:
		return s.fail(ErrUnsupported, "fmt ", at, fmt.Sprintf("integer samples of %d bits, expected at most 32", f.bits), adviceConvert)
	}
	return nil
}
