#!/usr/bin/env python3
"""Work on the rig at the page, in Chromium, by touch alone and in German: where the rig stands, a qualification that is led one instruction
at a time, a program that is killed in the middle of it, the daily check, and what both do to verdicts.

usage: rig_work_test.py PROGRAM RIGSIM DATA_FOLDER OUTPUT_FOLDER [AXE_MIN_JS]

The first spin is made on the live simulated rig: hands are wanted after it while the shaft still turns, and nobody is sent there. The
rest is typed on the command line while the page looks on, from a rig that obeys Z = Z_0 + α W exactly, with Z_0 as the page recorded it:
the numbers that the result must show follow from that (no scatter, so a reduction of 100 %), by hand.
"""
import cmath
import json
import math
import os
import pathlib
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time

from chromium import browser
from console_program import Console
from rig_operator import Operator, live

PROGRAM, RIGSIM, DATA, OUTPUT = sys.argv[1:5]
AXE = pathlib.Path(sys.argv[5]).read_text(encoding="utf-8") if len(sys.argv) > 5 and sys.argv[5] else None
TURNS = "Die Welle dreht sich vielleicht"
# m/s² per kg·m; made up, of the size of the demo's rig.
ALPHA = ((cmath.rect(4000, 0.7), cmath.rect(900, 2.9)), (cmath.rect(800, 2.4), cmath.rect(3600, 0.4)))


class Shop:
    """A rig whose file says what it is to reach, and a reference shaft."""

    def __init__(self, folder):
        self.folder, self.log = folder, f"{folder}/log.db"
        self.files = os.path.join(folder, "shop")
        os.mkdir(self.files)
        rig = pathlib.Path(DATA, "rig.toml").read_text(encoding="utf-8")
        pathlib.Path(self.files, "rig.toml").write_text(rig + '\n[qualification]\nsmallest_residual = "80 g·mm"\n', encoding="utf-8")
        shaft = pathlib.Path(DATA, "shaft.toml").read_text(encoding="utf-8")
        pathlib.Path(self.files, "reference.toml").write_text(re.sub(r'id = "[^"]*"', 'id = "RS-1"', shaft, count=1), encoding="utf-8")

    def run(self, *arguments):
        done = subprocess.run([PROGRAM, *arguments], check=False, capture_output=True, text=True)
        assert done.returncode in (0, 1), (arguments, done.stderr)
        return done.stdout

    def next(self):
        return json.loads(self.run("rig", "next", "--log", self.log, "--json"))

    def recorded(self):
        """What the sensors read in the one recording that the page made, peak m/s²."""
        files = [file for file in pathlib.Path(self.folder, "spins").glob("*.flac") if ".cut" not in file.name and ".part" not in file.name]
        assert len(files) == 1, files
        track = json.loads(self.run("track", str(files[0]), "--rig", f"{self.files}/rig.toml", "--json"))
        first = [sensor["orders"][0] for sensor in track["sensors"]]
        return [cmath.rect(order["amplitude"], math.radians(order["phase_lag_deg"])) for order in first], track["speed_rpm"]

    def spin(self, step, bare, rpm, sensor_a=1.0):
        """A spin of the step that is asked for, typed. Far below its resonance an acceleration grows with the fourth power of the speed
        (rotating-unbalance response, any vibrations textbook); the rule that it is judged by is halfway to far above, the third."""
        fraction = (step["speed_rpm"] or rpm) / rpm
        planes = {"A": 0j, "B": 0j}
        for mass in step["test_masses"]:
            planes[mass["plane"]] += cmath.rect(mass["mass_g"] * mass["radius_mm"] * 1e-6, math.radians(mass["angle_deg"]))
        said = ["--speed", f"{fraction * rpm:.6f} rpm"]
        for name, at, row, gain in (("A", bare[0], ALPHA[0], sensor_a), ("B", bare[1], ALPHA[1], 1.0)):
            value = gain * fraction ** 4 * (at + row[0] * planes["A"] + row[1] * planes["B"])
            said += ["--vector", f"{name}={abs(value):.9g} m/s2 @ {math.degrees(cmath.phase(value)):.9g} deg ± 0.001 m/s2"]
        return json.loads(self.run("rig", "spin", "--log", self.log, "--json", *said))


def the_rig_is_unproved(operator):
    operator.go_to_rig()
    words = operator.text("#other")
    for said in ("ohne Eignungsprüfung", "Keine Tagesprüfung in den letzten 24 Stunden", "hält keine Bewertung zurück"):
        assert said in words, (said, words)
    assert not operator.shown("#begin-check"), "there is nothing yet that a check could be held against"
    operator.keep("unproved")


