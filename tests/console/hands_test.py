#!/usr/bin/env python3
"""The page when something goes wrong at the rig, in Chromium: nobody is sent to a shaft that may turn, and nothing old is shown as now.

usage: hands_test.py PROGRAM RIGSIM DATA_FOLDER OUTPUT_FOLDER [CASE]

The truth is the simulated rig's: its drive, its tach's supply and the gain of its sensors are set in its control file. A screen of each
case is kept in OUTPUT_FOLDER.
"""
import json
import os
import pathlib
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import urllib.request

from selenium.webdriver.common.by import By

sys.path.insert(0, str(pathlib.Path(__file__).parent))
from chromium import browser, text_of, until  # noqa: E402

PROGRAM, RIGSIM, DATA, OUTPUT = sys.argv[1:5]
STEP_S = 60


class Rig:
    """The simulated rig, and a console that follows it, until the end of the block."""

    def __init__(self, folder, *more):
        self.folder = folder
        self.pipe, self.control, self.recordings = (os.path.join(folder, name) for name in ("rig.pipe", "control", "spins"))
        self.state = {"drive": "off", "speed": "1620 rpm"}
        os.mkfifo(self.pipe)
        self.set()
        self.rig = subprocess.Popen([RIGSIM, "live", "--control", self.control, "--out", self.pipe, "--run-up", "3"])
        self.line = [PROGRAM, "console", "--rig", f"{DATA}/rig.toml", "--shafts", DATA, "--source", f"raw:{self.pipe}", "--rate", "5120 Hz",
                     "--recordings", self.recordings, "--log", f"{folder}/log.db", "--seconds", "6 s", "--port", "0", *more]
        self.console = subprocess.Popen(self.line, stdout=subprocess.PIPE, text=True)
        self.url = self.console.stdout.readline().split()[-1]

    def set(self, **changed):
        self.state.update(changed)
        fresh = self.control + ".new"
        pathlib.Path(fresh).write_text("".join(f"{key} {value}\n" for key, value in self.state.items()), encoding="ascii")
        os.rename(fresh, self.control)

    def live(self):
        with urllib.request.urlopen(self.url + "api/live-once", timeout=20) as answer:
            return json.load(answer)

    def say(self, path, **said):
        request = urllib.request.Request(self.url + path, json.dumps(said).encode(), {"X-Counterspot": "1"})
        with urllib.request.urlopen(request, timeout=60) as answer:
            return json.load(answer)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        for process in (self.rig, self.console):
            process.send_signal(signal.SIGCONT)
            process.send_signal(signal.SIGTERM)
            process.wait(timeout=20)


class Screen:
    def __init__(self, page):
        self.page = page

    def text(self, selector):
        return text_of(self.page, selector)

    def wait(self, what, condition, seconds=STEP_S):
        until(self.page, what, condition, os.path.join(OUTPUT, "hands-failed.png"), seconds)

    def title(self, words, seconds=STEP_S):
        self.wait(f"'{words}'", lambda: self.text("#title").startswith(words), seconds)

    def press(self, words):
        def pressed():
            for each in self.page.find_elements(By.TAG_NAME, "button"):
                if each.is_displayed() and each.text.startswith(words):
                    each.click()
                    return True
            return False
        self.wait(f"a button '{words}'", pressed)

    def sends_hands(self):
        """Something is asked for that hands do at the shaft."""
        return bool(self.text("#fit")) or self.text("#title").startswith("Fit")

    def keep(self, name):
        for width, height in ((1280, 800), (390, 844)):
            self.page.execute_cdp_cmd("Emulation.setDeviceMetricsOverride",
                                      {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False})
            time.sleep(0.1)
            self.page.save_screenshot(os.path.join(OUTPUT, f"hands-{name}-{width}.png"))
            top = self.page.execute_script("""
                const first = document.getElementById(document.body.classList.contains('too-fast') ? 'alarm' : 'title');
                return first.checkVisibility() ? first.getBoundingClientRect().top : 0;""")
            assert top < 0.5 * height or "warnings" in name or name == "failed", f"{name}: what matters stands {top} px down on a screen of {height}"
            wide = self.page.execute_script("return document.documentElement.scrollWidth")
            assert name == "failed" or wide <= width, f"{name}: {wide} px wide on a screen of {width}"
        self.page.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})

    def largest_words(self):
        return self.page.execute_script("""
            const shown = [...document.querySelectorAll('body *')].filter((each) => each.checkVisibility() &&
              [...each.childNodes].some((child) => child.nodeType === 3 && child.textContent.trim()));
            const size = (each) => parseFloat(getComputedStyle(each).fontSize);
            return shown.sort((one, other) => size(other) - size(one))[0].textContent;""")


def opened(rig, screen):
    rig.say("api/open", file="shaft.toml")
    screen.page.get(rig.url)
    screen.title("Spin the shaft as found")


def stands(rig, screen):
    screen.press("The shaft stands still")
    screen.wait("standing", lambda: rig.live()["standing"])


