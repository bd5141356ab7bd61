#!/usr/bin/python3
"""The installed kernel, from outside, with Jupyter's own client.

    rotorhum install
    /usr/bin/python3 -m unittest discover -s kernel/kerneltest -p '*_test.py'

Needs Debian's python3-jupyter-client and python3-jupyter-kernel-test. Nothing
here asserts a duration: the waits only bound what would never come.
"""
import contextlib
import glob
import os
import queue
import signal
import socket
import subprocess
import sys
import tempfile
import time
import unittest

import jupyter_kernel_test
from jupyter_client import BlockingKernelClient
from jupyter_client.manager import KernelManager

KERNEL = "rotorhum"
PATIENCE = 30  # seconds


def start(case, transport, scratch, **env):
    """A kernel and a ready client; what the kernel remembers goes to scratch."""
    case.km = KernelManager(kernel_name=KERNEL, transport=transport)
    if transport == "ipc":
        case.km.ip = os.path.join(scratch, "ipc")
    case.km.start_kernel(env=dict(os.environ, XDG_DATA_HOME=scratch, **env))
    case.kc = connect(case.km)


def connect(km):
    """A client with a session of its own: those that the manager makes share
    theirs, and with it the numbers of their messages."""
    kc = BlockingKernelClient(connection_file=km.connection_file)
    kc.load_connection_file()
    kc.start_channels()
    kc.wait_for_ready(timeout=PATIENCE)
    return kc


def signal_pending(pid, number):
    """Whether a signal waits for the process (proc(5), ShdPnd); never where there is no /proc."""
    try:
        with open("/proc/%d/status" % pid) as status:
            pending = [line for line in status if line.startswith("ShdPnd:")]
    except OSError:
        return False
    return bool(pending and int(pending[0].split()[1], 16) >> (number - 1) & 1)


def until_gone(pid):
    """Waits for the end of a process that is not our child."""
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        with contextlib.suppress(FileNotFoundError):
            with open("/proc/%d/stat" % pid) as f:
                if f.read().rsplit(")", 1)[1].split()[0] != "Z":
                    time.sleep(0.02)
                    continue
        return
    raise AssertionError("process %d lives on" % pid)


def in_group(leader):
    """The processes that run in the process group of a kernel."""
    found = []
    for path in glob.glob("/proc/[0-9]*/stat"):
        with contextlib.suppress(OSError):
            with open(path) as f:
                state, _, group = f.read().rsplit(")", 1)[1].split()[:3]
            if state != "Z" and int(group) == leader:
                found.append(path)
    return found


class Suite:
    """jupyter_kernel_test with a sample in every slot."""

    kernel_name = KERNEL
    transport = ""
    language_name = "go"
    file_extension = ".go"
    code_hello_world = 'import "fmt"\nfmt.Println("hello, world")'
    code_stderr = 'import ("fmt"; "os")\nfmt.Fprintln(os.Stderr, "oops")'
    completion_samples = [
        {"text": "strings.TrimS", "matches": {"TrimSpace", "TrimSuffix"}},
        {"text": "math.Sqrt2", "matches": {"Sqrt2"}},
        {"text": "nosuchpackage.A", "matches": set()},
    ]
    complete_code_samples = ["x := 1", "for i := 0; i < 3; i++ {\n}", 'fmt.Println("a")', "", "// done"]
    incomplete_code_samples = ["for i := 0; i < 3; i++ {", "fmt.Println(", "x := []int{1,", "s := `abc", "/* open"]
    invalid_code_samples = ["x := )", 'for }', "func 5() {}"]
    code_page_something = 'page("a long text")'
    code_generate_error = 'panic("boom")'
    code_execute_result = [
        {"code": "6 * 7", "result": "42"},
        {"code": '"a" + "b"', "result": "ab"},
        {"code": "1 << 10", "result": "1024"},
    ]
    code_display_data = [
        {"code": 'display("some text")', "mime": "text/plain"},
        {"code": 'display(show.HTML("<b>bold</b>"))', "mime": "text/html"},
        {"code": 'display(show.Markdown("*so*"))', "mime": "text/markdown"},
        {"code": 'display(show.LaTeX("$f = z f_r$"))', "mime": "text/latex"},
        {"code": 'display(show.SVG("<svg xmlns=\'http://www.w3.org/2000/svg\'/>", "nothing"))', "mime": "image/svg+xml"},
        {"code": 'display(must(show.JSON(map[string]int{"z": 5})))', "mime": "application/json"},
        {"code": 'display(image.NewRGBA(image.Rect(0, 0, 3, 2)))', "mime": "image/png"},
    ]
    code_history_pattern = "6 [*] 7"
    supported_history_operations = ("tail", "range", "search")
    code_inspect_sample = "math.Sqrt"
    code_clear_output = "clearOutput(false)"

    @classmethod
    def setUpClass(cls):
        cls.scratch = tempfile.TemporaryDirectory()
        start(cls, cls.transport, cls.scratch.name)
        for code in ('import ("fmt"; "image"; "math"; "os"; "rotorhum/kernel/show"; "strings")',):
            cls.kc.execute_interactive(code, timeout=PATIENCE)

    @classmethod
    def tearDownClass(cls):
        cls.kc.stop_channels()
        cls.km.shutdown_kernel()
        cls.scratch.cleanup()


