package wire

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"net"
	"os"
	"testing"
	"time"

	"github.com/go-zeromq/zmq4"
)

// A subscriber that does not read must not hold up the others (go-zeromq/zmq4
// v0.17.0 writes to its subscribers one after the other and waits for each).
func TestStalledSubscriberStallsNobody(t *testing.T) {
	eachTransport(t, func(t *testing.T, network, addr string) {
		pub := open(t, zmq4.Pub, network, addr)
		stalled := rawDial(t, network, addr)
		stalled.introduce(t, "SUB")
		stalled.Write(appendFrame(nil, 0, []byte{1}))
		healthy := dial(t, zmq4.NewSub(bounded(t)), network, addr)
		healthy.SetOption(zmq4.OptionSubscribe, "")
		subscribed(t, pub, 2)

		const n, size = 400, 64 << 10 // 25 MB, far more than the system's buffers hold
		for i := range n {
			pub.Send([][]byte{numbered(i, size)})
		}
		for i := range n {
			m, err := healthy.Recv()
			if err != nil {
				t.Fatalf("message %d of %d: %v", i, n, err)
			}
			if want := numbered(i, size); !bytes.Equal(m.Frames[0], want) {
				t.Fatalf("message %d begins %q, want %q", i, m.Frames[0][:8], want[:8])
			}
		}
		// The stalled one loses nothing either, once it reads.
		for i := range n {
			if _, body, err := stalled.frame(); err != nil || !bytes.Equal(body, numbered(i, size)) {
				t.Fatalf("the late reader's message %d: %.8q, %v", i, body, err)
			}
		}
	})
}

func TestPeerThatNeverReadsIsCutOff(t *testing.T) {
	eachTransport(t, func(t *testing.T, network, addr string) {
		pub := open(t, zmq4.Pub, network, addr)
		pub.l.limit = 1 << 20
		stalled := rawDial(t, network, addr)
		stalled.introduce(t, "SUB")
		stalled.Write(appendFrame(nil, 0, []byte{1}))
		subscribed(t, pub, 1)
		for i := range 400 {
			pub.Send([][]byte{numbered(i, 64<<10)})
		}
		subscribed(t, pub, 0)
	})
}

// Peers that connect and say nothing, or stop half-way, must not keep out those
// that come later (the library shakes hands inside its accept loop).
func TestSilentPeersBlockNobody(t *testing.T) {
	eachTransport(t, func(t *testing.T, network, addr string) {
		go echo(open(t, zmq4.Router, network, addr))
		ready := readyFrame("DEALER", "")
		for _, said := range [][]byte{{}, greeting()[:10], greeting(), append(greeting(), ready[:5]...)} {
			for range 3 {
				rawDial(t, network, addr).Write(said)
			}
		}
		served(t, network, addr)
	})
}

// What a peer may send must never end the process. In the library each of these
// is a panic: an unknown socket type, properties cut short, a length beyond the
// address space.
func TestHostilePeersEndNothing(t *testing.T) {
	eachTransport(t, func(t *testing.T, network, addr string) {
		go echo(open(t, zmq4.Router, network, addr))
		command := func(body string) []byte { return append(greeting(), appendFrame(nil, flagCommand, []byte(body))...) }
		huge := func(flags byte, size uint64) []byte {
			return binary.BigEndian.AppendUint64([]byte{flags | flagLong}, size)
		}
		hello := append(greeting(), readyFrame("DEALER", "")...)
		for name, said := range map[string][]byte{
			"unknown socket type":   append(greeting(), readyFrame("STREAM", "")...),
			"incompatible type":     append(greeting(), readyFrame("SUB", "")...),
			"no socket type":        command(readyName),
			"property cut short":    command(readyName + "\x0bSocket-Type\x00\x00"),
			"name beyond the end":   command(readyName + "\x20Socket"),
			"value beyond the end":  command(readyName + "\x0bSocket-Type\xff\xff\xff\xffDEALER"),
			"other command":         command("\x05HELLO"),
			"message before READY":  append(greeting(), appendFrame(nil, 0, []byte("x"))...),
			"READY of 1 GB":         append(greeting(), huge(flagCommand, 1<<30)...),
			"frame of 8 EB":         append(hello, huge(0, 1<<63-1)...),
			"frame of 16 EB":        append(hello, huge(flagMore, 1<<64-1)...),
			"reserved flags":        append(hello, 0xf8, 0),
			"command after READY":   append(hello, appendFrame(nil, flagCommand, []byte("\x05ERROR\x00"))...),
			"empty command":         append(hello, appendFrame(nil, flagCommand, nil)...),
			"PING without its time": append(hello, appendFrame(nil, flagCommand, []byte("\x04PING"))...),
			"not ZMTP":              []byte("GET / HTTP/1.1\r\nHost: localhost\r\n\r\n" + string(make([]byte, 64))),
			"old ZMTP":              append([]byte("\xff\x00\x00\x00\x00\x00\x00\x00\x01\x7f\x01"), make([]byte, 53)...),
			"curve":                 bytes.Replace(greeting(), []byte("NULL\x00"), []byte("CURVE"), 1),
		} {
			p := rawDial(t, network, addr)
			p.Write(said)
			if err := p.Conn.(interface{ CloseWrite() error }).CloseWrite(); err != nil {
				t.Fatal(name, err)
			}
			for { // until the kernel has done with it
				if _, err := p.in.ReadByte(); err != nil {
					break
				}
			}
		}
		served(t, network, addr)
	})
}

