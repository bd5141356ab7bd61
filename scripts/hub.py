"""Two people at one JupyterHub; started by hub.sh.

usage: hub.py SCRATCH

Needs the kernel installed under SCRATCH/prefix. Starts a hub whose files and
homes lie in SCRATCH (hub_config.py). Both people log in, start their servers and
the kernel at the same time, and work side by side: cells, names of their own, an
interrupt, a history that only they have. Then both stop, and nothing of theirs
may go on running. Nothing here asserts a duration; what does not come within
five minutes fails.
"""
import asyncio
import glob
import json
import os
import secrets
import socket
import subprocess
import sys
import uuid
from datetime import datetime, timezone
from urllib.parse import urlencode

from tornado.httpclient import AsyncHTTPClient, HTTPClientError, HTTPRequest
from tornado.websocket import websocket_connect

PATIENCE = 300  # seconds


async def until(what, condition):
    """Waits until condition is true."""
    for _ in range(PATIENCE * 5):
        if await condition():
            return
        await asyncio.sleep(0.2)
    raise AssertionError("did not come: " + what)


class Person:
    """Somebody with an account, and the kernel they work with."""

    def __init__(self, base, name):
        self.base, self.name, self.token = base, name, ""

    async def ask(self, method, path, body=None):
        """A request to the hub or to the person's server; returns what it answers."""
        request = HTTPRequest(
            self.base + path, method=method, request_timeout=PATIENCE, allow_nonstandard_methods=True,
            headers={"Authorization": "token " + self.token} if self.token else {},
            body=None if body is None else json.dumps(body))
        answer = (await AsyncHTTPClient().fetch(request)).body
        return json.loads(answer) if answer else None

    async def log_in(self, password):
        form = urlencode({"username": self.name, "password": password})
        seen = await AsyncHTTPClient().fetch(
            self.base + "/hub/login", method="POST", body=form, follow_redirects=False, raise_error=False)
        assert seen.code == 302, f"{self.name} cannot log in: {seen.code}"
        reply = await self.ask("POST", f"/hub/api/users/{self.name}/tokens",
                               {"auth": {"username": self.name, "password": password}})
        self.token = reply["token"]

    async def start(self):
        await self.ask("POST", f"/hub/api/users/{self.name}/server")

        async def ready():
            return (await self.ask("GET", f"/hub/api/users/{self.name}"))["servers"].get("", {}).get("ready")
        await until(f"the server of {self.name}", ready)
        kinds = (await self.ask("GET", f"/user/{self.name}/api/kernelspecs"))["kernelspecs"]
        assert kinds["rotorhum"]["spec"]["display_name"] == "Rotorhum (Go)", kinds
        kernel = await self.ask("POST", f"/user/{self.name}/api/kernels", {"name": "rotorhum"})
        self.kernel = f"/user/{self.name}/api/kernels/{kernel['id']}"
        self.socket = await websocket_connect(HTTPRequest(
            self.base.replace("http", "ws", 1) + self.kernel + "/channels?session_id=" + self.name,
            headers={"Authorization": "token " + self.token}, connect_timeout=PATIENCE))

    async def begin(self, code):
        """Sends a cell; returns the number of the request."""
        number = uuid.uuid4().hex
        await self.socket.write_message(json.dumps({
            "channel": "shell", "parent_header": {}, "metadata": {},
            "header": {"msg_id": number, "msg_type": "execute_request", "session": self.name,
                       "username": self.name, "version": "5.3", "date": datetime.now(timezone.utc).isoformat()},
            "content": {"code": code, "silent": False, "store_history": True, "user_expressions": {},
                        "allow_stdin": False, "stop_on_error": True}}))
        return number

    async def end(self, number, printed=""):
        """Collects what the cell prints; returns its reply and the text."""
        reply, idle = None, False
        while reply is None or not idle:
            m = json.loads(await asyncio.wait_for(self.socket.read_message(), PATIENCE))
            if m["parent_header"].get("msg_id") != number:
                continue
            if m["msg_type"] == "stream":
                printed += m["content"]["text"]
            elif m["msg_type"] == "execute_reply":
                reply = m["content"]
            elif m["msg_type"] == "status":
                idle = m["content"]["execution_state"] == "idle"
        return reply, printed

    async def run(self, code, want):
        reply, printed = await self.end(await self.begin(code))
        assert (reply["status"], printed) == ("ok", want), f"{self.name}: {code}: {reply}, printed {printed!r}"

    async def work(self):
        await self.run(f'import ("fmt"; "rotorhum/tacho")\nwho := "{self.name}"\nfmt.Println(who)', self.name + "\n")
        # Common practice: three lobes heard at 187.5 Hz are 62.5 rev/s = 3750 rpm.
        await self.run('speed := must(tacho.Rotor{Pulses: 3}.RPM(tacho.Exact(187.5, "Hz")))\nfmt.Printf("%.1f", speed.X)', "3750.0")

        number = await self.begin('fmt.Print("round")\nfor {\n}')
        while True:
            m = json.loads(await asyncio.wait_for(self.socket.read_message(), PATIENCE))
            if m["msg_type"] == "stream" and m["parent_header"].get("msg_id") == number:
                break
        await self.ask("POST", self.kernel + "/interrupt", {})
        reply, _ = await self.end(number)
        assert reply.get("ename") == "Interrupted", reply
        await self.run("fmt.Print(who)", self.name)

    async def stop(self):
        self.socket.close()
        await self.ask("DELETE", f"/hub/api/users/{self.name}/server")

        async def stopped():
            return not (await self.ask("GET", f"/hub/api/users/{self.name}"))["servers"]
        await until(f"the end of the server of {self.name}", stopped)


