package wire

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/go-zeromq/zmq4"
)

// BenchmarkEcho compares a request and its reply through the guard with the
// same through the library alone.
func BenchmarkEcho(b *testing.B) {
	for _, row := range []struct {
		name   string
		listen func(addr string) (recv func() ([][]byte, error), send func([][]byte) error, end func())
	}{
		{"guarded", func(addr string) (func() ([][]byte, error), func([][]byte) error, func()) {
			s, err := listen(zmq4.Router, "tcp", addr, discard)
			if err != nil {
				b.Fatal(err)
			}
			return s.Recv, s.Send, func() { s.close(time.Now()) }
		}},
		{"plain", func(addr string) (func() ([][]byte, error), func([][]byte) error, func()) {
			s := zmq4.NewRouter(context.Background())
			if err := s.Listen("tcp://" + addr); err != nil {
				b.Fatal(err)
			}
			recv := func() ([][]byte, error) { m, err := s.Recv(); return m.Frames, err }
			return recv, func(f [][]byte) error { return s.SendMulti(zmq4.NewMsgFrom(f...)) }, func() { s.Close() }
		}},
	} {
		b.Run(row.name, func(b *testing.B) {
			addr := freeTCP(b)
			recv, send, end := row.listen(addr)
			defer end()
			go func() {
				for {
					m, err := recv()
					if err != nil {
						return
					}
					send(m)
				}
			}()
			c := zmq4.NewDealer(context.Background())
			if err := c.Dial("tcp://" + addr); err != nil {
				b.Fatal(err)
			}
			defer c.Close()
			m := zmq4.NewMsgFrom(request(b, signer(b, "k"))[2:]...)
			for b.Loop() {
				if err := c.SendMulti(m); err != nil {
					b.Fatal(err)
				}
				if _, err := c.Recv(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkBigMessage encodes, signs and decodes a display of 5 MB.
func BenchmarkBigMessage(b *testing.B) {
	s := signer(b, "k")
	data := map[string]any{"data": map[string]any{"text/plain": strings.Repeat("x", 5_000_000)}}
	b.SetBytes(5_000_000)
	for b.Loop() {
		m, err := New("session", "display_data", nil, data, nil)
		if err != nil {
			b.Fatal(err)
		}
		Encode(m, s)
	}
}
