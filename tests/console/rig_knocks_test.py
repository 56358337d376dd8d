#!/usr/bin/env python3
"""The daily check by knocks at the page, by touch and in German, on the simulated rig of a first day, which can be knocked on: knocks that
cannot be read check nothing and nothing is kept of them; those that can are kept, and say so where the rig's day is shown.

usage: rig_knocks_test.py PROGRAM RIGSIM OUTPUT_FOLDER

How the rig is cabled is what the simulation says of itself. In case 301 sensor A is turned over: a file that says so is right, and one
that does not is told.
"""
import json
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import time

from chromium import browser
from console_program import COMMAND, Console
from rig_operator import Operator, live

PROGRAM, RIGSIM, OUTPUT = sys.argv[1:4]
CASE = sys.argv[4] if len(sys.argv) > 4 else "301"
KNOCKS_S = 8.5  # of the simulation: three of them, and until the last has died away


def rig_file(told, sensitivity_of_a="-100 mV/g"):
    a, b = told["sensors"].split()
    return f"""[rig]
name = "bay 7"
rotation = "{told['rotation']}"
viewing_end = "{told['viewing_end']}"
[tach]
channel = {told['tach']}
pulses_per_revolution = 1
full_scale = "10 V"
[[sensor]]
name = "A"
channel = {a}
sensitivity = "{sensitivity_of_a}"
full_scale = "10 V"
[[sensor]]
name = "B"
channel = {b}
sensitivity = "100 mV/g"
full_scale = "10 V"
"""


class Hammer:
    """What hands do at the simulated rig."""

    def __init__(self, control):
        self.control = control

    def do(self, act):
        pathlib.Path(self.control + ".new").write_text(act + "\n", encoding="ascii")
        os.replace(self.control + ".new", self.control)


def stands(operator):
    """A rig that is knocked on trembles, and it is said by who sees it that nothing turns."""
    operator.until("hands or the question", lambda: operator.shown("#fitted") or operator.shown("#stands-button"))
    if operator.shown("#stands-button"):
        operator.press("Die Welle steht still")
    operator.until("hands", lambda: operator.shown("#fitted"))


def recorded(operator, console, hammer, end, knocked):
    stands(operator)
    operator.title(f"Dreimal an Lagerbock {end} klopfen")
    operator.press("Nichts dreht sich: aufnehmen")
    operator.until("the recording", lambda: live(console)["phase"] == "recording")
    if knocked:
        hammer.do("rest")
        time.sleep(0.3)
        hammer.do(knocked)
        time.sleep(KNOCKS_S)
        hammer.do("rest")
    else:
        time.sleep(1.5)
    operator.press("Das war alles")


def kept_off(operator, console, hammer, after):
    """The drive is switched on, whatever the page was at: from when the tach shows it no hands are asked for, and nobody is let record."""
    hammer.do("bare")
    operator.until("the turning shaft", lambda: live(console)["motion"] == "turning")
    operator.title("Auswuchtbank anhalten")
    for _ in range(5):
        shown = live(console)
        assert shown["hands_off"] and shown["phase"] != "recording" and not operator.sends_hands() and not operator.shown("#fitted"), (after, shown)
        assert console.code("POST", "/api/knocks-record", headers=COMMAND, body=b'{"entries": 0}')[1] == "may_turn"
        time.sleep(0.4)
    hammer.do("rest")
    operator.until("the shaft to stop", lambda: live(console)["motion"] != "turning")
    assert live(console)["hands_off"] and not operator.sends_hands(), "a shaft that has just ceased to show pulses may turn"
    stands(operator)
    operator.title("Dreimal an Lagerbock A klopfen")


def the_shaft_turns(operator, console, hammer, folder):
    stands(operator)
    kept_off(operator, console, hammer, "while knocks are asked for")
    operator.press("Nichts dreht sich: aufnehmen")
    operator.until("the recording", lambda: live(console)["phase"] == "recording")
    hammer.do("knocks-a")
    time.sleep(2)
    kept_off(operator, console, hammer, "while they are recorded")
    kept = [each.name for each in pathlib.Path(folder, "spins").glob("*-knocks-a-*") if ".cut-" not in each.name]
    assert not kept, f"a recording that was cut off is none of knocks: {kept}"


