#!/usr/bin/env python3
"""What the console refuses, asked of the real program over HTTP, and what it does with uploads.

usage: access_test.py PROGRAM DATA_FOLDER
"""
import json
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import threading
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent))
from console_program import COMMAND, Console, rest_of  # noqa: E402

PROGRAM, DATA = sys.argv[1:3]


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
    assert console.code("POST", "/api/practice", {**COMMAND, **other}, b"{}") == (403, "other_site")
    assert console.code("POST", "/api/practice", {**COMMAND, "Sec-Fetch-Site": "cross-site"}, b"{}") == (403, "other_site")
    assert console.code("GET", "/api/now", other) == (403, "other_site")
    assert console.code("POST", "/api/practice", {}, b"{}") == (403, "other_site"), "a form could send this"
    assert console.code("PUT", "/api/now", COMMAND, b"{}") == (405, "bad_method")


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
        assert console.code("POST", "/api/open", COMMAND, json.dumps({"file": name}).encode()) == (400, "not_found"), name
    assert console.code("GET", "/api/job?job=../../etc/passwd") == (400, "no_such_job")


def oversized_and_unmeasured_requests_are_refused_at_their_head(console):
    for path, length in (("/api/upload", str(2 << 30)), ("/api/open", "70000"), ("/api/upload", "99999999999999999999999")):
        status = console.raw(f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1:{console.port}\r\nX-Counterspot: 1\r\n"
                             f"Content-Length: {length}\r\n\r\n").split(" ")[1]
        assert status in ("413", "411"), (path, length, status)
    assert console.raw(f"POST /api/upload HTTP/1.1\r\nHost: 127.0.0.1:{console.port}\r\nX-Counterspot: 1\r\n"
                       "Transfer-Encoding: chunked\r\n\r\n").split(" ")[1] == "411"
    assert console.code("POST", "/api/open", {**COMMAND, "Content-Encoding": "gzip"}, b"{}") == (415, "bad_encoding")
    assert console.code("POST", "/api/open", COMMAND, b"[1") == (400, "bad_request")


def parts_are_not_made_however_many_are_asked_for(console):
    """RFC 9110, 14.2: a server may pass over the header; and what is refused stays as small as it was."""
    before = console.most_mib()
    for host in (None, "evil.example"):
        whole = console.asked("GET", "/console.js", host=host)
        for name in ("Range", "range", "RANGE"):
            parts = console.asked("GET", "/console.js", {name: "bytes=" + ",".join(["0-"] * 2700)}, host=host)
            assert (parts[0], parts[2]) == (whole[0], whole[2]), (host, name, parts[0], len(parts[2]))
        assert console.asked("GET", "/console.js", {"Range": "bytes=9-1"}, host=host)[0] == whole[0], "none is looked at"
    assert console.code("GET", "/" + 8000 * "x") == (404, "not_found")
    assert console.most_mib() - before < 4, "of 1 MiB for one of them, and its connection's"


def an_upload_says_what_track_says(console):
    file = f"{DATA}/00-as-found.flac"
    with open(file, "rb") as recording:
        status, _, text = console.ask("POST", "/api/upload", COMMAND, recording.read())
    assert status == 200, text
    shown = json.loads(text)
    tracked = json.loads(subprocess.run([PROGRAM, "track", file, "--rig", f"{DATA}/rig.toml", "--json"], check=True,
                                        capture_output=True, text=True).stdout)
    assert shown["speed_rpm"] == tracked["speed_rpm"]
    for one, other in zip(shown["vectors"], tracked["sensors"], strict=True):
        assert one["phase_lag_deg"] == other["orders"][0]["phase_lag_deg"]
        assert abs(one["amplitude"] / other["orders"][0]["amplitude"] - 1) < 1e-12  # the order of a product
    assert console.code("POST", "/api/upload", COMMAND, b"no recording at all")[0] in (400, 422)


def a_head_without_measure_is_cut_off(console):
    for more in ([f"X-{number}: 1" for number in range(100)], ["X-Long: " + 20_000 * "x"], ["Cookie: " + 9_000 * "x"] * 3):
        assert console.raw(console.head("GET", "/api/now", *more)).startswith("HTTP/1.1 431 "), more[0][:20]
    endless = console.open_connection()
    endless.sendall(console.head("GET", "/api/now")[:-2].encode())
    try:
        for _ in range(10_000):
            endless.sendall(b"X-More: 1\r\n")
    except OSError:  # cut off while it was still sending
        pass
    endless.close()
    assert console.ask("GET", "/api/now", {f"X-{number}": "1" for number in range(40)})[0] == 200


