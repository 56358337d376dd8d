#!/usr/bin/env python3
"""64 screens and 200 uploads while a live source delivers numbered samples, 51.2 kHz of four channels: the spin that is recorded
meanwhile holds every sample, in order and bit for bit, and memory stays under 200 MiB. And a spin that is cut off is kept as far as
it came.

usage: load_test.py PROGRAM DATA_FOLDER
"""
import json
import os
import pathlib
import selectors
import shutil
import subprocess
import sys
import tempfile
import threading
import time

sys.path[:0] = [str(pathlib.Path(__file__).parent), str(pathlib.Path(__file__).parent.parent)]
from console_program import COMMAND, Console, SLOWER  # noqa: E402
import numbered  # noqa: E402

PROGRAM, DATA = sys.argv[1:3]
RATE_HZ, RPM, SPIN_S = 51200, 1620, 20
SCREENS, UPLOADS, SENDERS = 64, 200, 8


class Screens:
    """Read what they are sent, each at its own connection, and count the events."""

    def __init__(self, console):
        self.begin, self.counts = time.monotonic(), {}
        self.selector = selectors.DefaultSelector()
        for _ in range(SCREENS):
            connection = console.open_connection()
            connection.sendall(console.head("GET", "/api/live").encode())
            self.counts[connection] = 0
            self.selector.register(connection, selectors.EVENT_READ)
        self.over = threading.Event()
        self.thread = threading.Thread(target=self.read)
        self.thread.start()

    def read(self):
        while not self.over.is_set():
            for key, _ in self.selector.select(0.5):
                text = key.fileobj.recv(1 << 20)
                if not text:  # it was cut off: its count tells
                    self.selector.unregister(key.fileobj)
                self.counts[key.fileobj] += text.count(b"data: ")

    def least_rate(self):
        return min(self.counts.values()) / (time.monotonic() - self.begin)

    def close(self):
        self.over.set()
        self.thread.join()
        for connection in self.counts:
            connection.close()


