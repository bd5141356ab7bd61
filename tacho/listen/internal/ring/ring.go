// Package ring holds sound between those who deliver it and those who fetch it.
package ring

import (
	"io"
	"sync"
)

// A Ring holds bytes of sound, in whole frames where frames matter. One goroutine
// puts them in while another takes them out.
//
// What a device delivers while the ring is full is lost. It is counted, and
// silence of the same length is taken out in its place, so that times stay true.
type Ring struct {
	mu    sync.Mutex
	more  sync.Cond // something was put in or the end was marked
	room  sync.Cond // something was taken out or the ring was closed
	buf   []byte
	first int // of the bytes in buf
	n     int // of them
	lost  int64
	gap   int64 // bytes of silence to follow those in buf
	end   error // follows everything; nil while more may come
	shut  bool  // nobody takes out any more
	fill  byte
}

// New returns a ring for size bytes, in which the byte fill is silence.
func New(size int, fill byte) *Ring {
	r := &Ring{buf: make([]byte, size), fill: fill}
	r.more.L, r.room.L = &r.mu, &r.mu
	return r
}

// Put takes p over, or loses all of it if there is no room. It never waits.
func (r *Ring) Put(p []byte) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.end != nil || r.shut {
		return
	}
	// Sound after a gap has to wait until those before it are taken out: to keep
	// one gap at a time is enough, and sound inside it is lost as well.
	if r.gap > 0 || r.n+len(p) > len(r.buf) {
		r.lost += int64(len(p))
		r.gap += int64(len(p))
	} else {
		r.add(p)
	}
	r.more.Signal()
}

// PutAll takes p over, waiting for room where there is none. It reports false
// if the ring was closed instead.
func (r *Ring) PutAll(p []byte) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	for len(p) > 0 {
		for r.n == len(r.buf) && !r.shut {
			r.room.Wait()
		}
		if r.shut || r.end != nil {
			return false
		}
		n := min(len(p), len(r.buf)-r.n)
		r.add(p[:n])
		p = p[n:]
		r.more.Signal()
	}
	return true
}

// add copies p, for which there is room, behind what is there.
func (r *Ring) add(p []byte) {
	at := (r.first + r.n) % len(r.buf)
	k := copy(r.buf[at:], p)
	copy(r.buf, p[k:])
	r.n += len(p)
}

// End marks the end of the sound: err is what Read returns after everything
// before it. A second end counts for nothing.
func (r *Ring) End(err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.end == nil {
		if err == nil {
			err = io.EOF
		}
		r.end = err
	}
	r.more.Signal()
}

// Read takes out what there is, up to len(p) bytes, waiting for something.
func (r *Ring) Read(p []byte) (int, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for r.n == 0 && r.gap == 0 && r.end == nil && !r.shut {
		r.more.Wait()
	}
	switch {
	case r.shut:
		return 0, io.ErrClosedPipe
	case r.n > 0:
		n := copy(p, r.buf[r.first:min(r.first+r.n, len(r.buf))])
		r.first = (r.first + n) % len(r.buf)
		r.n -= n
		r.room.Signal()
		return n, nil
	case r.gap > 0:
		n := int(min(r.gap, int64(len(p))))
		for i := range p[:n] {
			p[i] = r.fill
		}
		r.gap -= int64(n)
		return n, nil
	}
	return 0, r.end
}

// Close wakes who waits: nobody takes out any more.
func (r *Ring) Close() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.shut = true
	r.more.Broadcast()
	r.room.Broadcast()
}

// Lost returns how many bytes were lost so far.
func (r *Ring) Lost() int64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.lost
}

// Waiting returns how many bytes wait to be taken out.
func (r *Ring) Waiting() int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.n + int(r.gap)
}
