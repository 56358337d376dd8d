#!/usr/bin/env python3
"""The page as the rig's instrument, in Chromium on the live simulated rig: curves, a cable that goes off, four sizes without
scrolling, nothing from outside, and, once the job is closed, the simulated shaft's truth.

usage: instrument_test.py PROGRAM RIGSIM DATA_FOLDER OUTPUT_FOLDER
"""
import json
import os
import pathlib
import re
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent))
from chromium import browser, until  # noqa: E402
from console_program import COMMAND, Console  # noqa: E402

PROGRAM, RIGSIM, DATA, OUTPUT = sys.argv[1:5]
SIZES = ((1280, 800), (1920, 1080), (800, 1280), (390, 844))
STEP_S = 60


class Rig:
    def __init__(self, console, page, control):
        self.console, self.page, self.control = console, page, control

    def wait(self, what, condition):
        until(self.page, what, condition, os.path.join(OUTPUT, "instrument-stuck.png"), STEP_S)

    def ask(self, path):
        return json.loads(self.console.ask("GET", path)[2])

    def say(self, path, **said):
        status, _, text = self.console.ask("POST", path, COMMAND, json.dumps(said).encode())
        assert status == 200, text

    def live(self):
        return self.ask("/api/live-once")

    def script(self, text):
        return self.page.execute_script(text)

    def mishap(self, name):
        """Its button on the page, which then says whether it is switched on."""
        button = f"document.querySelector('#mishaps [value={name}]')"
        before = self.script(f"return {button}.getAttribute('aria-pressed')")
        self.script(f"{button}.click()")
        self.wait(f"the mishap {name}", lambda: self.script(f"return {button}.getAttribute('aria-pressed')") != before)

    def show(self, what):
        self.script(f"document.querySelector('#instruments [value={what}]').click()")

    def fits(self, name):
        too_high = []
        for width, height in SIZES:
            self.page.execute_cdp_cmd("Emulation.setDeviceMetricsOverride",
                                      {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False})
            time.sleep(0.5)
            self.page.save_screenshot(os.path.join(OUTPUT, f"instrument-{name}-{width}.png"))
            # the course of the job, folded below, is no part of the step
            high = self.script("return Math.ceil(document.getElementById('cautions').getBoundingClientRect().bottom + window.scrollY)")
            if high > height:
                too_high.append(f"{high} px high on a screen of {width}x{height}")
        assert not too_high, (name, too_high)
        self.page.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


def curves_are_live(rig):
    def drawn():
        return rig.script("const image = document.querySelector('#curves-picture img'); return image && image.naturalWidth > 0 && image.src")

    for what in ("time", "speed", "orders"):
        rig.show(what)
        rig.wait(f"the picture over {what}", drawn)
        first = drawn()
        assert f"/live-{what}.svg" in first
        if what != "orders":
            rig.wait("the next one", lambda first=first: drawn() != first)
    svg = rig.console.ask("GET", "/live-time.svg?theme=light")[2]
    assert "<svg" in svg and len(svg) > 5000
    rig.show("faces")


def a_loose_cable_is_said(rig):
    rig.mishap("loose")
    begin = time.monotonic()
    rig.wait("what the face says", lambda: "gives nothing" in rig.script("return document.querySelector('#faces').textContent"))
    print(f"said on the page after {time.monotonic() - begin:.1f} s")
    assert rig.script("return [...document.querySelectorAll('#faces .tip, #faces .arrow')].every((each) => each.hasAttribute('hidden'))")
    assert all(face["tip"] is None for face in rig.live()["faces"])
    rig.mishap("loose")
    rig.wait("it to be shown again", lambda: all(face["tip"] for face in rig.live()["faces"]))


def a_lost_tach_is_said(rig):
    """Switched off at the page: nothing is recorded on its word, and nobody is sent to the shaft; with it back, the work goes on."""
    rig.mishap("tach")
    rig.wait("the loss to be said", lambda: "tach is lost" in rig.script("return document.querySelector('#said').textContent"))
    assert rig.live()["phase"] != "recording" and rig.live()["tach_lost"] and not rig.live()["standing"]
    assert not rig.script("return document.querySelector('#fit').checkVisibility()")
    rig.mishap("tach")
    # Not its phase: on a busy machine the spin was recorded before the tach went.
    rig.wait("the speed again", lambda: not rig.live()["tach_lost"] and rig.live()["motion"] == "turning" and rig.live()["speed_rpm"] > 1000)