def answered_rightly(console, kind, sound):
    """Sound, cut, foreign, given up half way, announced as 2 GiB: each as it must be."""
    if kind == 3:
        with console.open_connection() as connection:
            connection.sendall(console.head("POST", "/api/upload", "X-Counterspot: 1", f"Content-Length: {len(sound)}").encode())
            connection.sendall(sound[: len(sound) // 2])
        return True
    if kind == 4:
        answer = console.raw(console.head("POST", "/api/upload", "X-Counterspot: 1", f"Content-Length: {2 << 30}"))
        return answer.startswith("HTTP/1.1 413 ")
    status, _, text = console.ask("POST", "/api/upload", COMMAND, (sound, sound[: len(sound) // 2], b"time,A\n1,2\n")[kind])
    said = json.loads(text)
    if kind == 0:
        return status == 200 and said["usable"]
    of_a_cut_one_what_came_before = kind == 1  # is used, and the page says how much that was
    return status in (200, 400, 422) and (of_a_cut_one_what_came_before or not said.get("usable", False))


def uploads(console):
    with open(f"{DATA}/00-as-found.flac", "rb") as recording:
        sound = recording.read()
    wrong = []

    def send(first):
        for number in range(first, UPLOADS, SENDERS):
            try:
                if not answered_rightly(console, number % 5, sound):
                    wrong.append(number)
            except (OSError, ValueError) as trouble:
                wrong.append((number, trouble))

    threads = [threading.Thread(target=send, args=(first,)) for first in range(SENDERS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not wrong, wrong[:5]


def live(console):
    return json.loads(console.ask("GET", "/api/live-once")[2])


def wait_for(what, condition, seconds=120 * SLOWER):
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, f"waited in vain for {what}"
        time.sleep(0.2)


def finished(folder):
    return [str(each) for each in pathlib.Path(folder, "spins").glob("*.flac") if ".part" not in each.name]


def every_sample_is_there(folder, recording, least):
    """Written out as Wave64 by the program and held against the numbers themselves."""
    subprocess.run([PROGRAM, "record", recording, f"{folder}/spin.w64", "--replace"], check=True, capture_output=True, timeout=120 * SLOWER)
    got = numbered.w64_samples(f"{folder}/spin.w64").reshape(-1, numbered.CHANNELS)
    assert len(got) >= least, len(got)
    wanted = numbered.samples(int(got[0, 0]), len(got), RATE_HZ, RPM)
    assert (got == wanted).all(), "samples are missing, or not in order"
    return len(got)


def feeding(pipe):
    return subprocess.Popen([sys.executable, numbered.__file__, pipe, str(RATE_HZ), str(RPM)], stdout=subprocess.PIPE, text=True)


def console_on(pipe, folder):
    return Console(PROGRAM, DATA, folder, "--source", f"raw:{pipe}", "--rate", f"{RATE_HZ} Hz", "--channels", str(numbered.CHANNELS),
                   "--format", "s24le", "--speed", f"{RPM} rpm", "--seconds", f"{SPIN_S} s")


def a_spin_that_is_cut_off_is_kept():
    """Once by a cable that is pulled and put back, once by the end of the program."""
    folder = tempfile.mkdtemp()
    pipe = f"{folder}/rig.pipe"
    os.mkfifo(pipe)
    feeders = [feeding(pipe)]
    try:
        with console_on(pipe, folder) as console:
            assert console.ask("POST", "/api/open", COMMAND, b'{"file":"shaft.toml"}')[0] == 200
            wait_for("the spin to be recorded", lambda: live(console)["progress"] > 0.05)
            feeders[0].kill()
            feeders.append(feeding(pipe))
            wait_for("the gap to be told", lambda: live(console)["overruns"] == 1)
            wait_for("the spin to be recorded anew", lambda: live(console)["overruns"] == 1 and live(console)["progress"] > 0.05)
            assert [each["code"] for each in live(console)["warnings"]] == ["overrun"]
        kept = sorted(finished(folder))
        # Two at least: on a busy machine the speed may also waver out of its band while the source finds its pace.
        endings = {pathlib.Path(each).name.split(".", 1)[1] for each in kept}
        assert len(kept) >= 2 and endings == {f"cut-{number}.flac" for number in range(1, len(kept) + 1)}, kept
        print("cut off and kept:", [every_sample_is_there(folder, each, 1) for each in kept], "frames")
    finally:
        for feeder in feeders:
            feeder.kill()
        shutil.rmtree(folder, ignore_errors=True)


def every_sample_is_recorded_under_load():
    folder = tempfile.mkdtemp()
    pipe = f"{folder}/rig.pipe"
    os.mkfifo(pipe)
    feeder = feeding(pipe)
    try:
        with console_on(pipe, folder) as console:
            feeder.stdout.readline()
            assert console.ask("POST", "/api/open", COMMAND, b'{"file":"shaft.toml"}')[0] == 200
            wait_for("the spin to be recorded", lambda: live(console)["phase"] == "recording")
            screens = Screens(console)
            uploads(console)
            during = live(console)["phase"] == "recording"
            wait_for("the recording's end", lambda: finished(folder))
            health = json.loads(console.ask("GET", "/api/health")[2])
            rate = screens.least_rate()
            screens.close()
            most_mib = console.most_mib()
            recording, = finished(folder)
            frames = every_sample_is_there(folder, recording, SPIN_S * RATE_HZ)
            open(pipe + ".end", "w", encoding="ascii").close()
            latest = float(feeder.stdout.readline())
        assert health["overruns"] == 0 and ".cut" not in recording, (health, recording)
        assert min(screens.counts.values()) > 0, "a screen got nothing"
        assert most_mib < 200 or SLOWER > 1, f"{most_mib:.0f} MiB"  # the thread sanitizer's own memory would be counted
        print(f"{SCREENS} screens, {UPLOADS} uploads{' within the spin' if during else ''}: {frames} frames recorded, none missing; "
              f"{most_mib:.0f} MiB at most; the source waited {1e3 * latest:.0f} ms at most; every screen had at least {rate:.1f} events a "
              "second")
    finally:
        feeder.kill()
        shutil.rmtree(folder, ignore_errors=True)


every_sample_is_recorded_under_load()
a_spin_that_is_cut_off_is_kept()
