//go:build !(linux && amd64)

package interp

import "golang.org/x/sys/unix"

// waiting reports whether a pipe holds something.
func (c *capture) waiting() bool {
	fds := [2]unix.PollFd{{Fd: c.out.fd, Events: unix.POLLIN}, {Fd: c.err.fd, Events: unix.POLLIN}}
	n, err := unix.Poll(fds[:], 0)
	return err != nil || n > 0
}