class TCP(Suite, jupyter_kernel_test.KernelTests):
    transport = "tcp"


class IPC(Suite, jupyter_kernel_test.KernelTests):
    transport = "ipc"


class Life:
    """What no suite asks: how a kernel lives with several front ends and ends."""

    transport = ""

    def setUp(self):
        scratch = tempfile.TemporaryDirectory()
        self.addCleanup(scratch.cleanup)
        self.scratch = scratch.name
        start(self, self.transport, self.scratch)
        self.addCleanup(self.end)
        self.addCleanup(self.kc.stop_channels)
        self.run_cell('import ("fmt"; "time")\nkept := 41')

    def end(self):
        if self.km.has_kernel:
            self.km.shutdown_kernel(now=True)

    def reply(self, msg_id, kc=None):
        kc = kc or self.kc
        while True:
            m = kc.get_shell_msg(timeout=PATIENCE)
            if m["parent_header"].get("msg_id") == msg_id:
                return m["content"]

    def outputs(self, msg_id, kc=None):
        """All that was published for a request, up to idle."""
        kc = kc or self.kc
        got = []
        while True:
            m = kc.get_iopub_msg(timeout=PATIENCE)
            if m["parent_header"].get("msg_id") != msg_id:
                continue
            if m["msg_type"] == "status" and m["content"]["execution_state"] == "idle":
                return got
            got.append(m)

    def run_cell(self, code, kc=None, **kw):
        kc = kc or self.kc
        msg_id = kc.execute(code, **kw)
        return self.reply(msg_id, kc), self.outputs(msg_id, kc)

    def text(self, outputs, name="stdout"):
        return "".join(m["content"]["text"] for m in outputs if m["msg_type"] == "stream" and m["content"]["name"] == name)

    def busy(self, code):
        """Starts a cell and returns once it runs."""
        msg_id = self.kc.execute('fmt.Println("begun")\n' + code)
        while True:
            m = self.kc.get_iopub_msg(timeout=PATIENCE)
            if m["msg_type"] == "stream" and m["parent_header"]["msg_id"] == msg_id:
                return msg_id

    def ipc_files(self):
        return glob.glob(os.path.join(self.scratch, "ipc-*"))

    def test_interrupts_keep_the_state(self):
        for code in ("for {\n}", "time.Sleep(time.Hour)", 'for { fmt.Println("spam") }'):
            for how in ("message", "signal"):
                with self.subTest(code=code, how=how):
                    msg_id = self.busy(code)
                    behind = self.kc.execute("kept = 0")
                    if how == "message":
                        self.km.interrupt_kernel()
                    else:
                        os.kill(self.km.provisioner.pid, signal.SIGINT)
                    self.assertEqual(self.reply(msg_id)["ename"], "Interrupted")
                    self.assertEqual(self.reply(behind)["status"], "aborted")
                    self.outputs(behind)
                    _, out = self.run_cell("fmt.Print(kept + 1)")
                    self.assertEqual(self.text(out), "42")

    def test_a_signal_while_idle_ends_nothing(self):
        pid = self.km.provisioner.pid
        for _ in range(3):
            os.kill(pid, signal.SIGINT)
        # a signal and a message come by different ways: while the one is still on
        # its way the kernel is not idle any more when it arrives
        deadline = time.monotonic() + PATIENCE
        while signal_pending(pid, signal.SIGINT) and time.monotonic() < deadline:
            time.sleep(0.001)
        for _ in range(10):
            self.kc.kernel_info(reply=True, timeout=PATIENCE)
        self.assertEqual(self.run_cell("kept = 1")[0]["status"], "ok")

    def test_input(self):
        msg_id = self.kc.execute('fmt.Println("hello " + must(input("name? ")))', allow_stdin=True)
        m = self.kc.get_stdin_msg(timeout=PATIENCE)
        self.assertEqual((m["msg_type"], m["content"]["prompt"]), ("input_request", "name? "))
        self.kc.input("ada")
        self.assertEqual(self.reply(msg_id)["status"], "ok")
        self.assertEqual(self.text(self.outputs(msg_id)), "hello ada\n")
        reply, _ = self.run_cell('input("name? ")', allow_stdin=False)
        self.assertEqual(reply["status"], "error")

    def test_two_front_ends(self):
        second = connect(self.km)
        try:
            mine = [self.kc.execute('fmt.Print("one %d")' % i) for i in range(20)]
            theirs = [second.execute('fmt.Print("two %d")' % i) for i in range(20)]
            for i, msg_id in enumerate(mine):
                self.assertEqual(self.reply(msg_id)["status"], "ok")
                self.assertEqual(self.text(self.outputs(msg_id)), "one %d" % i)
            for i, msg_id in enumerate(theirs):
                self.assertEqual(self.reply(msg_id, second)["status"], "ok")
                self.assertEqual(self.text(self.outputs(msg_id, second)), "two %d" % i)
        finally:
            second.stop_channels()
        # one front end leaves, the other goes on, and the first may come back
        self.assertEqual(self.run_cell("kept = 2")[0]["status"], "ok")
        again = connect(self.km)
        try:
            self.assertEqual(self.text(self.run_cell("fmt.Print(kept)", again)[1]), "2")
        finally:
            again.stop_channels()

    def test_strangers_hold_up_nobody(self):
        info = self.km.get_connection_info()
        for port in ("shell_port", "iopub_port", "control_port", "stdin_port", "hb_port"):
            for said in (b"", b"\xff\0\0\0\0\0\0\0\1\x7f", b"GET / HTTP/1.1\r\n\r\n" + bytes(64)):
                if self.transport == "tcp":
                    s = socket.create_connection((info["ip"], info[port]))
                else:
                    s = socket.socket(socket.AF_UNIX)
                    s.connect("%s-%d" % (info["ip"], info[port]))
                self.addCleanup(s.close)
                s.sendall(said)
        second = connect(self.km)
        try:
            self.assertEqual(self.run_cell("kept = 3", second)[0]["status"], "ok")
        finally:
            second.stop_channels()

    def test_ten_thousand_lines_in_order(self):
        reply, out = self.run_cell("for i := 0; i < 10000; i++ { fmt.Println(i) }")
        self.assertEqual(reply["status"], "ok")
        self.assertEqual(self.text(out), "".join("%d\n" % i for i in range(10000)))

    def test_restart_forgets_and_history_does_not(self):
        self.run_cell("kept = 77")
        pid = self.km.provisioner.pid
        self.kc.stop_channels()
        self.km.restart_kernel()
        self.kc = connect(self.km)
        self.addCleanup(self.kc.stop_channels)
        self.assertNotEqual(self.km.provisioner.pid, pid)
        reply, _ = self.run_cell("kept")
        self.assertEqual((reply["status"], reply["execution_count"]), ("error", 1))
        msg_id = self.kc.history(hist_access_type="range", session=-1, start=2, stop=3)
        self.assertEqual([h[1:] for h in self.reply(msg_id)["history"]], [[2, "kept = 77"]])

    def test_shutdown_ends_the_process(self):
        for code in ("", "for {\n}", "time.Sleep(time.Hour)", 'for { fmt.Println("spam") }'):
            with self.subTest(code=code):
                if not self.km.has_kernel:
                    start(self, self.transport, self.scratch)
                    self.run_cell('import ("fmt"; "time")')
                process = self.km.provisioner.process
                if code:
                    self.busy(code)
                self.km.request_shutdown()
                self.assertEqual(process.wait(PATIENCE), 0)
                self.assertEqual(self.ipc_files(), [])
                self.kc.stop_channels()
                self.km.finish_shutdown()
                self.km.cleanup_resources()

    def test_shutdown_ends_what_cells_have_started(self):
        reply, out = self.run_cell(
            'import "os/exec"\n'
            'for _, script := range []string{"exec sleep 600", "trap \'\' TERM; echo; sleep 600", "sleep 600 & wait"} {\n'
            '\tc := exec.Command("sh", "-c", script)\n'
            '\tmust(0, c.Start())\n'
            '\tfmt.Print(c.Process.Pid, " ")\n}')
        self.assertEqual(reply["status"], "ok", reply)
        pids = [int(pid) for pid in self.text(out).split()]
        self.assertEqual(len(pids), 3)
        process = self.km.provisioner.process
        self.km.request_shutdown()
        self.assertEqual(process.wait(PATIENCE), 0)
        for pid in pids:
            until_gone(pid)
        self.assertEqual(in_group(process.pid), [])

    def test_a_killed_kernel_leaves_nothing(self):
        process = self.km.provisioner.process
        process.kill()
        process.wait(PATIENCE)
        self.kc.stop_channels()
        self.km.restart_kernel(now=True)  # on the same ports, or over the files left behind
        self.kc = connect(self.km)
        self.addCleanup(self.kc.stop_channels)
        self.assertEqual(self.run_cell("kept := 5")[0]["status"], "ok")
        self.km.shutdown_kernel()
        self.assertEqual(self.ipc_files(), [])
        for pid in (process.pid, self.km.provisioner.pid):
            self.assertEqual(in_group(pid) if pid else [], [])

    def test_no_go_is_needed(self):
        home = os.path.join(self.scratch, "home")
        os.mkdir(home)
        bare = {"PATH": "/nowhere", "HOME": home, "XDG_DATA_HOME": os.path.join(self.scratch, "data"), "GOFLAGS": "-mod=nonsense"}
        km = KernelManager(kernel_name=KERNEL)
        km.start_kernel(env=bare)
        self.addCleanup(km.shutdown_kernel, now=True)
        kc = connect(km)
        self.addCleanup(kc.stop_channels)
        reply, out = self.run_cell(
            'import ("fmt"; "os/exec"; "gonum.org/v1/gonum/stat"; "gonum.org/v1/plot"; "rotorhum/tacho")\n'
            'x := must(exec.LookPath("go"))', kc)
        self.assertEqual(reply["ename"], "Error", reply)
        reply, out = self.run_cell(
            'import ("fmt"; "gonum.org/v1/gonum/stat"; "gonum.org/v1/plot"; "rotorhum/tacho")\n'
            'p := plot.New()\nfmt.Print(stat.Mean([]float64{1, 3}, nil), " ", tacho.Rotor{Pulses: 5}.Pulses, " ", p.X.Padding > 0)', kc)
        self.assertEqual((reply["status"], self.text(out)), ("ok", "2 5 true"), reply)
        self.assertEqual(os.listdir(home), [])

    def test_the_kernel_ends_with_its_parent(self):
        program = (
            "import sys\nfrom jupyter_client.manager import KernelManager\n"
            "km = KernelManager(kernel_name=%r, transport=%r)\n"
            "if km.transport == 'ipc': km.ip = %r\n"
            "km.start_kernel()\nkc = km.client(); kc.start_channels(); kc.wait_for_ready(timeout=%d)\n"
            "kc.execute('for {\\n}')\n"
            "print(km.provisioner.pid, flush=True)\nsys.stdin.read()\n"
            % (KERNEL, self.transport, os.path.join(self.scratch, "other"), PATIENCE))
        parent = subprocess.Popen([sys.executable, "-c", program], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        pid = int(parent.stdout.readline())
        parent.kill()
        parent.wait()
        parent.stdin.close()
        parent.stdout.close()
        until_gone(pid)
        self.assertEqual(glob.glob(os.path.join(self.scratch, "other-*")), [])


class LifeTCP(Life, unittest.TestCase):
    transport = "tcp"


class LifeIPC(Life, unittest.TestCase):
    transport = "ipc"


if __name__ == "__main__":
    unittest.main()