def a_wrong_weight_is_on_the_shaft(rig, stated_g):
    """Half as heavy again as was said, for the simulated shaft alone."""
    def on_the_shaft():
        return [float(mass) for mass in re.findall(r"fitted \w+: ([\d.]+) g", pathlib.Path(rig.control).read_text(encoding="ascii"))]

    assert on_the_shaft() == [stated_g], (on_the_shaft(), stated_g)
    rig.mishap("weight")
    rig.wait("the wrong weight", lambda: on_the_shaft() == [round(1.5 * stated_g, 4)])
    rig.mishap("weight")
    rig.wait("the right one", lambda: on_the_shaft() == [stated_g])


def nothing_comes_from_outside(rig):
    asked = rig.script("return performance.getEntriesByType('resource').map((each) => each.name)")
    assert len(asked) > 10 and all(name.startswith(rig.console.url) for name in asked), asked
    for path in ("/", "/console.css", "/console.js", "/faces.js", "/curves.js", "/practice.js", "/signals.js", "/watch.js", "/fit.js"):
        outside = set(re.findall(r"https?://[^'\"\s)]+", rig.console.ask("GET", path)[2])) - {"http://www.w3.org/2000/svg"}
        assert not outside, (path, outside)


def a_choice_is_a_step(rig):
    """Trial weights off or still on: chosen, confirmed where it is said again, and Back leads to it; none of it scrolls. On a phone one plane
    comes after the other, and nothing is stated before all were shown."""
    shown = lambda selector: rig.script(f"const part = document.querySelector('{selector}'); return Boolean(part && part.checkVisibility())")
    chosen = lambda: rig.script("const line = document.querySelector('#chosen'); return line ? line.textContent : ''")
    rig.wait("the choice", lambda: shown("#choices"))
    assert not shown("#fitted")
    rig.fits("which")
    rig.script("document.querySelector('.choice[value=as_spun]').click()")
    rig.wait("what was chosen", lambda: "still on" in chosen())
    rig.page.back()
    rig.wait("the choice again", lambda: shown("#choices"))
    # A pedal chooses the usual; one that bounces states nothing beside.
    entries = rig.ask("/api/now")["entries"]
    time.sleep(1.2)  # longer than what counts as one stroke
    rig.script("""document.activeElement.blur();
        for (const each of [1, 2]) document.body.dispatchEvent(new KeyboardEvent('keydown', { key: 'PageDown', bubbles: true, cancelable: true }));""")
    rig.wait("what the pedal chose", lambda: "trial weights are off" in chosen())
    assert rig.ask("/api/now")["entries"] == entries
    rig.wait("the pictures", lambda: rig.script("return [...document.querySelectorAll('.face img')].filter((each) => each.naturalWidth).length === 2"))
    rig.fits("correction")
    rig.page.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {"width": 390, "height": 844, "deviceScaleFactor": 1, "mobile": False})
    assert shown("#next-plane") and not shown("#fitted") and not shown("#pieces fieldset:last-child")
    rig.script("document.querySelector('#next-plane').click()")
    assert shown("#fitted") and not shown("#next-plane") and shown("#pieces fieldset:last-child")
    rig.fits("correction-b")
    rig.page.refresh()
    rig.wait("the choice to outlive the page", lambda: "trial weights are off" in chosen())


def lenses(rig):
    """Of this spin's faces, once both show something: what is short is shown once more on the page, where the program says."""
    rig.wait("the faces", lambda: rig.live()["phase"] == "recording" and all(face["tip"] for face in rig.live()["faces"]))
    short = False
    for _ in range(10):  # a reading of a few turns scatters
        short = short or any(face["lens"] for face in rig.live()["faces"])
        time.sleep(0.2)
    shown = "return [...document.querySelectorAll('#faces .lens-arrow')].map((each) => !each.hasAttribute('hidden') && each.x1.baseVal.value > 100)"
    rig.wait("the lenses", lambda: [bool(face["lens"]) for face in rig.live()["faces"]] == rig.script(shown))
    return short


