#!/usr/bin/env python3
"""Screens that only look on: what they may ask, what they may not, and how soon they see what happens at the rig.

usage: watch_test.py PROGRAM DATA_FOLDER
"""
import json
import pathlib
import subprocess
import sys
import tempfile
import threading
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent))
from console_program import COMMAND, Console, SLOWER  # noqa: E402

PROGRAM, DATA = sys.argv[1:3]
TOKEN, WATCH = "f3a1-workshop-7-tablet", "office-on-the-first-floor"
IN_STEP_S = 0.2 * SLOWER


def cookie_for(console, token, known=None):
    status, headers, text = console.ask("GET", "/?token=" + token, known or {})
    assert status == 302, (status, text)
    return {"Cookie": headers["Set-Cookie"].split(";")[0]} if headers["Set-Cookie"] else known


def who_looks_on_changes_nothing(console):
    reader = cookie_for(console, WATCH)
    assert console.ask("GET", "/api/now", reader)[0] == 200
    assert console.ask("GET", "/", reader)[1]["Location"] == "/?watch"
    assert console.ask("GET", "/?watch", reader)[0] == 200
    for path, body in (("/api/open", b'{"file":"shaft.toml"}'), ("/api/stands", b"{}"), ("/api/practice", b'{"drive":true}'),
                       ("/api/fit", b"{}"), ("/api/close", b"{}"), ("/api/upload?as=spin", b"x")):
        assert console.code("POST", path, {**reader, **COMMAND}, body) == (403, "watches_only"), path
    assert json.loads(console.ask("GET", "/api/now", reader)[2])["job"] is None
    worker = cookie_for(console, TOKEN, reader)  # the same screen, let in to work
    assert console.ask("POST", "/api/open", {**worker, **COMMAND}, b'{"file":"shaft.toml"}')[0] == 200
    both = {"Cookie": reader["Cookie"] + "; " + worker["Cookie"]}
    assert console.ask("POST", "/api/open", {**both, **COMMAND}, b'{"file":"shaft.toml"}')[0] in (200, 400, 409)


def a_watching_screen_is_in_step(console):
    """From the answer to who works to the event at who looks on."""
    worker, reader = cookie_for(console, TOKEN), cookie_for(console, WATCH)
    seen = {}

    def follow():
        with console.open_connection() as connection:
            connection.sendall(console.head("GET", "/api/live", f"Cookie: {reader['Cookie']}").encode())
            text = b""
            while len(seen) < 6 and (part := connection.recv(65536)):
                text += part
                while b"\n\n" in text:
                    event, text = text.split(b"\n\n", 1)
                    if b"data: " in event:
                        line = event[event.index(b"data: ") + 6:].split(b"\r\n")[0]
                        try:
                            seen.setdefault(json.loads(line)["serial"], time.monotonic())
                        except ValueError:
                            pass

    follower = threading.Thread(target=follow, daemon=True)
    follower.start()
    time.sleep(0.5)
    late = []
    for _ in range(5):
        status, _, text = console.ask("POST", "/api/choose", {**worker, **COMMAND}, b'{"job":"MC-0417/1"}')
        assert status == 200, text
        answered, serial = time.monotonic(), json.loads(text)["serial"]
        time.sleep(0.5)
        assert serial in seen, (serial, seen)
        late.append(seen[serial] - answered)
    print(f"a screen that looks on is behind by {1000 * max(late):.0f} ms at most")
    assert max(late) < IN_STEP_S, late


with tempfile.TemporaryDirectory() as folder:
    line = Console(PROGRAM, DATA, folder, "--watch-token", WATCH).command_line
    refused = subprocess.run(line, capture_output=True, text=True, timeout=20, check=False)
    assert refused.returncode == 2 and "another" in refused.stderr, refused  # a token of those who work is there too
    with Console(PROGRAM, DATA, folder, "--token", TOKEN, "--watch-token", WATCH) as console:
        assert console.code("POST", "/api/open", COMMAND, b"{}") == (401, "needs_token")
        who_looks_on_changes_nothing(console)
        a_watching_screen_is_in_step(console)