def a_spin(rig, screen):
    rig.set(drive="on")
    screen.wait("a recording", lambda: rig.live()["phase"] == "recording")
    screen.title("Stop the rig")


def a_job_to_fit(rig, screen):
    """A job whose next step is a trial weight, and the rig still turns."""
    opened(rig, screen)
    stands(rig, screen)
    a_spin(rig, screen)


def slow_turning_is_turning(rig, screen):
    a_job_to_fit(rig, screen)
    rig.set(drive="off")
    screen.title("The shaft may be turning")
    screen.keep("waits-for-standing")
    screen.title("Fit a trial weight")
    screen.keep("stands")
    for rpm in (60, 100, 150, 250):
        rig.set(drive="on", speed=f"{rpm} rpm")
        screen.title("Stop the rig", 12)
        time.sleep(4.5)  # the run-up, and the newest turn
        for _ in range(10):
            live = rig.live()
            assert live["motion"] == "turning" and abs(live["speed_rpm"] / rpm - 1) < 0.01, (rpm, live["motion"], live["speed_rpm"])
            assert not screen.sends_hands(), rpm
            time.sleep(0.2)
        if rpm == 60:
            screen.keep("turns-at-60-rpm")
    rig.set(drive="off")
    screen.title("Fit a trial weight")


def a_run_up_is_followed(rig, screen):
    opened(rig, screen)
    stands(rig, screen)
    rig.set(drive="on")
    begin, shown = time.monotonic(), []
    while time.monotonic() < begin + 4:
        shown.append((time.monotonic() - begin, rig.live()["speed_rpm"]))
        if len(shown) == 25:
            screen.page.save_screenshot(os.path.join(OUTPUT, "hands-run-up-1280.png"))
        time.sleep(0.05)
    first = next(at for at, rpm in shown if rpm > 0)
    assert first < 1.2, f"the first speed is shown {first:.2f} s after the start"
    # 540 rpm each second; what is shown is late by the control's look, the newest turn and the pulse behind it.
    for at, rpm in shown:
        assert rpm <= 540 * at + 30 and rpm >= min(1600, 540 * (at - 0.6) - 30) if at > first else True, (at, rpm)
    print("   on the way up:", ", ".join(f"{at:.1f} s {rpm:.0f} rpm" for at, rpm in shown[::8]))


def a_tach_that_fails_is_lost(rig, screen):
    a_job_to_fit(rig, screen)
    rig.set(tach="off")
    screen.title("Tach lost: the shaft may be turning", 5)
    end = time.monotonic() + 14  # longer than a standing shaft needs to be silent
    while time.monotonic() < end:
        assert screen.text("#title").startswith("Tach lost") and not screen.sends_hands()
        assert "last seen at 16" in screen.text("#said"), screen.text("#said")
        assert not rig.live()["standing"] and not screen.text("#stands"), "vibrates as it did while it turned"
        time.sleep(0.3)
    screen.keep("tach-lost")
    rig.set(drive="off")
    time.sleep(5)
    assert not screen.sends_hands()
    screen.press("The shaft stands still")
    screen.title("Fit a trial weight")


def a_tach_that_fails_while_recording_ends_the_recording(rig, screen):
    opened(rig, screen)
    stands(rig, screen)
    rig.set(drive="on")
    screen.wait("a recording", lambda: rig.live()["phase"] == "recording")
    rig.set(tach="off")
    screen.wait("the loss to be said", lambda: "tach is lost" in screen.text("#said"), 5)
    assert rig.live()["phase"] != "recording"
    screen.keep("tach-lost-while-recording")


def a_source_that_dies_is_named(rig, screen):
    opened(rig, screen)
    stands(rig, screen)
    rig.set(drive="on")
    screen.wait("a recording", lambda: "recording" in screen.text("#said"))
    os.kill(rig.rig.pid, signal.SIGSTOP)
    screen.wait("the silence to be named", lambda: "no news from the rig for" in screen.text("#said"), 4)
    assert "recording" not in screen.text("#said") and not screen.text("#progress")
    screen.wait("5 s", lambda: int(re.search(r"no news from the rig for (\d+) s", screen.text("#said"))[1]) >= 5)
    assert "s ago" in screen.text("#unit") and "old" in screen.page.find_element(By.TAG_NAME, "body").get_attribute("class").split()
    screen.keep("source-died-while-recording")
    os.kill(rig.rig.pid, signal.SIGCONT)
    screen.title("Stop the rig")
    rig.set(drive="off")
    screen.title("Fit a trial weight")
    os.kill(rig.rig.pid, signal.SIGKILL)
    screen.title("No news: the shaft may be turning", 4)
    assert not screen.sends_hands()
    screen.keep("source-died-while-fitting")


