//go:build linux

package main

import (
	"bufio"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

func TestEndOffspring(t *testing.T) {
	if list := offspring(os.Getpid()); len(list) > 0 {
		t.Fatalf("there are processes already: %v", list)
	}
	endOffspring(time.Hour) // nobody is there
	const script = `trap '' TERM
echo $$
sh -c 'echo $$; exec sleep 600' &
wait`
	c := exec.Command("sh", "-c", script)
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	var pids []int
	for lines := bufio.NewScanner(out); len(pids) < 2 && lines.Scan(); {
		pid, err := strconv.Atoi(strings.TrimSpace(lines.Text()))
		if err != nil {
			t.Fatal(err)
		}
		pids = append(pids, pid)
	}
	found := offspring(os.Getpid())
	for _, pid := range pids {
		if !slices.Contains(found, pid) {
			t.Errorf("process %d is not among %v", pid, found)
		}
	}
	endOffspring(20 * time.Millisecond)
	if err := c.Wait(); err == nil {
		t.Error("the script came to its own end")
	}
	if left := offspring(os.Getpid()); len(left) > 0 {
		t.Errorf("%v live on", left)
	}
}