func TestPingIsAnswered(t *testing.T) {
	addr := freeTCP(t)
	open(t, zmq4.Router, "tcp", addr)
	p := rawDial(t, "tcp", addr)
	p.introduce(t, "DEALER")
	p.Write(appendFrame(nil, flagCommand, []byte("\x04PING\x00\x0acontext")))
	flags, body, err := p.frame()
	if err != nil || flags != flagCommand || string(body) != "\x04PONGcontext" {
		t.Errorf("PING was answered by %d %q, %v", flags, body, err)
	}
}

// Close must not lose what was sent just before (the library drops it).
func TestCloseLosesNothing(t *testing.T) {
	eachTransport(t, func(t *testing.T, network, addr string) {
		pub := open(t, zmq4.Pub, network, addr)
		sub := dial(t, zmq4.NewSub(bounded(t)), network, addr)
		sub.SetOption(zmq4.OptionSubscribe, "")
		subscribed(t, pub, 1)
		const n, size = 2000, 2000
		for i := range n {
			pub.Send([][]byte{[]byte("topic"), numbered(i, size)})
		}
		closed := make(chan error)
		go func() { closed <- pub.close(time.Now().Add(patience)) }()
		for i := range n {
			m, err := sub.Recv()
			if err != nil {
				t.Fatalf("message %d of %d: %v", i, n, err)
			}
			if !bytes.Equal(m.Frames[1], numbered(i, size)) {
				t.Fatalf("message %d begins %q", i, m.Frames[1][:8])
			}
		}
		if err := <-closed; err != nil {
			t.Error(err)
		}
	})
}

func TestClientsThatComeAndGoLeaveNothing(t *testing.T) {
	eachTransport(t, func(t *testing.T, network, addr string) {
		router := open(t, zmq4.Router, network, addr)
		go echo(router)
		for i := range 50 {
			p := rawDial(t, network, addr)
			p.introduce(t, "DEALER")
			p.Write(appendFrame(nil, 0, numbered(i, 8)))
			if i%2 == 0 { // half of them leave in the middle of a frame
				p.Write([]byte{flagLong, 0, 0, 0, 0, 0, 0, 1, 0, 'x'})
			}
			p.Close()
		}
		served(t, network, addr)
		for end := time.Now().Add(patience); ; time.Sleep(time.Millisecond) {
			router.l.mu.Lock()
			n := len(router.l.peers)
			router.l.mu.Unlock()
			if n <= 1 { // the healthy client
				return
			}
			if time.Now().After(end) {
				t.Fatalf("%d peers are still remembered", n)
			}
		}
	})
}

// A client that executes without waiting must not miss the first messages only
// because its subscription is read a moment later than its request.
func TestSettleWaitsForSubscriptionsOnTheirWay(t *testing.T) {
	addr := freeTCP(t)
	pub := open(t, zmq4.Pub, "tcp", addr)
	pub.Settle(time.Millisecond) // nobody there: returns all the same
	p := rawDial(t, "tcp", addr)
	p.introduce(t, "SUB")
	go func() {
		time.Sleep(5 * time.Millisecond)
		p.Write(appendFrame(nil, 0, []byte{1}))
	}()
	pub.Settle(patience)
	pub.Send([][]byte{[]byte("first")})
	if _, body, err := p.frame(); err != nil || string(body) != "first" {
		t.Errorf("the first message is %q, %v", body, err)
	}
}