def the_first_spin_is_made_live(operator, console, shop):
    operator.press("Mit RS-1")
    operator.title(TURNS)
    assert not operator.sends_hands(), "nothing shows yet that the shaft stands"
    operator.press("Die Welle steht still")
    operator.title("Prüfwelle einbauen")
    assert "Marke an der Marke der Adapter" in operator.text("#first") and "keine Prüfmasse" in operator.text("#first")
    assert "Eignungsprüfung 1 von 34" in operator.text("#where"), operator.text("#where")
    operator.keep("mount", ("#title", "#first", "#fitted"))
    operator.press("Es ist so")
    operator.title("Messlauf der Prüfwelle")
    operator.keep("spin", ("#title", "#said", "#value", "#band", "#gauge"))
    operator.press("Antrieb ein")
    operator.until("a recording", lambda: live(console)["phase"] == "recording")
    operator.until("the spin to be kept", lambda: shop.next()["step"] == 2)
    operator.title("Auswuchtbank anhalten")
    operator.keep("turns-while-hands-are-wanted", ("#title", "#value"))
    for _ in range(10):
        assert not operator.sends_hands() and live(console)["hands_off"], operator.text("#title")
        time.sleep(0.2)
    operator.press("Antrieb aus")
    operator.title("Prüfmassen anbringen")
    assert live(console)["standing"]
    operator.keep("fit", ("#title", "#first", "#pieces input", "#fitted", ".face img"))


def masses_unlike_those_asked_for_are_asked_about(operator, shop):
    asked = shop.next()["test_masses"][0]
    mass = operator.shown("#pieces input[name=mass-0]")[0]
    as_asked = mass.get_attribute("value")
    assert as_asked == f"{asked['mass_g']:.1f} g".replace(".", ","), (as_asked, asked)
    operator.type_into(mass, "10 g")
    operator.press("Es ist auf der Welle")
    operator.until("the question", lambda: operator.shown("#as-typed"))
    assert not operator.text("#title").startswith("Mess")
    operator.press("Berichtigen")
    operator.type_into(operator.shown("#pieces input[name=mass-0]")[0], as_asked)
    operator.press("Es ist auf der Welle")
    operator.title("Messlauf der Prüfwelle")


def it_goes_on_where_it_was(operator, console, shop):
    operator.page.refresh()
    operator.title("Messlauf der Prüfwelle")
    assert as_said_on(operator, "A 102,6 g auf 12:00")
    console.kill()
    operator.until("the page to say that it is cut off", lambda: operator.shown("#lost"))
    console.start()
    operator.until("the program again", lambda: not operator.shown("#lost"))
    operator.title(TURNS)  # a program that was started again knows nothing of the shaft
    operator.press("Die Welle steht still")
    operator.title("Prüfmassen anbringen")  # nor what is on it
    assert shop.next()["step"] == 2


def as_said_on(operator, words):
    operator.until(f"'{words}'", lambda: words in operator.text("#said"), 10)
    return True


def typed_to_the_end(console, shop, bare, rpm):
    step = shop.next()
    while step["step"] > 0:
        if step["step"] == 17:
            what_stays_is_not_asked_for_again(console)
        step = shop.spin(step, bare, rpm)
    return step


def what_stays_is_not_asked_for_again(console):
    """The second position of the travelling mass. 20 and 100 times 80 g·mm at 39 mm are 41.0 and 205.1 g; the rotation is counter-clockwise
    as seen, so that an angle against it is read clockwise: 30 deg are 1:00."""
    _, _, text = console.ask("GET", "/api/now?language=en")
    now = json.loads(text)
    assert now["step"] == "fit_masses" and now["title"] == "Fit the test masses", now
    assert now["first"][0] == "Take off: A 205.1 g at 1:00, B 205.1 g at 5:00.", now["first"]
    assert now["first"][1] == "Stays on: A 41.0 g at 12:00, B 41.0 g at 6:00.", now["first"]
    assert now["first"][-1] == "Nothing else is on the shaft.", now["first"]
    assert [(each["plane"], each["mass"], each["clock"]) for each in now["fit"]] == [("A", "205.1 g", "2:00"), ("B", "205.1 g", "4:00")], now["fit"]


