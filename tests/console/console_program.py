"""The real console, on a free port, and how the tests speak to it."""
import http.client
import json
import signal
import socket
import subprocess

COMMAND = {"X-Counterspot": "1"}


class Console:
    """Runs until the end of the block."""

    def __init__(self, program, data, folder, *more):
        self.command_line = [program, "console", "--rig", f"{data}/rig.toml", "--shafts", data, "--recordings", f"{folder}/spins", "--log",
                     f"{folder}/log.db", "--port", "0", *more]

    def __enter__(self):
        self.start()
        return self

    def start(self):
        self.process = subprocess.Popen(self.command_line, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        self.url = self.process.stdout.readline().split()[-1]
        self.port = int(self.url.split(":")[2].split("/")[0])

    def __exit__(self, *_):
        self.process.send_signal(signal.SIGTERM)
        assert self.process.wait(timeout=20) == 0

    def kill(self):
        self.process.kill()
        self.process.wait()

    def most_mib(self):
        """The most memory it has held so far."""
        with open(f"/proc/{self.process.pid}/status", encoding="ascii") as status:
            return next(int(line.split()[1]) for line in status if line.startswith("VmHWM")) / 1024

    def asked(self, method, path, headers=None, body=None, host=None):
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        connection.putrequest(method, path, skip_host=True)
        for name, value in {"Host": host or f"127.0.0.1:{self.port}", **(headers or {})}.items():
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

    def open_connection(self):
        return socket.create_connection(("127.0.0.1", self.port), timeout=60)

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
