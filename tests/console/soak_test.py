#!/usr/bin/env python3
"""The console over a long time, on a clock as fast as the machine reads: threads and open files are the same at the end as after the
first hour, and memory is nearly. Two screens follow; every five minutes a shaft is opened, runs up, is recorded and closed, all views
are looked at, and a recording is brought by hand.

usage: soak_test.py PROGRAM DATA_FOLDER [HOURS]      two hours by default; 24 took 289 s, from 30.9 to 34.3 MiB
"""
import json
import os
import pathlib
import subprocess
import sys
import tempfile
import threading
import time

import numpy

sys.path.insert(0, str(pathlib.Path(__file__).parent))
from console_program import COMMAND, Console  # noqa: E402

PROGRAM, DATA = sys.argv[1:3]
HOURS = int(sys.argv[3]) if len(sys.argv) > 3 else 2
# Slow samples, so that a day is not only bytes: what grows, grows with turns, spins, jobs and requests.
RATE_HZ, SPIN_HZ = 2560, 27.0
CYCLE_S, REST_S, RAMP_S, STEADY_S = 300, 60, 15, 120
# Once in a while the allocator takes 1 to 2 MiB and keeps them: room for three such steps, and for a list of jobs that grows. If a spin's
# samples (150 kB as they are recorded) stayed with each job, that would be 40 MiB a day.
STEPS_MIB, MOST_MIB_AN_HOUR = 5.0, 0.1


def cycle():
    """From rest to speed and back, as frames of 16 bits: two accelerometers with order 1, a tach pulse, noise."""
    time_s = numpy.arange(CYCLE_S * RATE_HZ) / RATE_HZ
    end_s = REST_S + RAMP_S + STEADY_S
    speed_hz = SPIN_HZ * numpy.interp(time_s, [REST_S, REST_S + RAMP_S, end_s, end_s + RAMP_S], [0, 1, 1, 0])
    turns = numpy.cumsum(speed_hz) / RATE_HZ
    noise = numpy.random.default_rng(3).normal(0, 20, (len(time_s), 2))
    strength = (speed_hz / SPIN_HZ) ** 2
    a = 3000 * strength * numpy.cos(2 * numpy.pi * turns - 0.6) + noise[:, 0]
    b = 2000 * strength * numpy.cos(2 * numpy.pi * turns - 2.4) + noise[:, 1]
    tach = numpy.where((turns % 1.0 < 0.05) & (speed_hz > 0), 16000, 0)
    return numpy.stack([a, b, tach], axis=1).astype("<i2").tobytes()


class Screen:
    """Follows the live events for as long as it is there, as the page does."""

    def __init__(self, console):
        self.connection = console.open_connection()
        self.connection.sendall(console.head("GET", "/api/live").encode())
        self.thread = threading.Thread(target=self.read)
        self.thread.start()

    def read(self):
        try:
            while self.connection.recv(65536):
                pass
        except OSError:
            pass

    def close(self):
        self.connection.shutdown(2)
        self.thread.join()
        self.connection.close()


def mib_held(console):
    with open(f"/proc/{console.process.pid}/status", encoding="ascii") as status:
        return next(int(line.split()[1]) for line in status if line.startswith("VmRSS")) / 1024


def files_open(console):
    return len(os.listdir(f"/proc/{console.process.pid}/fd"))


def now(console):
    return json.loads(console.ask("GET", "/api/now")[2])


def command(console, path, said):
    status, _, text = console.ask("POST", path, {**COMMAND, "Content-Type": "application/json"}, json.dumps(said).encode())
    assert status == 200, text


def wait_until(what, condition, seconds=120):
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, f"waited in vain for {what}"
        time.sleep(0.02)


def look_at_everything(console):
    job = now(console)["job"]
    for path in ("/", "/console.js", "/api/now", "/api/jobs", f"/api/job?job={job}", "/api/trends", "/api/health", "/api/shafts"):
        assert console.asked("GET", path)[0] in (200, 400), path


def work(console, pipe, samples, upload):
    """One cycle. The samples are given in pieces, as fast as they are taken; a spin that was asked for is there before the next cycle."""
    command(console, "/api/open", {"file": "shaft.toml"})
    before = now(console)["entries"]
    for at in range(0, len(samples), 1 << 16):
        pipe.write(samples[at:at + (1 << 16)])
    wait_until("the spin to be kept", lambda: now(console)["entries"] > before)
    look_at_everything(console)
    status, _, text = console.ask("POST", "/api/upload", COMMAND, upload)
    assert status == 200, text
    said = now(console)
    command(console, "/api/close", {"job": said["job"], "entries": said["entries"], "reason": "the tube is dented"})


def at_rest(console):
    """Threads, files and MiB, when those that answered have gone."""
    time.sleep(1.0)
    return console.threads(), files_open(console), mib_held(console)


def soak(folder):
    pipe_name = f"{folder}/rig.pipe"
    os.mkfifo(pipe_name)
    samples, upload = cycle(), pathlib.Path(DATA, "00-as-found.flac").read_bytes()
    console = Console(PROGRAM, DATA, folder, "--source", f"raw:{pipe_name}", "--rate", f"{RATE_HZ} Hz", "--format", "s16le", "--speed",
                      f"{60 * SPIN_HZ:g} rpm", "--seconds", "10 s")
    begin = time.monotonic()
    with console, open(pipe_name, "wb", buffering=0) as pipe:
        screens = [Screen(console) for _ in range(2)]
        seen = []
        try:
            for hour in range(HOURS):
                for _ in range(3600 // CYCLE_S):
                    work(console, pipe, samples, upload)
                seen.append(at_rest(console))
                print(f"hour {hour + 1}: {seen[-1][0]} threads, {seen[-1][1]} files, {seen[-1][2]:.1f} MiB", flush=True)
            health = json.loads(console.ask("GET", "/api/health")[2])
        finally:
            for each in screens:
                each.close()
    took_s = time.monotonic() - begin
    print(f"{HOURS} h in {took_s:.0f} s, {3600 * HOURS / took_s:.0f} times as fast as they go by; {HOURS * 3600 // CYCLE_S} jobs")
    (threads, files, first_mib), (threads_now, files_now, last_mib) = seen[0], seen[-1]
    assert health["overruns"] == 0, health
    assert (threads_now, files_now) == (threads, files), (seen[0], seen[-1])
    assert len(seen) > 1 and last_mib - first_mib < STEPS_MIB + MOST_MIB_AN_HOUR * (HOURS - 1), f"from {first_mib:.1f} to {last_mib:.1f} MiB"
    jobs = subprocess.run([PROGRAM, "log", "check", "--log", f"{folder}/log.db"], check=True, capture_output=True, text=True).stdout
    print(jobs.strip())


with tempfile.TemporaryDirectory() as made:
    soak(made)
