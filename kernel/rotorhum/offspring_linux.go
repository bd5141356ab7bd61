package main

import (
	"errors"
	"os"
	"strconv"
	"strings"
	"syscall"
	"time"

	"golang.org/x/sys/unix"
)

// endOffspring ends the processes that the cells have started and that still run,
// and those that these have started: by SIGTERM, and by SIGKILL what is still there
// after patience. What has made itself independent, with a session of its own and
// another parent, is left alone.
func endOffspring(patience time.Duration) {
	if err := unix.Waitid(unix.P_ALL, 0, nil, unix.WEXITED|unix.WNOHANG|unix.WNOWAIT, nil); errors.Is(err, unix.ECHILD) {
		return
	}
	end := time.Now().Add(patience)
	signal := syscall.SIGTERM
	for told := map[int]syscall.Signal{}; ; time.Sleep(2 * time.Millisecond) {
		pids := offspring(os.Getpid())
		if len(pids) == 0 {
			return
		}
		if time.Now().After(end) {
			if signal == syscall.SIGKILL {
				return // such as one that waits for a disk: the system's affair
			}
			signal, end = syscall.SIGKILL, time.Now().Add(patience)
		}
		for _, pid := range pids {
			if told[pid] != signal {
				told[pid] = signal
				syscall.Kill(pid, signal)
			}
		}
	}
}

// offspring lists the living descendants of a process.
func offspring(ancestor int) (pids []int) {
	list, err := os.ReadDir("/proc")
	if err != nil {
		return nil
	}
	children := map[int][]int{}
	dead := map[int]bool{}
	for _, d := range list {
		pid, err := strconv.Atoi(d.Name())
		if err != nil {
			continue
		}
		stat, err := os.ReadFile("/proc/" + d.Name() + "/stat")
		if err != nil {
			continue // it has ended
		}
		// pid (name) state parent …, and the name may hold brackets and blanks
		fields := strings.Fields(string(stat[strings.LastIndexByte(string(stat), ')')+1:]))
		if len(fields) < 2 {
			continue
		}
		parent, _ := strconv.Atoi(fields[1])
		children[parent] = append(children[parent], pid)
		dead[pid] = fields[0] == "Z" || fields[0] == "X"
	}
	for queue := children[ancestor]; len(queue) > 0; queue = queue[1:] {
		if !dead[queue[0]] {
			pids = append(pids, queue[0])
		}
		queue = append(queue, children[queue[0]]...)
	}
	return pids
}
