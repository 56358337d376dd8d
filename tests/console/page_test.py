#!/usr/bin/env python3
"""A whole job on the live simulated rig through the page, in Chromium: by clicks, or by the keyboard alone.

usage: page_test.py PROGRAM RIGSIM DATA_FOLDER OUTPUT_FOLDER clicks|keyboard

Screens of 1280x800 and 390 px are kept in OUTPUT_FOLDER. What the page measured is held against the command line on the
same recordings.
"""
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import urllib.request

from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

PROGRAM, RIGSIM, DATA, OUTPUT, HOW = sys.argv[1:6]
STEP_S = 40  # longer than run-up, steadiness and recording together take on a busy machine


def browser():
    options = Options()
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--window-size=1280,800"):
        options.add_argument(argument)
    options.binary_location = shutil.which("chromium")
    return webdriver.Chrome(service=Service(shutil.which("chromedriver")), options=options)


class Operator:
    """Presses what is shown."""

    def __init__(self, page):
        self.page = page

    def shown(self, selector):
        return [each for each in self.page.find_elements(By.CSS_SELECTOR, selector) if each.is_displayed()]

    def wait(self, what, condition):
        end = time.monotonic() + STEP_S
        while time.monotonic() < end:
            try:
                if condition():
                    return
            except Exception:  # the page was drawn anew between two looks
                pass
            time.sleep(0.1)
        self.keep("failed")
        raise SystemExit(f"waited in vain for: {what}; the page shows: {self.page.find_element(By.TAG_NAME, 'main').text}")

    def press(self, words):
        self.wait(f"a button '{words}'", lambda: self.button(words))
        if HOW == "clicks":
            self.button(words).click()
            return
        for _ in range(60):  # Tab until it has the focus, then Enter
            if self.page.switch_to.active_element.text.startswith(words):
                self.page.switch_to.active_element.send_keys(Keys.ENTER)
                return
            self.page.switch_to.active_element.send_keys(Keys.TAB)
        raise SystemExit(f"the keyboard does not reach the button '{words}'")

    def button(self, words):
        found = [each for each in self.shown("button") if each.text.startswith(words)]
        return found[0] if found else None

    def title(self, words):
        self.wait(f"the instruction '{words}'", lambda: self.page.find_element(By.ID, "title").text.startswith(words))

    def keep(self, name):
        for width, height in ((1280, 800), (390, 844)):
            self.page.set_window_size(width, height)
            time.sleep(0.2)
            self.page.save_screenshot(os.path.join(OUTPUT, f"{HOW}-{name}-{width}.png"))
        self.page.set_window_size(1280, 800)


def asked(url, path):
    with urllib.request.urlopen(url + path) as answer:
        return json.load(answer)


def a_whole_job(operator, url):
    operator.press("Choose the shaft")
    operator.press("MC-0417")
    operator.title("Spin the shaft as found")
    operator.keep("1-spin")
    for spin in range(8):
        operator.press("Start the drive")
        operator.wait("a recorded spin", lambda: asked(url, "api/live-once")["phase"] == "recording")
        if spin == 0:
            operator.keep("2-recording")
        operator.title("Stop the rig")
        operator.press("Stop the drive")
        operator.wait("the shaft to stand", lambda: operator.page.find_element(By.ID, "title").text != "Stop the rig")
        if spin == 0:
            operator.keep("3-fit-trial")
        if asked(url, "api/now")["step"] == "close":
            break
        if operator.shown("#fitted"):
            operator.press("It is on the shaft")
            operator.title("Spin")
    operator.title("Within limit")
    operator.keep("4-within")
    operator.press("Close the job")
    operator.title("This job is closed")
    operator.keep("5-closed")


def numbers_are_those_of_the_command_line(log, recordings):
    def run(*arguments):
        return subprocess.run([PROGRAM, *arguments], check=True, capture_output=True, text=True).stdout

    def readings(text):
        return [line.strip() for line in text.splitlines() if line.strip()[:3] in ("A  ", "B  ") and " at " in line]

    files = sorted((each for each in os.listdir(recordings) if each.endswith(".flac")), key=lambda name: int(name.split("-")[3]))
    assert len(files) >= 3, files
    other = log + ".other"
    run("job", "open", f"{DATA}/shaft.toml", "--rig", f"{DATA}/rig.toml", "--log", other)
    for name in files:
        run("job", "spin", os.path.join(recordings, name), "--log", other)
    page, line = (readings(run("job", "show", "--log", which, "--job", "MC-0417/1")) for which in (log, other))
    assert page == line and len(page) == 2 * len(files), (page, line)
    print(f"{len(files)} spins: the page read what 'job spin' reads in the same recordings")


def main():
    os.makedirs(OUTPUT, exist_ok=True)
    folder = tempfile.mkdtemp()
    pipe, control, log, recordings = (os.path.join(folder, name) for name in ("rig.pipe", "control", "log.db", "spins"))
    os.mkfifo(pipe)
    started = [subprocess.Popen([RIGSIM, "live", "--control", control, "--out", pipe, "--run-up", "1.5"])]
    try:
        console = subprocess.Popen([PROGRAM, "console", "--rig", os.path.join(DATA, "rig.toml"), "--shafts", DATA, "--source",
                                    f"raw:{pipe}", "--rate", "5120 Hz", "--recordings", recordings, "--log", log, "--practice", control,
                                    "--speed", "1620 rpm", "--seconds", "3 s", "--port", "0"], stdout=subprocess.PIPE, text=True)
        started.append(console)
        url = console.stdout.readline().split()[-1]
        page = browser()
        try:
            page.get(url)
            a_whole_job(Operator(page), url)
            trouble = [each for each in page.get_log("browser") if each["level"] == "SEVERE" and "favicon" not in each["message"]]
            assert not trouble, trouble
        finally:
            page.quit()
        numbers_are_those_of_the_command_line(log, recordings)
    finally:
        for process in started:
            process.send_signal(signal.SIGTERM)
            process.wait()
        shutil.rmtree(folder)


main()
