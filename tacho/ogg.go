package tacho

import (
	"bufio"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"math/bits"
)

// oggPackets takes an Ogg file of one stream apart into its packets (RFC 3533).
type oggPackets struct {
	r       *bufio.Reader
	at      int64 // offset of what r reads next
	page    oggPage
	packet  []byte // that is being put together
	next    int    // segment of the page that comes next
	started bool
}

// oggPage is one page of an Ogg file.
type oggPage struct {
	at       int64 // its offset in the file
	flags    byte
	granule  int64  // sample number behind the last packet that ends here; -1 if none does
	serial   uint32 // of the stream
	segments []byte // lengths
	body     []byte
}

const (
	oggContinued = 1 << iota
	oggFirst
	oggLast
)

// errNextStream says that another stream begins behind the first.
var errNextStream = errors.New("another recording begins behind the first")

func (in *encoded) oggPackets() *oggPackets {
	return &oggPackets{r: bufio.NewReaderSize(in.section(), 1<<16), at: in.start}
}

// maxPacket bounds a packet that goes on over many pages. Real ones have some
// kilobytes.
const maxPacket = 4 << 20

// read returns the next packet, valid until the call after, and whether it is
// the last that ends on its page. It returns io.EOF behind the last packet.
func (o *oggPackets) read() (packet []byte, endOfPage bool, err error) {
	o.packet = o.packet[:0]
	for {
		for o.next == len(o.page.segments) {
			if o.started && o.page.flags&oggLast != 0 && len(o.packet) == 0 {
				if _, err := o.r.Peek(1); err == io.EOF {
					return nil, false, io.EOF
				}
			}
			if err := o.readPage(); err != nil {
				return nil, false, err
			}
		}
		n := int(o.page.segments[o.next])
		o.next++
		if len(o.packet)+n > maxPacket {
			return nil, false, fmt.Errorf("a packet of more than %d bytes", maxPacket)
		}
		o.packet = append(o.packet, o.page.body[:n]...)
		o.page.body = o.page.body[n:]
		if n < 255 {
			return o.packet, o.endsNoMore(), nil
		}
	}
}

// endsNoMore reports whether no further packet ends on the page.
func (o *oggPackets) endsNoMore() bool {
	for _, s := range o.page.segments[o.next:] {
		if s < 255 {
			return false
		}
	}
	return true
}

func (o *oggPackets) readPage() error {
	const size, granule, serial, sum, count = 27, 6, 14, 22, 26
	var head [size]byte
	n, err := io.ReadFull(o.r, head[:])
	if err == io.EOF || n == 0 {
		return err
	}
	p := &o.page
	before := *p
	p.at, o.next = o.at, 0
	if string(head[:min(n, 4)]) != "OggS"[:min(n, 4)] || n > 4 && head[4] != 0 {
		return errors.New("no page of Ogg where one must begin")
	}
	if err != nil {
		return err
	}
	p.flags, p.granule, p.serial = head[5], int64(le.Uint64(head[granule:])), le.Uint32(head[serial:])
	p.segments = append(p.segments[:0], make([]byte, head[count])...)
	if _, err := io.ReadFull(o.r, p.segments); err != nil {
		return err
	}
	length := 0
	for _, s := range p.segments {
		length += int(s)
	}
	body := make([]byte, length)
	if _, err := io.ReadFull(o.r, body); err != nil {
		return err
	}
	p.body = body
	o.at += int64(size + len(p.segments) + length)
	want := le.Uint32(head[sum:])
	clear(head[sum : sum+4])
	switch {
	case oggSum(head[:], p.segments, body) != want:
		return errors.New("the checksum of a page does not agree")
	case o.started && (p.serial != before.serial || p.flags&oggFirst != 0):
		return errNextStream
	case (p.flags&oggContinued != 0) != (len(o.packet) > 0):
		return errors.New("a page is missing")
	}
	o.started = true
	return nil
}

// oggTable is of the polynomial of Ethernet, as in hash/crc32, but Ogg shifts
// the other way: its sums are those of bytes and sum with all bits turned round.
var oggTable = crc32.MakeTable(crc32.IEEE)

// oggSum returns the checksum of a page (RFC 3533, section 6): begun with 0 and
// not inverted.
func oggSum(parts ...[]byte) uint32 {
	sum := ^uint32(0) // crc32 inverts what it is given and what it returns
	var turned [256]byte
	for _, p := range parts {
		for len(p) > 0 {
			n := min(len(p), len(turned))
			for i, b := range p[:n] {
				turned[i] = bits.Reverse8(b)
			}
			sum = crc32.Update(sum, oggTable, turned[:n])
			p = p[n:]
		}
	}
	return bits.Reverse32(^sum)
}
