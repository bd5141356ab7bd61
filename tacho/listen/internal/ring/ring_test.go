package ring

import (
	"bytes"
	"errors"
	"io"
	"math/rand/v2"
	"testing"
)

// What is put in comes out, in order, however it is cut.
func TestOrder(t *testing.T) {
	r := New(64, 0)
	want := make([]byte, 5000)
	for i := range want {
		want[i] = byte(i * 7)
	}
	go func() {
		rng := rand.New(rand.NewPCG(1, 2))
		for rest := want; len(rest) > 0; {
			n := min(len(rest), 1+rng.IntN(150))
			if !r.PutAll(rest[:n]) {
				t.Error("PutAll reported a closed ring")
			}
			rest = rest[n:]
		}
		r.End(nil)
		r.End(errors.New("a second end"))
	}()
	got, err := io.ReadAll(r)
	if err != nil || !bytes.Equal(got, want) || r.Lost() != 0 {
		t.Errorf("%d bytes, equal %v, %v, %d lost", len(got), bytes.Equal(got, want), err, r.Lost())
	}
}

// What finds no room is lost, counted, and replaced by silence at its place.
func TestLostIsSilence(t *testing.T) {
	r := New(10, 128)
	r.Put([]byte("abcdefgh"))
	r.Put([]byte("ijkl")) // no room
	r.Put([]byte("mn"))   // there would be room, but not before what was lost
	if r.Lost() != 6 || r.Waiting() != 14 {
		t.Errorf("%d lost, %d waiting; want 6 and 14", r.Lost(), r.Waiting())
	}
	got := make([]byte, 14)
	if _, err := io.ReadFull(r, got); err != nil || string(got) != "abcdefgh\x80\x80\x80\x80\x80\x80" {
		t.Errorf("%q, %v", got, err)
	}
	r.Put([]byte("op"))
	r.End(io.ErrUnexpectedEOF)
	r.Put([]byte("qr")) // after the end
	rest, err := io.ReadAll(r)
	if string(rest) != "op" || err != io.ErrUnexpectedEOF {
		t.Errorf("%q, %v", rest, err)
	}
}

func TestCloseWakes(t *testing.T) {
	r := New(4, 0)
	done := make(chan error)
	go func() {
		_, err := r.Read(make([]byte, 1))
		done <- err
	}()
	r.Close()
	if err := <-done; err == nil {
		t.Error("Read of a closed ring gave no error")
	}
	if r.PutAll(make([]byte, 9)) {
		t.Error("PutAll into a closed ring reported success")
	}
	r.Put([]byte{1}) // must not matter
}