class SlowSenders:
    """Send a byte now and then, or nothing; begun first, looked at last, so that nobody waits for them."""

    def __init__(self, console):
        command = console.head("POST", "/api/open", "X-Counterspot: 1", "Content-Length: 5000")
        upload = console.head("POST", "/api/upload", "X-Counterspot: 1", "Content-Length: 5000000")
        asked = console.head("GET", "/api/now", "X-Slow: " + 5000 * "x")
        self.ended = {}
        self.threads = [threading.Thread(target=self.dribble, args=(console, *which))
                        for which in (("nothing", "", ""), ("a head", "", asked), ("a command", command, 5000 * " "),
                                      ("an upload", upload, 5000 * " "))]
        for thread in self.threads:
            thread.start()

    def dribble(self, console, name, at_once, bit_by_bit):
        begin = time.monotonic()
        answer = b""
        with console.open_connection() as connection:
            connection.sendall(at_once.encode())
            connection.settimeout(0.4)
            try:
                for byte in bit_by_bit.encode() or 5000 * b"-":
                    if bit_by_bit:
                        connection.sendall(bytes([byte]))
                    try:
                        answer += rest_of(connection)
                        break
                    except TimeoutError:
                        pass
            except OSError:
                pass
        self.ended[name] = (time.monotonic() - begin, answer.split(b"\r\n")[0].decode())

    def were_cut_off(self):
        for thread in self.threads:
            thread.join(timeout=60)
        assert len(self.ended) == 4, self.ended
        for name, (seconds, answer) in self.ended.items():
            assert seconds < 30 and not answer.startswith("HTTP/1.1 2"), (name, seconds, answer)
        assert self.ended["a head"][1].startswith("HTTP/1.1 408 "), self.ended


def pictures_come_from_the_library_and_from_here_only(console):
    """After a job was opened: the face of a plane, and the sheet as the command writes it, byte for byte."""
    address = "/sheet.pdf?job=MC-0417/1"
    with tempfile.TemporaryDirectory() as folder:
        log = console.command_line[console.command_line.index("--log") + 1]
        subprocess.run([PROGRAM, "sheet", "MC-0417/1", "--log", log, "--out", f"{folder}/sheet.pdf"], check=True, capture_output=True)
        status, headers, sheet = console.asked("GET", address)
        assert status == 200 and headers["Content-Type"] == "application/pdf"
        assert sheet == pathlib.Path(folder, "sheet.pdf").read_bytes(), "the page's sheet is not the command's"
    for path, wrong in ((address, "/sheet.pdf?job=../../etc/passwd"), ("/face.svg?plane=0", "/face.svg?plane=2")):
        assert console.asked("GET", path)[0] == 200
        assert console.code("GET", wrong)[0] == 400
        assert console.code("GET", path, host=f"evil.example:{console.port}") == (403, "wrong_host")
        assert console.code("GET", path, {"Origin": "http://evil.example"}) == (403, "other_site")
        assert console.code("GET", path, {"Sec-Fetch-Site": "cross-site"}) == (403, "other_site")
        assert console.code("POST", path, {}, b"") == (403, "other_site")
    assert b"<svg" in console.asked("GET", "/face.svg?plane=0")[2]
    for plane in ("-1", "9999999999999", "A", "0x0", ""):
        assert console.code("GET", f"/face.svg?plane={plane}")[0] == 400, plane


def a_killed_program_goes_on_at_the_same_step(folder):
    with Console(PROGRAM, DATA, folder) as console:
        assert console.ask("POST", "/api/open", COMMAND, b'{"file":"shaft.toml"}')[0] == 200
        with open(f"{DATA}/00-as-found.flac", "rb") as recording:
            status, _, text = console.ask("POST", "/api/upload?as=spin&job=MC-0417/1", COMMAND, recording.read())
        assert status == 200 and json.loads(text)["entered"], text
        before = json.loads(console.ask("GET", "/api/now")[2])
        pictures_come_from_the_library_and_from_here_only(console)
        console.kill()
        console.start()
        after = json.loads(console.ask("GET", "/api/now")[2])
        for key in ("job", "step", "words", "fit", "entries"):
            assert before[key] == after[key], key


def main():
    folder = tempfile.mkdtemp()
    try:
        with Console(PROGRAM, DATA, folder) as console:
            slow = SlowSenders(console)
            for test in (the_page_comes_with_a_strict_policy, a_name_that_was_pointed_here_is_refused,
                         another_site_can_neither_post_nor_read, a_refused_body_is_not_read_as_another_request,
                         no_path_from_a_client_is_followed, oversized_and_unmeasured_requests_are_refused_at_their_head,
                         parts_are_not_made_however_many_are_asked_for,
                         a_head_without_measure_is_cut_off, an_upload_says_what_track_says):
                test(console)
                print("ok:", test.__name__.replace("_", " "), flush=True)
            slow.were_cut_off()
            print("ok: slow senders were cut off", slow.ended, flush=True)
        a_killed_program_goes_on_at_the_same_step(folder)
        print("ok: a killed program goes on at the same step", flush=True)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


main()
