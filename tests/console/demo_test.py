#!/usr/bin/env python3
"""'tools/demo --page' opens the page on the simulated rig, a job can be opened there, and Ctrl-C leaves nothing behind.

usage: demo_test.py SOURCE_FOLDER
"""
import glob
import json
import os
import pathlib
import signal
import subprocess
import sys
import tempfile
import time
import urllib.request

SOURCE = sys.argv[1]


def answer(url, said=None):
    request = urllib.request.Request(url, json.dumps(said).encode() if said else None, {"X-Counterspot": "1"})
    with urllib.request.urlopen(request, timeout=20) as got:
        return got.read().decode()


def turning(url):
    for _ in range(100):
        live = json.loads(answer(url + "api/live-once"))
        if live["speed_rpm"] > 100 and live["levels"]:
            return True
        time.sleep(0.2)
    return False


def left_of(group):
    """What still runs of a process group; one that has ended and that nobody has asked for its exit code is not running."""
    left = []
    for stat in glob.glob("/proc/[0-9]*/stat"):
        try:
            name, rest = pathlib.Path(stat).read_text().split("(", 1)[1].rsplit(")", 1)
        except (FileNotFoundError, ProcessLookupError):
            continue
        state, _, its_group = rest.split()[:3]
        if int(its_group) == group and state != "Z":
            left.append(name)
    return left


def main():
    with tempfile.TemporaryDirectory() as folder:
        demo = subprocess.Popen([f"{SOURCE}/tools/demo", "--page", "--port", "0"], stdout=subprocess.PIPE, text=True,
                                start_new_session=True, env={**os.environ, "TMPDIR": folder})
        try:
            url = next(line for line in demo.stdout if line.startswith("The page is at ")).split()[-1]
            assert "<title>Counterspot" in answer(url)
            assert json.loads(answer(url + "api/open", {"file": "shaft.toml"}))["step"] == "spin_as_found"
            answer(url + "api/practice", {"drive": True})
            assert turning(url), "the simulated rig does not turn"
            os.killpg(demo.pid, signal.SIGINT)
            assert demo.wait(timeout=20) == 0
            assert not os.listdir(folder), os.listdir(folder)
            assert not left_of(demo.pid), f"left of the demo: {left_of(demo.pid)}"
        finally:
            if demo.poll() is None:
                os.killpg(demo.pid, signal.SIGKILL)


main()
