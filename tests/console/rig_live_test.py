#!/usr/bin/env python3
"""All spins of a qualification, and of a recalibration after it, made at the page on the live simulated rig, by touch and in German: what
hands do is said and confirmed, the drive is switched by the page's button, each spin is recorded by itself. The rig's time runs as
fast as PACE.

usage: rig_live_test.py PROGRAM RIGSIM DATA_FOLDER OUTPUT_FOLDER
"""
import json
import os
import pathlib
import subprocess
import sys
import tempfile
import time
import tomllib

from chromium import browser
from console_program import Console
from rig_operator import Operator, live
from typed_rig import TypedRig

PROGRAM, RIGSIM, DATA, OUTPUT = sys.argv[1:5]
PACE = 4
# How test masses sit in their holes, as tools/rigsim/live.hpp says: 0.2 %, one standard deviation. A sensitivity rests on one mass in each
# plane, both over those of the qualification: twice √2 times that, and room for what planes have in common.
SET_IN_HOLES = 0.01


def entries(operator):
    return operator.page.execute_script("return state.now.entries")


def a_spin(operator, console, number):
    operator.until("what hands do", lambda: operator.shown("#fitted"))
    assert live(console)["standing"], "hands are asked for while the shaft may turn"
    operator.until("the form, drawn for good", lambda: operator.text("#title").startswith("Messlauf") or (operator.touch(operator.shown("#fitted")[0]), time.sleep(1))[0] is None)
    operator.title("Messlauf der Prüfwelle")
    operator.press("Antrieb ein")
    operator.until("the spin to be kept", lambda: entries(operator) > number)
    operator.press("Antrieb aus")


def spins(operator, console, of):
    begin = time.monotonic()
    for number in range(of):
        a_spin(operator, console, number)
        print(f"spin {number + 1} of {of} after {time.monotonic() - begin:.0f} s", flush=True)
    operator.until("what they came to", lambda: operator.shown("#rig-next"))
    return time.monotonic() - begin


def a_qualification(operator, console, rig):
    operator.go_to_rig()
    operator.press("Mit RS-1")
    operator.until("to be asked whether it stands", lambda: operator.shown("#stands-button, #fitted"))
    if operator.shown("#stands-button"):
        operator.press("Die Welle steht still")
    took_s = spins(operator, console, 34)
    result = rig.next()["result"]
    print(f"34 spins in {took_s:.0f} s:", operator.text("#title"), operator.text("#result"), sep="\n")
    assert len(list(pathlib.Path(rig.log).parent.glob("spins/*qualification*.flac"))) >= 34
    assert operator.text("#title").startswith("Die Auswuchtbank HAT die Eignungsprüfung BESTANDEN") == result["passed"]
    assert result["passed"], result
    operator.keep("passed")


def a_recalibration(operator, console, rig):
    """Nothing of the sensors has changed, so what is found is what the file says."""
    before = sensitivities(rig)
    operator.press("Zur Seite der Auswuchtbank")
    operator.press("Die Aufnehmer mit RS-1 neu kalibrieren")
    operator.until("the offer", lambda: operator.shown("#begin-recalibration .offer"))
    operator.touch(operator.shown("#begin-recalibration .offer")[0])
    operator.until("its first step", lambda: "Neukalibrierung 1 von 3" in operator.text("#where"))
    print(f"3 spins in {spins(operator, console, 3):.0f} s")
    operator.touch(operator.shown("#rig-write")[0])
    operator.until("that it is written", lambda: "stehen in der Datei" in operator.text("#rig-next"))
    for old, new in zip(before, sensitivities(rig), strict=True):
        assert abs(new / old - 1) < SET_IN_HOLES, (old, new)


def sensitivities(rig):
    return [float(each["sensitivity"].split()[0]) for each in tomllib.loads((rig.files / "rig.toml").read_text(encoding="utf-8"))["sensor"]]


def main():
    os.makedirs(OUTPUT, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        rig = TypedRig(PROGRAM, DATA, folder)
        pipe, control = f"{folder}/rig.pipe", f"{folder}/control"
        os.mkfifo(pipe)
        pathlib.Path(control).write_text("drive off\n", encoding="ascii")
        simulated = subprocess.Popen([RIGSIM, "live", "--control", control, "--out", pipe, "--drilled", "--run-up", "2", "--pace", str(PACE)])
        try:
            with Console(PROGRAM, rig.files, folder, "--source", f"raw:{pipe}", "--rate", "5120 Hz", "--practice", control, "--speed",
                         "1620 rpm", "--seconds", "4 s", "--language", "de") as console:
                page = browser(folder)
                try:
                    operator = Operator(page, OUTPUT, "rig-live")
                    page.get(console.url)
                    a_qualification(operator, console, rig)
                    a_recalibration(operator, console, rig)
                finally:
                    page.quit()
        finally:
            simulated.terminate()
            simulated.wait()


main()
