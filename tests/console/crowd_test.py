#!/usr/bin/env python3
"""Many who are slow, and recordings that unpack to hours: the page is served, and the program ends when it is told to.

usage: crowd_test.py PROGRAM DATA_FOLDER
"""
import contextlib
import http.client
import json
import os
import pathlib
import socket
import sys
import tempfile
import threading
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent))
from console_program import COMMAND, Console, SLOWER  # noqa: E402
from long_flac import long_flac  # noqa: E402

PROGRAM, DATA = sys.argv[1:3]
# The page itself takes a few milliseconds; before, it waited for places that slow senders held for five seconds and more.
PAGE_S = 2.0 * SLOWER
END_S = 2.0 * SLOWER


def seconds_for_the_page(console):
    begin = time.monotonic()
    assert console.ask("GET", "/")[0] == 200
    return time.monotonic() - begin


class Crowd:
    """Connections that say so much and then a byte of it twice a second."""

    def __init__(self, console, count, begin, address="127.0.0.1"):
        self.connections = [console.open_connection(address) for _ in range(count)]
        for each in self.connections:
            each.sendall(begin.encode())
        self.over = threading.Event()
        self.thread = threading.Thread(target=self.dribble)
        self.thread.start()
        time.sleep(0.5)

    def __enter__(self):
        return self

    def dribble(self):
        while not self.over.wait(0.5):
            for each in self.connections:
                with contextlib.suppress(OSError):
                    each.send(b"x")

    def answers(self):
        """The status of each that was answered, 0 of one that was cut off, None of one that is heard on."""
        found = []
        for each in self.connections:
            each.setblocking(False)
            try:
                found.append(int((each.recv(12) or b"HTTP/1.1 000").split()[1]))
            except BlockingIOError:
                found.append(None)
            except ConnectionError:
                found.append(0)
            each.setblocking(True)
        return found

    def __exit__(self, *_):
        self.over.set()
        self.thread.join()
        for each in self.connections:
            each.close()


def the_page_is_served_while_others_are_slow(folder):
    with Console(PROGRAM, DATA, folder) as console:
        for what, count, begin in (
                ("heads", 200, "GET / HTTP/1.1\r\nX-Slow: "),
                ("commands", 150, console.head("POST", "/api/open", "X-Counterspot: 1", "Content-Length: 5000")),
                ("uploads", 150, console.head("POST", "/api/upload", "X-Counterspot: 1", "Content-Length: 5000000"))):
            with Crowd(console, count, begin):
                took = [seconds_for_the_page(console) for _ in range(5)]
                threads = console.threads()
            assert max(took) < PAGE_S, (what, took)
            print(f"  {count} slow {what}: the page took {1e3 * max(took):.0f} ms at most; {threads} threads")
        with Crowd(console, 150, console.head("POST", "/api/upload", "X-Counterspot: 1", "Content-Length: 5000000")) as crowd:
            assert console.seconds_to_end() < END_S, "SIGTERM waits for slow uploads"
            answers = crowd.answers()
        assert answers.count(503) > 100 and set(answers) <= {503, 400, 0}, answers
        console.start()


def own_address():
    """One that is not a loopback one; of the network that would be taken to another machine (TEST-NET-1, RFC 5737)."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        try:
            asked.connect(("192.0.2.1", 9))
        except OSError:
            return None
        return asked.getsockname()[0]


def others_have_bounded_places_and_the_rig_has_its_own(folder):
    address = own_address()
    if address is None or address.startswith("127."):
        print("not run: this machine has no address but loopback")
        return
    with Console(PROGRAM, DATA, folder, "--address", "0.0.0.0", "--token", "fifteen letters") as console:
        cookie = "Cookie: " + console.ask("GET", "/?token=fifteen%20letters")[1]["Set-Cookie"].split(";")[0]
        with Crowd(console, 100, "GET / HTTP/1.1\r\nX-Slow: ", address) as crowd:
            heard = crowd.answers().count(None)
            assert heard == 48, f"{heard} heads of one address are waited for"
            assert console.ask("GET", "/api/now", {"Cookie": cookie.removeprefix("Cookie: ")})[0] == 200
        streams = [console.open_connection(address) for _ in range(40)]
        for each in streams:
            each.sendall(console.head("GET", "/api/live", cookie).encode())
        answers = [each.recv(12).split()[1] for each in streams]
        assert (answers.count(b"200"), answers.count(b"503")) == (24, 16), answers
        own = console.open_connection()
        own.sendall(console.head("GET", "/api/live", cookie).encode())
        assert own.recv(12).split()[1] == b"200", "others took the places of the rig's own page"
        for each in [*streams, own]:
            each.close()


def what_unpacks_to_hours_is_refused_before_it_is_read(folder):
    with Console(PROGRAM, DATA, folder) as console:
        for announced in (True, False):
            recording = long_flac(12, announced=announced)
            assert len(recording) < 1e6
            status, _, text = console.ask("POST", "/api/upload", COMMAND, recording)
            assert status == 422 and json.loads(text)["code"] == "too_long", text
            status, _, text = console.ask("POST", "/api/upload", COMMAND, long_flac(0.01, announced=announced))
            assert status == 200, text
        assert console.code("POST", "/api/upload", COMMAND, long_flac(0.01, rate_hz=1000, channels=8))[0] == 200
        assert not os.listdir(f"{folder}/spins")


def sigterm_is_obeyed_while_a_recording_is_read(folder):
    """As long as is taken, several at once; what had arrived of them is gone after the next start."""
    recording = long_flac(0.33)
    console = Console(PROGRAM, DATA, folder)
    console.start()

    def send():
        with contextlib.suppress(OSError, http.client.HTTPException):
            console.ask("POST", "/api/upload", COMMAND, recording)

    senders = [threading.Thread(target=send) for _ in range(8)]
    for each in senders:
        each.start()
    time.sleep(1)
    seconds = console.seconds_to_end()
    for each in senders:
        each.join()
    assert seconds < END_S, seconds
    with Console(PROGRAM, DATA, folder):
        assert not os.listdir(f"{folder}/spins"), os.listdir(f"{folder}/spins")


def at_rest_it_holds_few_threads(folder):
    """One for each of: the signal, connections that come, those that have not said all; and what is shown."""
    with Console(PROGRAM, DATA, folder) as console:
        assert console.ask("GET", "/")[0] == 200
        time.sleep(0.2)
        assert console.threads() <= 8, console.threads()


def main():
    for test in (the_page_is_served_while_others_are_slow, others_have_bounded_places_and_the_rig_has_its_own,
                 what_unpacks_to_hours_is_refused_before_it_is_read, sigterm_is_obeyed_while_a_recording_is_read,
                 at_rest_it_holds_few_threads):
        with tempfile.TemporaryDirectory() as folder:
            test(folder)
        print("ok:", test.__name__.replace("_", " "), flush=True)


main()