def a_job_to_its_truth(rig):
    short = False
    for number in range(8):
        rig.wait("what the spin says", lambda: rig.ask("/api/now")["step"] not in ("spin", "spin_as_found", "spin_again"))
        rig.say("/api/practice", drive=False)
        rig.wait("the shaft to stand", lambda: rig.live()["standing"])
        now = rig.ask("/api/now")
        assert now["truth"] == [], "the truth is told before the end"
        if number == 0:
            rig.wait("the form", lambda: rig.script("return Boolean(document.querySelector('#fitted'))"))
            rig.fits("fit")
        if now["choices"]:
            a_choice_is_a_step(rig)
        if now["step"].startswith("close"):
            break
        choices = now["choices"]
        fit = choices[-1]["fit"] if choices else now["fit"]
        rig.say("/api/fit", job=now["job"], entries=now["entries"], pieces=[f"{each['plane']} {each['mass']} @ {each['clock']}" for each in fit])
        if number == 0:
            a_wrong_weight_is_on_the_shaft(rig, float(fit[0]["mass"].split()[0]))
        rig.say("/api/practice", drive=True)
        short = lenses(rig)
    rig.say("/api/close", job=now["job"], entries=now["entries"])
    truth = rig.ask("/api/now")["truth"]
    said = [each["residual"] for each in now["result"]]
    print("said:", said, "truth:", truth, "in a lens" if short else "")
    assert short, "what is left of a tenth of the limit is too short to be seen without a lens"
    assert len(truth) == 2 and all(re.fullmatch(r"plane [AB]: [\d.]+ g·mm", each) for each in truth), truth
    for true, told in zip(truth, said):
        value, expanded = (float(each) for each in re.match(r"([\d.]+) ± ([\d.]+)", told).groups())
        assert abs(float(re.search(r": ([\d.]+)", true)[1]) - value) < 2.0 * expanded + 1.0, (true, told)
    rig.wait("the truth on the page", lambda: truth[0] in rig.script("return document.getElementById('truth').textContent"))


def a_dead_source_is_said(rig, simulated):
    rig.show("time")
    simulated.kill()
    rig.wait("no news", lambda: rig.live()["old"])
    rig.wait("the page to look old", lambda: rig.script("return document.body.classList.contains('old')"))


def main():
    folder = tempfile.mkdtemp()
    os.makedirs(OUTPUT, exist_ok=True)
    os.mkfifo(f"{folder}/rig.pipe")
    simulated = subprocess.Popen([RIGSIM, "live", "--control", f"{folder}/control", "--out", f"{folder}/rig.pipe"])
    page = browser(folder)
    try:
        with Console(PROGRAM, DATA, folder, "--source", f"raw:{folder}/rig.pipe", "--rate", "5120 Hz", "--speed", "1620 rpm", "--practice",
                     f"{folder}/control") as console:
            rig = Rig(console, page, f"{folder}/control")
            rig.say("/api/open", file="shaft.toml")
            page.get(console.url)
            rig.wait("the shaft to be seen", lambda: rig.live()["may_confirm"] or rig.live()["standing"])
            if not rig.live()["standing"]:
                rig.say("/api/stands")
            rig.say("/api/practice", drive=True)
            rig.wait("the speed", lambda: rig.live()["phase"] == "recording")
            rig.wait("the faces", lambda: rig.script("return document.querySelectorAll('#faces figure').length === 2"))
            rig.fits("spin")
            nothing_comes_from_outside(rig)
            a_job_to_its_truth(rig)
            rig.say("/api/open", file="shaft.toml")
            rig.say("/api/practice", drive=True)
            rig.wait("the speed", lambda: rig.live()["phase"] in ("hold", "recording"))
            curves_are_live(rig)
            a_loose_cable_is_said(rig)
            a_lost_tach_is_said(rig)
            a_dead_source_is_said(rig, simulated)
    finally:
        page.quit()
        simulated.kill()


main()