func TestSocketFiles(t *testing.T) {
	path := t.TempDir() + "/kernel-1"
	s, err := listen(zmq4.Router, "unix", path, discard)
	if err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("socket file: %v, %v; want mode 0600", info.Mode(), err)
	}
	if _, err := listen(zmq4.Router, "unix", path, discard); err == nil {
		t.Error("a socket in use was taken over")
	}
	if err := s.close(time.Now()); err != nil {
		t.Error(err)
	}
	if _, err := os.Stat(path); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the socket file stays after close: %v", err)
	}

	// A kernel that was killed leaves its file; the next one takes its place.
	l, err := net.Listen("unix", path)
	if err != nil {
		t.Fatal(err)
	}
	l.(*net.UnixListener).SetUnlinkOnClose(false)
	l.Close()
	go echo(open(t, zmq4.Router, "unix", path))
	served(t, "unix", path)
}

func TestBind(t *testing.T) {
	dir := t.TempDir()
	c := Connection{Transport: "ipc", IP: dir + "/k", Shell: 1, Control: 2, Stdin: 3, IOPub: 4, HB: 5, Key: "k"}
	p, err := Bind(c, discard)
	if err != nil {
		t.Fatal(err)
	}
	served(t, "unix", dir+"/k-5") // the heartbeat echoes
	if err := p.Close(); err != nil {
		t.Error(err)
	}
	if left, _ := os.ReadDir(dir); len(left) > 0 {
		t.Errorf("files left behind: %v", left)
	}

	c.IP = dir + "/no/such/directory"
	if _, err := Bind(c, discard); err == nil {
		t.Error("Bind into a missing directory succeeded")
	}
}

func TestReadConnection(t *testing.T) {
	const good = `{"transport":"tcp","ip":"127.0.0.1","shell_port":1,"iopub_port":2,"stdin_port":3,"control_port":4,"hb_port":5,"key":"k","signature_scheme":"hmac-sha256","kernel_name":"rotorhum"}`
	path := t.TempDir() + "/connection.json"
	write := func(s string) {
		if err := os.WriteFile(path, []byte(s), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write(good)
	c, err := ReadConnection(path)
	want := Connection{Transport: "tcp", IP: "127.0.0.1", Shell: 1, IOPub: 2, Stdin: 3, Control: 4, HB: 5, Key: "k", SignatureScheme: "hmac-sha256"}
	if err != nil || c != want {
		t.Errorf("ReadConnection = %+v, %v", c, err)
	}
	for _, bad := range []struct{ old, new, says string }{
		{`"tcp"`, `"udp"`, "transport"},
		{`"shell_port":1`, `"shell_port":0`, "shell_port"},
		{`"shell_port":1`, `"shell_port":70000`, "shell_port"},
		{`"hb_port":5`, `"hb_port":2`, "iopub_port and hb_port"},
		{`hmac-sha256`, `hmac-md5`, "signature_scheme"},
		{`}`, ``, "JSON"},
	} {
		write(string(bytes.Replace([]byte(good), []byte(bad.old), []byte(bad.new), 1)))
		if _, err := ReadConnection(path); err == nil || !bytes.Contains([]byte(err.Error()), []byte(bad.says)) {
			t.Errorf("%s for %s: error %v, want one about %s", bad.new, bad.old, err, bad.says)
		}
	}
	if _, err := ReadConnection(path + "x"); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("missing file: %v", err)
	}
}

func TestAddress(t *testing.T) {
	for _, row := range []struct{ transport, ip, want string }{
		{"tcp", "10.0.0.7", "tcp 10.0.0.7:9"},
		{"tcp", "*", "tcp :9"},
		{"tcp", "::1", "tcp [::1]:9"},
		{"ipc", "/run/k", "unix /run/k-9"},
	} {
		network, addr := Connection{Transport: row.transport, IP: row.ip}.address(9)
		if got := fmt.Sprint(network, " ", addr); got != row.want {
			t.Errorf("%s %s: %s, want %s", row.transport, row.ip, got, row.want)
		}
	}
}