def the_tach_is_dead(operator, console, hammer, folder):
    """The drive is switched on while knocks are recorded, and only the sensors can tell."""
    stands(operator)
    operator.press("Nichts dreht sich: aufnehmen")
    operator.until("the recording", lambda: live(console)["phase"] == "recording")
    hammer.do("knocks-a")
    time.sleep(2)
    hammer.do("blind bare")
    operator.until("hands to be called back", lambda: live(console)["hands_off"] and live(console)["phase"] != "recording")
    for _ in range(5):
        shown = live(console)
        assert shown["hands_off"] and shown["motion"] == "unknown" and not shown["may_confirm"] and not operator.sends_hands(), shown
        assert console.code("POST", "/api/knocks-record", headers=COMMAND, body=b'{"entries": 0}')[1] == "may_turn"
        time.sleep(0.4)
    hammer.do("rest")
    stands(operator)
    operator.title("Dreimal an Lagerbock A klopfen")
    kept = [each.name for each in pathlib.Path(folder, "spins").glob("*-knocks-a-*") if ".cut-" not in each.name]
    assert not kept, f"a recording that was cut off is none of knocks: {kept}"


def standing(program, folder):
    shown = subprocess.run([program, "rig", "show", "--rig", f"{folder}/shop/rig.toml", "--log", f"{folder}/log.db", "--json"], check=True,
                           capture_output=True, text=True).stdout
    return json.loads(shown)


def main():
    os.makedirs(OUTPUT, exist_ok=True)
    told = dict(line.split(" ", 1) for line in subprocess.run([RIGSIM, "first-day", "--case", CASE, "--describe"], check=True, capture_output=True, text=True).stdout.splitlines())
    folder = tempfile.mkdtemp()
    os.mkdir(f"{folder}/shop")
    pathlib.Path(folder, "shop", "rig.toml").write_text(rig_file(told), encoding="utf-8")
    hammer = Hammer(f"{folder}/control")
    hammer.do("rest")
    os.mkfifo(f"{folder}/pipe")
    rig = subprocess.Popen([RIGSIM, "first-day", "--case", CASE, "--control", hammer.control, "--out", f"{folder}/pipe"])
    try:
        with Console(PROGRAM, f"{folder}/shop", folder, "--source", f"raw:{folder}/pipe", "--rate", told["rate"] + " Hz", "--channels", told["channels"],
                     "--language", "de") as console:
            page = browser(folder)
            try:
                operator = Operator(page, OUTPUT, "rig-knocks")
                page.get(console.url)
                operator.go_to_rig()
                operator.press("Tagesprüfung mit Schlägen")
                operator.until("the gate", lambda: operator.text("#title").startswith("Die Welle dreht sich vielleicht") and not operator.text("#fit"))
                the_shaft_turns(operator, console, hammer, folder)
                the_tach_is_dead(operator, console, hammer, folder)
                recorded(operator, console, hammer, "A", None)
                recorded(operator, console, hammer, "B", None)
                operator.title("Noch einmal: die Schläge sind nicht zu deuten")
                assert "nicht geprüft" in operator.text("#rig-next") and "ragt ein Schlag aus dem Rauschen" in operator.text("#result"), operator.text("#result")
                operator.keep("unread", ("#title", "#rig-next"))
                assert standing(PROGRAM, folder)["knocked"] is None, "nothing is kept of knocks that cannot be read"
                operator.press("Zur Seite der Auswuchtbank")
                operator.press("Tagesprüfung mit Schlägen")
                recorded(operator, console, hammer, "A", "knocks-a")
                stands(operator)
                operator.keep("at-b", ("#title", "#first", "#fitted"))
                recorded(operator, console, hammer, "B", "knocks-b")
                operator.title("Auswuchtbank bay 7")
                shown = standing(PROGRAM, folder)
                assert shown["knocked"] and shown["knocks_within"] is operator.text("#title").endswith("wie zuvor"), shown
                assert shown["knocks_within"], operator.text("#result")
                operator.keep("within", ("#title", "#rig-next"))
                operator.press("Zur Seite der Auswuchtbank")
                operator.until("the day", lambda: "In den letzten 24 Stunden geprüft" in operator.text("#other") and "letzte Prüfung mit Schlägen" in operator.text("#other"))
                print("a shaft that turns before and while knocks are recorded, knocks that cannot be read, and knocks that can")
            finally:
                page.quit()
    finally:
        rig.terminate()
        rig.wait()
        shutil.rmtree(folder)


main()
