#!/usr/bin/python3
"""How far the page at the rig is behind the shaft: a vector that steps at known moments, and when Chromium shows it.

Usage: tools/bench/page_latency.py PROGRAM [STEPS]

A live source of four channels at 51.2 kHz whose sensor A grows and shrinks by half each second. One browser shows the page, two
more screens follow, and a spin is being recorded all the while. Timed from the write of the first sample that is different to the
moment the arrow on the page has gone more than half of the way. Prints the median and the 95th percentile, the updates per second that
the page drew, the processor time of the program, and whether a sample was lost. Needs Debian's python3-selenium and chromium.
"""
import json
import os
import pathlib
import shutil
import statistics
import sys
import tempfile
import threading
import time

import numpy as np

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT / "tests" / "console"))
from chromium import browser  # noqa: E402
from console_program import COMMAND, Console  # noqa: E402

RATE_HZ, CHANNELS, RPM, BLOCK_S, STEP_S = 51200, 4, 1620, 0.01, 1.0
SMALL, LARGE = 0.01, 0.015  # of full scale
WATCH = """window.seen = [];
new MutationObserver(() => {
  const arrow = document.querySelector('#faces .arrow');
  if (!arrow) return;
  const length = Math.hypot(arrow.x2.baseVal.value - arrow.x1.baseVal.value, arrow.y2.baseVal.value - arrow.y1.baseVal.value);
  window.seen.push([Date.now(), length * Number(new URL(document.querySelector('#faces img').src).searchParams.get('rim'))]);
}).observe(document.getElementById('faces'), { subtree: true, attributes: true, attributeFilter: ['y2'] });"""


def block_of(first, count):
    number = np.arange(first, first + count)
    turns = number * RPM / (60.0 * RATE_HZ)
    size = np.where((number // round(STEP_S * RATE_HZ)) % 2 == 0, SMALL, LARGE)
    noise = np.random.default_rng(first).normal(0.0, 1e-5, (2, count))
    channels = [size * np.cos(2 * np.pi * turns) + noise[0], SMALL * np.cos(2 * np.pi * turns) + noise[1], (turns % 1.0 < 0.05) * 0.5,
                np.zeros(count)]
    return (np.stack(channels, axis=1) * (1 << 31)).astype("<i4").tobytes()


class Source:
    """Writes in real time, and knows when each step went out."""

    def __init__(self, pipe):
        self.pipe, self.steps, self.over = pipe, [], threading.Event()
        self.thread = threading.Thread(target=self.run)
        self.thread.start()

    def run(self):
        count = round(BLOCK_S * RATE_HZ)
        with open(self.pipe, "wb", buffering=0) as out:
            begin, first = time.monotonic(), 0
            while not self.over.is_set():
                block = block_of(first, count)
                time.sleep(max(0.0, begin + (first + count) / RATE_HZ - time.monotonic()))
                try:
                    out.write(block)
                except BrokenPipeError:  # whoever read has gone
                    return
                if first % round(STEP_S * RATE_HZ) == 0 and first > 0:
                    self.steps.append((time.time(), first // round(STEP_S * RATE_HZ) % 2 == 1))
                first += count

    def end(self):
        self.over.set()
        self.thread.join()


def live(console):
    return json.loads(console.ask("GET", "/api/live-once")[2])


def follow(console, over):
    with console.open_connection() as connection:
        connection.sendall(console.head("GET", "/api/live").encode())
        connection.settimeout(0.5)
        while not over.is_set():
            try:
                connection.recv(1 << 20)
            except TimeoutError:
                pass


def processor_s(process):
    fields = pathlib.Path(f"/proc/{process.pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def latencies(steps, seen):
    """Of each step, until the length shown is nearer to what it went to."""
    middle = 0.5 * (min(length for _, length in seen) + max(length for _, length in seen))
    found = []
    for at, grows in steps:
        after = [moment for moment, length in seen if moment >= 1000 * at and (length > middle) == grows]
        if after and after[0] < 1000 * (at + STEP_S):
            found.append(after[0] - 1000 * at)
    return found


def main(program, steps):
    folder = tempfile.mkdtemp()
    pipe = f"{folder}/rig.pipe"
    os.mkfifo(pipe)
    source = Source(pipe)
    over = threading.Event()
    try:
        with Console(program, ROOT / "data", folder, "--source", f"raw:{pipe}", "--rate", f"{RATE_HZ} Hz", "--channels", str(CHANNELS), "--speed",
                     f"{RPM} rpm", "--seconds", "600 s") as console:
            assert console.ask("POST", "/api/open", COMMAND, b'{"file":"shaft.toml"}')[0] == 200
            others = [threading.Thread(target=follow, args=(console, over)) for _ in range(2)]
            for other in others:
                other.start()
            page = browser(folder)
            page.get(console.url)
            while live(console)["phase"] != "recording":
                time.sleep(0.2)
            page.execute_script(WATCH)
            begin, used_s, first = time.monotonic(), processor_s(console.process), len(source.steps)
            time.sleep(steps * STEP_S)
            seconds, used_s = time.monotonic() - begin, processor_s(console.process) - used_s
            seen, made = page.execute_script("return window.seen"), source.steps[first:]
            health = live(console)
            page.quit()
            over.set()
            found = sorted(latencies(made, seen))
            print(f"{len(found)} of {len(made)} steps seen, behind by {statistics.median(found):.0f} ms (median), "
                  f"{found[int(0.95 * (len(found) - 1))]:.0f} ms (95th percentile; 150 wanted); {len(seen) / seconds:.1f} updates per second; "
                  f"{100 * used_s / seconds:.1f} % of a core (15 wanted); {health['overruns']} times samples were lost")
    finally:
        over.set()
        source.end()
        shutil.rmtree(folder, ignore_errors=True)


main(sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 60)