def the_result_is_shown(operator, console, shop):
    bare, rpm = shop.recorded()
    assert abs(rpm / 1620 - 1) < 0.01, rpm
    result = typed_to_the_end(console, shop, bare, rpm)["result"]
    assert result["passed"] and result["reduction_percent"] > 99.99, result
    speed = next(each for each in result["findings"] if each["place"] == "effect of speed")
    assert speed["measured"] < 0.001, speed  # the fourth power is that of stiff pedestals
    operator.page.execute_script("refresh()")
    operator.title("Die Auswuchtbank HAT die Eignungsprüfung BESTANDEN")
    assert "Jeden Tag mit derselben Welle prüfen" in operator.text("#result") and "Reduzierverhältnis mindestens 100,0 %" in operator.text("#result")
    assert len(operator.shown("#result tbody tr")) == 6
    operator.until("its picture", lambda: operator.page.execute_script("const img = document.querySelector('#result img'); return img.complete && img.naturalWidth > 0;"))
    operator.keep("passed", ("#title", "#rig-next"))
    operator.press("Zur Seite der Auswuchtbank")
    operator.until("how it stands", lambda: "Eignungsprüfung bestanden am" in operator.text("#rig-stands"))
    assert "Keine Tagesprüfung in den letzten 24 Stunden" in operator.text("#other") and "hält keine Bewertung zurück" in operator.text("#other")
    operator.keep("proved")
    return bare, rpm


def the_day_is_checked(operator, shop, bare, rpm, sensor_a):
    """By the reference shaft as it is, and with known masses; a sensor that reads otherwise is outside."""
    operator.press("Tagesprüfung mit RS-1")
    operator.until("the check", lambda: "Tagesprüfung 1 von 2" in operator.text("#where"))
    shop.spin(shop.next(), bare, rpm, sensor_a)
    operator.page.execute_script("refresh()")
    operator.title("Prüfmassen anbringen")
    shop.spin(shop.next(), bare, rpm, sensor_a)
    operator.page.execute_script("refresh()")
    operator.title("Die Auswuchtbank liegt")
    return operator.text("#title")


def checks_are_told(operator, shop, bare, rpm):
    assert "AUSSERHALB" in the_day_is_checked(operator, shop, bare, rpm, 1.3)
    assert "keine Welle innerhalb" in operator.text("#rig-next")
    operator.keep("outside", ("#title", "#rig-next"))
    operator.press("Zur Seite der Auswuchtbank")
    operator.until("what it does", lambda: "hält Bewertungen zurück" in operator.text("#rig-verdicts"))
    assert "In den letzten 24 Stunden geprüft" in operator.text("#other")
    operator.press("Tagesprüfung mit RS-1")
    operator.press("Messläufe gemacht: 0 von 2")
    operator.until("how to end it", lambda: operator.shown("#rig-end input"))
    operator.type_into(operator.shown("#rig-end input")[0], "ein Kabel war lose")
    operator.press("Beenden")
    operator.title("Tagesprüfung abgebrochen: ein Kabel war lose")
    operator.press("Zur Seite der Auswuchtbank")
    operator.until("that a check which was ended tells nothing", lambda: "hält Bewertungen zurück" in operator.text("#rig-verdicts"))
    assert "INNERHALB" in the_day_is_checked(operator, shop, bare, rpm, 1.0)
    operator.press("Zur Seite der Auswuchtbank")
    operator.until("what it does", lambda: "hält keine Bewertung zurück" in operator.text("#rig-verdicts"))
    operator.until("both charts", lambda: operator.page.execute_script(
        "return [...document.querySelectorAll('#other img')].filter((each) => each.complete && each.naturalWidth > 0).length") == 2)
    operator.keep("checked")


def free_port():
    """To be found again at by a page whose program was killed."""
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        return asked.getsockname()[1]


def main():
    os.makedirs(OUTPUT, exist_ok=True)
    folder = tempfile.mkdtemp()
    try:
        shop = Shop(folder)
        pipe, control = os.path.join(folder, "rig.pipe"), os.path.join(folder, "control")
        os.mkfifo(pipe)
        pathlib.Path(control).write_text("drive off\n", encoding="ascii")
        rig = subprocess.Popen([RIGSIM, "live", "--control", control, "--out", pipe, "--run-up", "2"])
        try:
            with Console(PROGRAM, shop.files, folder, "--source", f"raw:{pipe}", "--rate", "5120 Hz", "--practice", control, "--speed", "1620 rpm",
                         "--seconds", "4 s", "--language", "de", port=free_port()) as console:
                page = browser(folder)
                try:
                    operator = Operator(page, OUTPUT, "rig-work", AXE)
                    page.get(console.url)
                    the_rig_is_unproved(operator)
                    the_first_spin_is_made_live(operator, console, shop)
                    masses_unlike_those_asked_for_are_asked_about(operator, shop)
                    it_goes_on_where_it_was(operator, console, shop)
                    bare, rpm = the_result_is_shown(operator, console, shop)
                    checks_are_told(operator, shop, bare, rpm)
                    assert not operator.findings, operator.findings
                    print("34 spins and two daily checks, by touch")
                finally:
                    page.quit()
        finally:
            rig.terminate()
            rig.wait()
    finally:
        shutil.rmtree(folder)


main()