def processes(folder):
    """The command lines of the processes whose files lie in the folder."""
    found = []
    for name in glob.glob("/proc/[0-9]*/cmdline"):
        try:
            with open(name, "rb") as f:
                line = f.read().replace(b"\0", b" ").decode(errors="replace")
        except OSError:  # it has just ended
            continue
        if folder in line and int(name.split("/")[2]) != os.getpid():
            found.append(line)
    return found


def history(home):
    """All that the kernel remembers in a home."""
    text = ""
    for folder, _, names in os.walk(os.path.join(home, ".local", "share", "rotorhum")):
        for name in names:
            with open(os.path.join(folder, name), errors="replace") as f:
                text += f.read()
    return text


def free_ports(n):
    held = [socket.socket() for _ in range(n)]
    for s in held:
        s.bind(("127.0.0.1", 0))
    ports = [str(s.getsockname()[1]) for s in held]
    for s in held:
        s.close()
    return ports


def start_hub(scratch, password, ports):
    """Starts the hub; what it says goes to SCRATCH/hub.log."""
    # Debian's proxy finds its modules by itself with Debian's node only.
    env = dict(os.environ, HUB_SCRATCH=scratch, HUB_PORTS=" ".join(ports), HUB_PASSWORD=password,
               NODE_PATH="/usr/share/nodejs", PATH="/usr/bin:" + os.environ["PATH"])
    config = os.path.join(os.path.dirname(os.path.abspath(__file__)), "hub_config.py")
    with open(os.path.join(scratch, "hub.log"), "w") as log:
        return subprocess.Popen([sys.executable, "-m", "jupyterhub", "-f", config], env=env, cwd=scratch,
                                stdin=subprocess.DEVNULL, stdout=log, stderr=log)


async def visit(hub, base, password, homes):
    people = [Person(base, name) for name in ("ada", "bea")]

    async def up():
        assert hub.poll() is None, "the hub ended by itself"
        try:
            return await people[0].ask("GET", "/hub/api/")
        except (HTTPClientError, OSError):
            return False
    await until("the hub", up)

    async def together(what, *steps):
        await asyncio.gather(*steps)
        print("ok   ", what)
    await together("both log in", *(p.log_in(password) for p in people))
    await together("both start the kernel", *(p.start() for p in people))
    kernels = [line for line in processes(homes) if " serve " in line]
    assert len(kernels) == 2, processes(homes)
    await together("both run cells, interrupt one, and keep what is theirs", *(p.work() for p in people))
    for p, other in zip(people, reversed(people)):
        said = history(os.path.join(homes, p.name))
        assert f'who := \\"{p.name}\\"' in said and f'who := \\"{other.name}\\"' not in said, said
    print("ok    each has a history of their own")
    await together("both stop", *(p.stop() for p in people))

    async def gone():
        return not processes(homes)
    await until("the end of " + "; ".join(processes(homes)), gone)
    print("ok    nothing goes on running")


def main(scratch):
    homes = os.path.join(scratch, "homes")
    os.mkdir(homes)
    password, ports = secrets.token_hex(16), free_ports(3)
    hub = start_hub(scratch, password, ports)
    try:
        asyncio.run(visit(hub, "http://127.0.0.1:" + ports[0], password, homes))
    except BaseException:
        with open(os.path.join(scratch, "hub.log")) as f:
            print(f.read()[-10000:])
        raise
    finally:
        hub.terminate()
        try:
            hub.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            hub.kill()


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    main(sys.argv[1])
