package wire

import (
	"encoding/json"
	"fmt"
	"net"
	"os"
	"strconv"
)

// Connection is the content of a connection file: where a kernel listens and
// the key that signs its messages.
type Connection struct {
	// Transport is "tcp" or "ipc".
	Transport string `json:"transport"`
	// IP is the address to listen on; for ipc it is the common start of the
	// socket files' paths.
	IP string `json:"ip"`
	// Ports, one a socket; for ipc they only number the socket files.
	Shell   int `json:"shell_port"`
	Control int `json:"control_port"`
	Stdin   int `json:"stdin_port"`
	IOPub   int `json:"iopub_port"`
	HB      int `json:"hb_port"`
	// Key signs every message; empty means that messages are not signed.
	Key string `json:"key"`
	// SignatureScheme names the keyed hash, "hmac-sha256" if empty.
	SignatureScheme string `json:"signature_scheme"`
}

// ReadConnection reads and checks the connection file at path. An error says
// which field is wrong.
func ReadConnection(path string) (Connection, error) {
	var c Connection
	data, err := os.ReadFile(path)
	if err != nil {
		return c, fmt.Errorf("connection file: %w", err)
	}
	if err := json.Unmarshal(data, &c); err != nil {
		return c, fmt.Errorf("connection file %s is not the JSON that Jupyter writes: %w", path, err)
	}
	if err := c.check(); err != nil {
		return c, fmt.Errorf("connection file %s: %w", path, err)
	}
	return c, nil
}

func (c Connection) check() error {
	highest := 65535
	switch c.Transport {
	case "tcp":
	case "ipc":
		highest = 1<<31 - 1
		if c.IP == "" {
			return fmt.Errorf("transport ipc needs a path in field ip")
		}
	default:
		return fmt.Errorf("transport is %q, want tcp or ipc", c.Transport)
	}
	taken := map[int]string{}
	for _, p := range []struct {
		name string
		port int
	}{{"shell_port", c.Shell}, {"control_port", c.Control}, {"stdin_port", c.Stdin}, {"iopub_port", c.IOPub}, {"hb_port", c.HB}} {
		if p.port < 1 || p.port > highest {
			return fmt.Errorf("%s is %d, want 1 to %d", p.name, p.port, highest)
		}
		if other := taken[p.port]; other != "" {
			return fmt.Errorf("%s and %s are both %d", other, p.name, p.port)
		}
		taken[p.port] = p.name
	}
	_, err := NewSigner(c.SignatureScheme, c.Key)
	return err
}

// address returns the network and address, as package net wants them, of the
// socket with the given port.
func (c Connection) address(port int) (network, addr string) {
	if c.Transport == "ipc" {
		return "unix", c.IP + "-" + strconv.Itoa(port)
	}
	ip := c.IP
	if ip == "*" {
		ip = ""
	}
	return "tcp", net.JoinHostPort(ip, strconv.Itoa(port))
}
