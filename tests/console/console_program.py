"""The real console, on a free port, and how the tests speak to it."""
import http.client
import json
import os
import pathlib
import signal
import socket
import subprocess
import sys
import time
import urllib.parse

sys.path.insert(0, str(pathlib.Path(__file__).parent.parent))
from slower import SLOWER  # noqa: E402

COMMAND = {"X-Counterspot": "1"}


class Console:
    """Runs until the end of the block."""

    def __init__(self, program, data, folder, *more, port=0, environment=None):
        self.environment = {**os.environ, **(environment or {})}
        self.command_line = [program, "console", "--rig", f"{data}/rig.toml", "--shafts", data, "--recordings", f"{folder}/spins", "--log",
                     f"{folder}/log.db", "--port", str(port), *more]

    def __enter__(self):
        self.start()
        return self

    def start(self):
        self.process = subprocess.Popen(self.command_line, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
                                        env=self.environment)
        self.url = self.process.stdout.readline().split()[-1]
        self.port = urllib.parse.urlsplit(self.url).port

    def __exit__(self, *_):
        self.seconds_to_end()

    def seconds_to_end(self):
        """When it is told to by SIGTERM."""
        begin = time.monotonic()
        self.process.send_signal(signal.SIGTERM)
        assert self.process.wait(timeout=20 * SLOWER) == 0
        return time.monotonic() - begin

    def kill(self):
        self.process.kill()
        self.process.wait()

    def threads(self):
        return len(os.listdir(f"/proc/{self.process.pid}/task"))

    def most_mib(self):
        """The most memory it has held so far."""
        with open(f"/proc/{self.process.pid}/status", encoding="ascii") as status:
            return next(int(line.split()[1]) for line in status if line.startswith("VmHWM")) / 1024

    def asked(self, method, path, headers=None, body=None, host=None, source=None, address="127.0.0.1"):
        connection = http.client.HTTPConnection(address, self.port, timeout=60 * SLOWER, source_address=source and (source, 0))
        connection.putrequest(method, path, skip_host=True)
        named = f"[{address}]" if ":" in address else address
        for name, value in {"Host": host or f"{named}:{self.port}", **(headers or {})}.items():
            connection.putheader(name, value)
        if body is not None and "Content-Length" not in (headers or {}):
            connection.putheader("Content-Length", str(len(body)))
        connection.endheaders(body)
        answer = connection.getresponse()
        return answer.status, answer.headers, answer.read()

    def ask(self, *query, **more):
        status, headers, content = self.asked(*query, **more)
        return status, headers, content.decode()

    def code(self, *query, **more):
        status, _, text = self.ask(*query, **more)
        return status, json.loads(text).get("code")

    def open_connection(self, address="127.0.0.1"):
        return socket.create_connection((address, self.port), timeout=60 * SLOWER)

    def raw(self, text):
        with self.open_connection() as connection:
            connection.sendall(text.encode())
            return rest_of(connection).decode(errors="replace")

    def head(self, method, path, *more):
        """The head of a request, as bytes to send by hand."""
        return "\r\n".join([f"{method} {path} HTTP/1.1", f"Host: 127.0.0.1:{self.port}", *more, "", ""])


def rest_of(connection):
    received = b""
    while part := connection.recv(65536):
        received += part
    return received
