package interp

import (
	"syscall"
	"unsafe"

	"golang.org/x/sys/unix"
)

// waiting reports whether a pipe holds something. It is asked at every print:
// to tell the scheduler of a call that never waits, as unix.Poll does, would
// make printing a fifth slower.
func (c *capture) waiting() bool {
	fds := [2]unix.PollFd{{Fd: c.out.fd, Events: unix.POLLIN}, {Fd: c.err.fd, Events: unix.POLLIN}}
	n, _, e := syscall.RawSyscall(syscall.SYS_POLL, uintptr(unsafe.Pointer(&fds)), 2, 0)
	return e != 0 || n > 0
}
