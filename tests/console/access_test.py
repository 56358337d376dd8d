#!/usr/bin/env python3
"""What the console refuses, asked of the real program over HTTP, and what it does with uploads.

usage: access_test.py PROGRAM DATA_FOLDER
"""
import http.client
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading

PROGRAM, DATA = sys.argv[1:3]
DEED = {"X-Counterspot": "1"}


class Console:
    """The real program, on a free port, until the end of the block."""

    def __init__(self, folder, *more):
        self.line = [PROGRAM, "console", "--rig", f"{DATA}/rig.toml", "--shafts", DATA, "--recordings", f"{folder}/spins", "--log",
                     f"{folder}/log.db", "--port", "0", *more]

    def __enter__(self):
        self.process = subprocess.Popen(self.line, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        self.url = self.process.stdout.readline().split()[-1]
        self.port = int(self.url.split(":")[2].split("/")[0])
        return self

    def __exit__(self, *_):
        self.process.send_signal(signal.SIGTERM)
        assert self.process.wait(timeout=20) == 0

    def ask(self, method, path, headers=None, body=None, host=None):
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)
        connection.putrequest(method, path, skip_host=True)
        for name, value in {"Host": host or f"127.0.0.1:{self.port}", **(headers or {})}.items():
            connection.putheader(name, value)
        if body is not None and "Content-Length" not in (headers or {}):
            connection.putheader("Content-Length", str(len(body)))
        connection.endheaders(body)
        answer = connection.getresponse()
        return answer.status, answer.headers, answer.read().decode()

    def code(self, *question, **more):
        status, _, text = self.ask(*question, **more)
        return status, json.loads(text).get("code")

    def raw(self, text):
        with socket.create_connection(("127.0.0.1", self.port), timeout=20) as line:
            line.sendall(text.encode())
            received = b""
            while part := line.recv(65536):
                received += part
        return received.decode(errors="replace")


def the_page_comes_with_a_strict_policy(console):
    status, headers, text = console.ask("GET", "/")
    assert status == 200 and "Counterspot" in text
    assert "default-src 'none'" in headers["Content-Security-Policy"] and "unsafe" not in headers["Content-Security-Policy"]
    assert "//" not in text.replace("<!doctype html>", ""), "the page names another place"


def a_name_that_was_pointed_here_is_refused(console):
    for host in ("evil.example", f"evil.example:{console.port}", "127.0.0.1:1", f"192.0.2.1:{console.port}"):
        assert console.code("GET", "/api/now", host=host) == (403, "wrong_host"), host
    assert console.ask("GET", "/api/now", host=f"localhost:{console.port}")[0] == 200


def another_site_can_neither_post_nor_read(console):
    other = {"Origin": "http://evil.example"}
    assert console.code("POST", "/api/practice", {**DEED, **other}, b"{}") == (403, "other_site")
    assert console.code("POST", "/api/practice", {**DEED, "Sec-Fetch-Site": "cross-site"}, b"{}") == (403, "other_site")
    assert console.code("GET", "/api/now", other) == (403, "other_site")
    assert console.code("POST", "/api/practice", {}, b"{}") == (403, "other_site"), "a form could send this"
    assert console.code("PUT", "/api/now", DEED, b"{}") == (405, "bad_method")


def a_refused_body_is_not_read_as_another_request(console):
    hidden = f"POST /api/open HTTP/1.1\r\nHost: 127.0.0.1:{console.port}\r\nX-Counterspot: 1\r\nContent-Length: 21\r\n\r\n" + \
        '{"file":"shaft.toml"}'
    answer = console.raw(f"POST /api/open HTTP/1.1\r\nHost: 127.0.0.1:{console.port}\r\nOrigin: http://evil.example\r\n"
                         f"Content-Length: {len(hidden)}\r\n\r\n{hidden}")
    assert answer.count("HTTP/1.1 ") == 1 and "403" in answer.split("\r\n")[0], answer
    assert json.loads(console.ask("GET", "/api/now")[2])["job"] is None


