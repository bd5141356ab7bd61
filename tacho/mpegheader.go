package tacho

// mpegHeader is what the four bytes at the head of a frame of MPEG audio say
// (ISO/IEC 11172-3, 2.4.1.3 and 13818-3; version 2.5 is an extension that
// everybody knows).
type mpegHeader struct {
	version version
	layer   int // 1 to 3
	rate    int // samples per second
	bitrate int // bits per second
	length  int // bytes of the frame, header included
	mono    bool
	crc     bool // two bytes of checksum follow the header
	padded  bool // by one slot
}

// version is one of the three generations of MPEG audio.
type version int

const (
	mpeg1  version = iota // 32 to 48 kHz
	mpeg2                 // 16 to 24 kHz
	mpeg25                // 8 to 12 kHz
)

// bitrates in kbit/s, by lower rate or not, layer and index.
var mpegBitrates = [2][3][15]int{
	{
		{0, 32, 64, 96, 128, 160, 192, 224, 256, 288, 320, 352, 384, 416, 448},
		{0, 32, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320, 384},
		{0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320},
	},
	{
		{0, 32, 48, 56, 64, 80, 96, 112, 128, 144, 160, 176, 192, 224, 256},
		{0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160},
		{0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160},
	},
}

// parseMPEGHeader reads the header at the beginning of b. It does not accept
// frames of free bit rate, whose length no header tells.
func parseMPEGHeader(b []byte) (h mpegHeader, ok bool) {
	if len(b) < 4 || b[0] != 0xff || b[1]&0xe0 != 0xe0 {
		return h, false
	}
	versions := [4]version{mpeg25, -1, mpeg2, mpeg1}
	rates := [4]int{44100, 48000, 32000, 0}
	h.version, h.layer = versions[b[1]>>3&3], 4-int(b[1]>>1&3)
	index, rate := b[2]>>4, rates[b[2]>>2&3]
	const reservedEmphasis = 2
	if h.version < 0 || h.layer == 4 || index == 0 || index == 15 || rate == 0 || b[3]&3 == reservedEmphasis {
		return h, false
	}
	h.crc, h.padded, h.mono = b[1]&1 == 0, b[2]&2 != 0, b[3]>>6 == 3
	h.rate = rate >> h.version
	h.bitrate = 1000 * mpegBitrates[min(h.version, 1)][h.layer-1][index]
	padding := 0
	if h.padded {
		padding = 1
	}
	switch {
	case h.layer == 1:
		h.length = 4 * (12*h.bitrate/h.rate + padding)
	case h.layer == 3 && h.version > mpeg1:
		h.length = 72*h.bitrate/h.rate + padding
	default:
		h.length = 144*h.bitrate/h.rate + padding
	}
	return h, true
}

// follows reports whether a frame with header h can follow one with header
// before in the same sound.
func (h mpegHeader) follows(before mpegHeader) bool {
	return h.version == before.version && h.layer == before.layer && h.rate == before.rate
}

// frames returns how many samples of each channel a frame of layer III holds.
func (h mpegHeader) frames() int {
	if h.version == mpeg1 {
		return 1152
	}
	return 576
}

// sideInfo returns how many bytes stand between the header of a frame of layer
// III and its main data.
func (h mpegHeader) sideInfo() int {
	n := 32
	switch {
	case h.version == mpeg1 && h.mono, h.version != mpeg1 && !h.mono:
		n = 17
	case h.version != mpeg1:
		n = 9
	}
	if h.crc {
		n += 2
	}
	return n
}
