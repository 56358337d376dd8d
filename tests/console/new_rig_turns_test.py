#!/usr/bin/env python3
"""A shaft that turns while knocks are recorded of a new rig, asked of the real program over HTTP: the recording is given up, hands are called
back, and the same knocks are asked for again once all stands. What is done is done at the simulated rig of a first day.

usage: new_rig_turns_test.py PROGRAM RIGSIM
"""
import json
import os
import pathlib
import subprocess
import sys
import tempfile
import time

from console_program import COMMAND, SLOWER, Console

PROGRAM, RIGSIM = sys.argv[1:3]
CASE = "303"
KNOCKS_S = 8.5  # of the simulation: three of them, and until the last has died away
STEP_S = 60 * SLOWER


class NewRig(Console):
    """The console of a rig that has no file yet."""

    def __init__(self, program, folder, *more):
        super().__init__(program, "", folder)
        self.command_line = [program, "console", "--new-rig", f"{folder}/shop", "--port", "0", "--language", "en", *more]

    def told(self, what):
        return json.loads(self.ask("GET", "/api/" + what)[2])

    def say(self, what, step):
        status, _, text = self.ask("POST", "/api/" + what, COMMAND, json.dumps({"step": step}).encode())
        return status, json.loads(text)


def wait(what, console, condition):
    end = time.monotonic() + STEP_S
    while time.monotonic() < end:
        if condition(console.told("now")):
            return
        time.sleep(0.1)
    raise SystemExit(f"waited in vain for {what}: {console.told('now')} {console.told('live-once')}")


def stands(console, do):
    """Once nothing speaks against it, somebody who looks says that all stands."""
    do("rest")
    wait("that it may be said", console, lambda _: console.told("live-once")["may_confirm"])
    assert console.say("stands", "")[0] == 200


def to_the_knocks(console, do):
    """What comes before them: the rig at rest, and the drive alone."""
    while True:
        wait("an instruction", console, lambda now: now["stage"] not in ("recording", "finding"))
        now = console.told("now")
        if (now["stage"], now["step"]) == ("record", "knocks-a"):
            return
        if now["stage"] == "stand":
            stands(console, do)
        elif now["stage"] == "hands":
            assert console.say("hands", now["step"])[0] == 200
        else:
            do(now["step"])
            time.sleep(2 if now["driven"] else 0)
            assert console.say("record", now["step"])[0] == 200
        wait("another", console, lambda then: (then["stage"], then.get("step")) != (now["stage"], now["step"]))


def a_shaft_turns(console, do, after):
    do("bare")
    wait(f"hands to be called back {after}", console, lambda now: now["stage"] == "stand")
    for _ in range(5):
        now, live = console.told("now"), console.told("live-once")
        assert now["stage"] == "stand" and now["step"] == "knocks-a" and not live["may_confirm"], (after, now, live)
        status, answer = console.say("stands", "")
        assert (status, answer["code"]) == (400, "may_turn"), (after, status, answer)
        assert console.say("record", "knocks-a")[1]["code"] != "", after
        time.sleep(0.4)


def main():
    told = dict(line.split(" ", 1) for line in subprocess.run([RIGSIM, "first-day", "--case", CASE, "--describe"], check=True, capture_output=True,
                                                              text=True).stdout.splitlines())
    with tempfile.TemporaryDirectory() as folder:
        control = f"{folder}/control"

        def do(act):
            pathlib.Path(control + ".new").write_text(act + "\n", encoding="ascii")
            os.replace(control + ".new", control)

        do("rest")
        os.mkfifo(f"{folder}/pipe")
        rig = subprocess.Popen([RIGSIM, "first-day", "--case", CASE, "--control", control, "--out", f"{folder}/pipe"])
        try:
            with NewRig(PROGRAM, folder, "--source", f"raw:{folder}/pipe", "--rate", told["rate"] + " Hz", "--channels", told["channels"]) as console:
                to_the_knocks(console, do)
                a_shaft_turns(console, do, "before knocks are recorded")
                to_the_knocks(console, do)
                assert console.say("record", "knocks-a")[0] == 200
                do("knocks-a")
                time.sleep(3)
                assert console.told("now")["stage"] == "recording", "knocks alone are no turning shaft"
                a_shaft_turns(console, do, "while they are recorded")
                now = console.told("now")
                assert "knock again" in now["trouble"] and "knocks-a" not in [each["what"] for each in now["again_of"]], now
                to_the_knocks(console, do)
                assert console.say("record", "knocks-a")[0] == 200
                do("knocks-a")
                time.sleep(KNOCKS_S)
                assert console.say("enough", "knocks-a")[0] == 200
                wait("the knocks at B", console, lambda now: now.get("step") == "knocks-b" and "again" not in now)
                print("a shaft that turns before and while knocks are recorded of a new rig, and knocks that are taken")
        finally:
            rig.kill()
            rig.wait()


main()