def no_path_from_a_client_is_followed(console):
    for path in ("/../../etc/passwd", "/..%2f..%2fetc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "//etc/passwd", "/page/console.js"):
        status, _, text = console.ask("GET", path)
        assert status == 404 and "root:" not in text, (path, status)
    for name in ("../data/shaft.toml", f"{DATA}/shaft.toml", "/etc/passwd", "rig.toml/../shaft.toml"):
        assert console.code("POST", "/api/open", DEED, json.dumps({"file": name}).encode()) == (400, "not_found"), name
    assert console.code("GET", "/api/job?job=../../etc/passwd") == (400, "no_such_job")


def oversized_and_unmeasured_requests_are_refused_at_their_head(console):
    for path, length in (("/api/upload", str(2 << 30)), ("/api/open", "70000"), ("/api/upload", "99999999999999999999999")):
        status = console.raw(f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1:{console.port}\r\nX-Counterspot: 1\r\n"
                             f"Content-Length: {length}\r\n\r\n").split(" ")[1]
        assert status in ("413", "411"), (path, length, status)
    assert console.raw(f"POST /api/upload HTTP/1.1\r\nHost: 127.0.0.1:{console.port}\r\nX-Counterspot: 1\r\n"
                       "Transfer-Encoding: chunked\r\n\r\n").split(" ")[1] == "411"
    assert console.code("POST", "/api/open", {**DEED, "Content-Encoding": "gzip"}, b"{}") == (415, "bad_encoding")
    assert console.code("POST", "/api/open", DEED, b"[1") == (400, "bad_request")


def an_upload_says_what_track_says(console):
    file = f"{DATA}/00-as-found.flac"
    with open(file, "rb") as recording:
        status, _, text = console.ask("POST", "/api/upload", DEED, recording.read())
    assert status == 200, text
    shown = json.loads(text)
    tracked = json.loads(subprocess.run([PROGRAM, "track", file, "--rig", f"{DATA}/rig.toml", "--json"], check=True,
                                        capture_output=True, text=True).stdout)
    assert shown["speed_rpm"] == tracked["speed_rpm"]
    for one, other in zip(shown["vectors"], tracked["sensors"], strict=True):
        assert one["phase_lag_deg"] == other["orders"][0]["phase_lag_deg"]
        assert abs(one["amplitude"] / other["orders"][0]["amplitude"] - 1) < 1e-12  # the order of a product
    assert console.code("POST", "/api/upload", DEED, b"no recording at all")[0] in (400, 422)


def sixty_four_screens_and_many_uploads_at_once(console):
    """Sound, cut and foreign uploads, each answered as it must be; memory stays under 200 MiB."""
    with open(f"{DATA}/00-as-found.flac", "rb") as recording:
        sound = recording.read()
    screens = []
    for _ in range(64):
        screen = socket.create_connection(("127.0.0.1", console.port), timeout=20)
        screen.sendall(f"GET /api/live HTTP/1.1\r\nHost: 127.0.0.1:{console.port}\r\n\r\n".encode())
        screens.append(screen)
    wrong = []

    def send(number):
        kind = number % 4
        try:
            if kind == 3:  # announced longer than it is: the sender gives up half way
                with socket.create_connection(("127.0.0.1", console.port), timeout=20) as line:
                    line.sendall(f"POST /api/upload HTTP/1.1\r\nHost: 127.0.0.1:{console.port}\r\nX-Counterspot: 1\r\n"
                                 f"Content-Length: {len(sound)}\r\n\r\n".encode() + sound[: len(sound) // 2])
                return
            body = (sound, sound[: len(sound) // 2], b"time,A\n1,2\n")[kind]
            status, _, text = console.ask("POST", "/api/upload", DEED, body)
            said = json.loads(text)
            right = status == 200 and said["usable"] if kind == 0 else status in (200, 400, 422) and not said.get("usable", False)
            if not right:
                wrong.append((number, status, text[:200]))
        except OSError as trouble:
            wrong.append((number, trouble))

    threads = [threading.Thread(target=lambda first=first: [send(n) for n in range(first, 200, 8)]) for first in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for screen in screens:
        assert b"data: " in screen.recv(65536), "a screen got nothing"
        screen.close()
    assert not wrong, wrong[:3]
    with open(f"/proc/{console.process.pid}/status", encoding="ascii") as status:
        most_kib = next(int(line.split()[1]) for line in status if line.startswith("VmHWM"))
    print(f"64 screens, 200 uploads: {most_kib / 1024:.0f} MiB at most")
    assert most_kib < 200 * 1024


def a_killed_program_goes_on_at_the_same_step(folder):
    with Console(folder) as console:
        assert console.ask("POST", "/api/open", DEED, b'{"file":"shaft.toml"}')[0] == 200
        with open(f"{DATA}/00-as-found.flac", "rb") as recording:
            status, _, text = console.ask("POST", "/api/upload?as=spin&job=MC-0417/1", DEED, recording.read())
        assert status == 200 and json.loads(text)["entered"], text
        before = json.loads(console.ask("GET", "/api/now")[2])
        console.process.kill()
        console.process.wait()
        console.__exit__ = lambda *_: None
        console.process = subprocess.Popen(console.line, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        console.port = int(console.process.stdout.readline().split()[-1].split(":")[2].split("/")[0])
        after = json.loads(console.ask("GET", "/api/now")[2])
        for key in ("job", "step", "words", "fit", "entries"):
            assert before[key] == after[key], key


def another_address_needs_a_token(folder):
    line = Console(folder, "--address", "0.0.0.0").line
    refused = subprocess.run(line, capture_output=True, text=True, timeout=20, check=False)
    assert refused.returncode == 2 and "token" in refused.stderr
    with Console(folder, "--address", "0.0.0.0", "--token", "6f1d") as console:
        assert console.code("GET", "/api/now") == (401, "needs_token")
        assert console.code("GET", "/api/now", {"Cookie": "counterspot_token=6f1e"}) == (401, "needs_token")
        status, headers, _ = console.ask("GET", "/?token=6f1d")
        assert status == 302 and "HttpOnly" in headers["Set-Cookie"] and "SameSite=Strict" in headers["Set-Cookie"]
        assert console.ask("GET", "/api/now", {"Cookie": "counterspot_token=6f1d"})[0] == 200
        assert console.code("GET", "/api/now", {"Cookie": "counterspot_token=6f1d"}, host=f"evil.example:{console.port}") == (
            403, "wrong_host")


def main():
    folder = tempfile.mkdtemp()
    try:
        with Console(folder) as console:
            for test in (the_page_comes_with_a_strict_policy, a_name_that_was_pointed_here_is_refused,
                         another_site_can_neither_post_nor_read, a_refused_body_is_not_read_as_another_request,
                         no_path_from_a_client_is_followed, oversized_and_unmeasured_requests_are_refused_at_their_head,
                         an_upload_says_what_track_says, sixty_four_screens_and_many_uploads_at_once):
                test(console)
                print("ok:", test.__name__.replace("_", " "), flush=True)
        for test in (a_killed_program_goes_on_at_the_same_step, another_address_needs_a_token):
            test(folder)
            print("ok:", test.__name__.replace("_", " "), flush=True)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


main()
