#!/usr/bin/env python3
"""'tools/demo --page' opens the page on the simulated rig, a job can be opened there, and Ctrl-C leaves nothing behind.

usage: demo_test.py SOURCE_FOLDER
"""
import json
import os
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
            try:
                os.killpg(demo.pid, 0)
                raise SystemExit("a process of the demo is left")
            except ProcessLookupError:
                pass
        finally:
            if demo.poll() is None:
                os.killpg(demo.pid, signal.SIGKILL)


main()