def a_frozen_program_shows(rig, screen):
    opened(rig, screen)
    stands(rig, screen)
    a_spin(rig, screen)
    rig.set(drive="off")
    screen.title("Fit a trial weight")
    os.kill(rig.console.pid, signal.SIGSTOP)
    screen.title("No news: the shaft may be turning", 4)
    assert not screen.sends_hands() and "no news from the program for" in screen.text("#said")
    screen.keep("program-frozen")
    screen.press("Menu")
    screen.press("Bring a recording")
    assert "no news from the program" in screen.text("#sign")
    screen.keep("program-frozen-other-page")
    screen.press("Menu")
    screen.press("Present job")
    os.kill(rig.console.pid, signal.SIGCONT)
    screen.title("Fit a trial weight", 30)


def warnings_of_a_spin_come_first(rig, screen):
    opened(rig, screen)
    stands(rig, screen)
    rig.set(gain="3000")
    a_spin(rig, screen)
    rig.set(drive="off", gain="1")
    screen.wait("standing", lambda: rig.live()["standing"])
    screen.wait("the warning", lambda: "cut off" in screen.text("#of-spin") and "end of the converter's range" in screen.text("#of-spin"))
    said = screen.text("#of-spin")
    assert said.startswith("the reading is too small: ") and "order 2" not in said, f"not what it means for the answer first: {said}"
    assert not screen.sends_hands(), "a weight is asked for on the word of a spin in doubt"
    warned, title = (screen.page.find_element(By.ID, name).rect["y"] for name in ("of-spin", "title"))
    assert warned < title, "the instruction stands before the warning"
    screen.keep("warnings-of-a-spin")
    screen.press("Take entry 1 back")
    screen.title("Spin the shaft as found")


def too_fast_is_the_largest_on_every_page(rig, screen):
    opened(rig, screen)
    rig.set(drive="on", speed="5200 rpm")
    screen.wait("the alarm", lambda: screen.text("#alarm-words") == "TOO FAST")
    screen.wait("the speed", lambda: "slow down: 5200 rpm" in screen.text("#alarm-more"))
    assert screen.largest_words() == "TOO FAST"
    screen.keep("too-fast")
    for name in ("Open a shaft", "All jobs", "This job's history", "Trends", "Rig health", "Bring a recording"):
        screen.press("Menu")
        screen.press(name)
        screen.wait(name, lambda: screen.text("#other"))
        screen.wait(f"the alarm on {name}", lambda: screen.text("#alarm-words") == screen.largest_words() == "TOO FAST", 1)
        screen.wait("the speed", lambda: screen.text("#sign") == "turning, 5200 rpm")
    screen.keep("too-fast-other-page")
    rig.set(speed="1620 rpm")
    screen.wait("the alarm to end", lambda: not screen.text("#alarm-words"))
    assert "turning" in screen.text("#sign")
    screen.keep("turning-other-page")


def a_folder_that_fails_is_a_sentence(rig, screen):
    """A stale share, a folder without the right to look: here a folder that has become a file."""
    opened(rig, screen)
    stands(rig, screen)
    shutil.rmtree(rig.recordings)
    pathlib.Path(rig.recordings).write_text("no folder", encoding="ascii")
    rig.set(drive="on")
    screen.wait("the sentence", lambda: "cannot be written" in screen.text("#said"))
    assert rig.console.poll() is None
    screen.keep("recordings-folder-fails")
    os.remove(rig.recordings)
    os.mkdir(rig.recordings)
    screen.title("Stop the rig")


def a_long_shaft_number_is_a_name_like_another(rig, screen):
    long = "X" * 240
    rig.say("api/open", **{"id": long, "mass": "14.6 kg", "service-speed": "3200 rpm", "limit": "G16", "outside-diameter": "76.2 mm", "wall": "2.1 mm",
                           "length": "1.42 m", "supports": "1500 mm", "plane-a": "70 mm", "plane-b": "1430 mm", "radius": "39 mm"})
    screen.page.get(rig.url)
    screen.title("Spin the shaft as found")
    stands(rig, screen)
    a_spin(rig, screen)
    assert rig.console.poll() is None
    screen.keep("long-shaft-number")


CASES = (slow_turning_is_turning, a_run_up_is_followed, a_tach_that_fails_is_lost, a_tach_that_fails_while_recording_ends_the_recording,
         a_source_that_dies_is_named, a_frozen_program_shows, warnings_of_a_spin_come_first, too_fast_is_the_largest_on_every_page,
         a_folder_that_fails_is_a_sentence, a_long_shaft_number_is_a_name_like_another)


def main():
    os.makedirs(OUTPUT, exist_ok=True)
    folder = tempfile.mkdtemp()
    try:
        page = browser(folder)
        try:
            for case in CASES:
                if len(sys.argv) > 5 and sys.argv[5] not in case.__name__:
                    continue
                with Rig(tempfile.mkdtemp(dir=folder)) as rig:
                    case(rig, Screen(page))
                print("ok:", case.__name__.replace("_", " "), flush=True)
        finally:
            page.quit()
    finally:
        shutil.rmtree(folder)


main()
