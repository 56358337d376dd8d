#!/usr/bin/env python3
"""Where the samples of a new rig come from, chosen by touch: an empty folder, the page, and what ALSA has. Devices are made of ALSA's own
parts: one that plays what the simulated rig gives (type file), one of two channels (type multi), one that is not there (type hw, a card
that no machine has), and one that another program holds (tests/faults/unplug.c). What is right of the rig is what the simulation says of
itself.

usage: new_rig_source_test.py PROGRAM RIGSIM UNPLUG OUTPUT_FOLDER
"""
import json
import os
import pathlib
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request

from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import Select

from chromium import browser
from rig_operator import Operator

PROGRAM, RIGSIM, UNPLUG, OUTPUT = sys.argv[1:5]
CASE = "304"  # a sound card of 8 kHz and 16 bits that lets nothing through under 15 Hz; four channels
KNOCKS_S = 8.5


def devices_of(folder):
    device = 'type file slave.pcm "null" file "/dev/null" format "raw"'
    two = " ".join(f"bindings.{c} {{ slave a channel {c} }}" for c in range(2))
    return (f'pcm.null {{ type null }}\n'
            f'pcm.interface {{ {device} infile "{folder}/pipe" hint {{ show on description "Interface on the rig" }} }}\n'
            f'pcm.microphone {{ type multi slaves.a {{ pcm "null" channels 2 }} {two} hint {{ show on description "Microphone" }} }}\n'
            'pcm.unplugged { type hw card 77 hint { show on description "Unplugged interface" } }\n'
            f'pcm.held {{ {device} hint {{ show on description "Interface of another program" }} }}\n')


class Rig:
    """The simulated one, and what hands do at it."""

    def __init__(self, folder):
        self.folder = folder
        self.told = dict(line.split(" ", 1) for line in subprocess.run([RIGSIM, "first-day", "--case", CASE, "--describe"], check=True,
                                                                       capture_output=True, text=True).stdout.splitlines())
        os.mkfifo(f"{folder}/pipe")
        self.start()

    def start(self):
        self.do("rest")
        self.process = subprocess.Popen([RIGSIM, "first-day", "--case", CASE, "--control", f"{self.folder}/control", "--out", f"{self.folder}/pipe"])

    def do(self, act):
        pathlib.Path(self.folder, "control.new").write_text(act + "\n", encoding="ascii")
        os.replace(f"{self.folder}/control.new", f"{self.folder}/control")

    def stop(self):
        self.process.terminate()
        self.process.wait()


class Page:
    """The program, from nothing but a folder's name."""

    def __init__(self, folder):
        self.folder = f"{folder}/shop"
        self.environment = {**os.environ, "ALSA_CONFIG_PATH": f"{folder}/devices.conf", "LD_PRELOAD": UNPLUG, "UNPLUG_AFTER": "1000000",
                            "BUSY_DEVICE": "held", "GONE_DEVICE": "interface", "GONE_WHEN": f"{folder}/gone", "XDG_CONFIG_HOME": f"{folder}/own"}
        self.process = None

    def start(self, *more):
        self.process = subprocess.Popen([PROGRAM, "console", "--new-rig", self.folder, "--port", "0", "--language", "en", *more],
                                        stdout=subprocess.PIPE, text=True, env=self.environment, cwd=os.path.dirname(self.folder))
        self.url = self.process.stdout.readline().split()[-1]
        return self.url

    def stop(self):
        self.process.send_signal(signal.SIGTERM)
        assert self.process.wait(20) == 0

    def ask(self, path, said=None):
        headers = {} if said is None else {"X-Counterspot": "1"}
        request = urllib.request.Request(self.url + path, None if said is None else json.dumps(said).encode(), headers)
        with urllib.request.urlopen(request) as answer:
            return json.load(answer)

    def refused(self, path, said):
        try:
            self.ask(path, said)
        except urllib.error.HTTPError as refused:
            return json.load(refused)
        raise SystemExit(f"{path} was not refused: {said}")


def card(operator, name):
    return next(each for each in operator.shown(".source") if each.find_element(By.TAG_NAME, "h2").text == name)


def take(operator, page, told, rate="8000 Hz"):
    operator.until("the interface", lambda: card(operator, "Interface on the rig"))
    for name, value in (("channels", told["channels"]), ("rate", rate), ("format", "s32le")):
        Select(card(operator, "Interface on the rig").find_element(By.NAME, name)).select_by_value(value)
    operator.touch(card(operator, "Interface on the rig").find_element(By.CSS_SELECTOR, "button"))
    operator.until("what is asked next", lambda: page.ask("api/now")["stage"] not in ("source", "finding"), 30)


def list_says_what_there_is(operator):
    """Channels, rates and formats of each; of one that cannot be used why, and what to do."""
    operator.title("Where do the samples come from?")
    operator.until("the devices", lambda: len(operator.shown(".source")) == 4)
    assert "44.1 48" in card(operator, "Interface on the rig").text and "s24le" in card(operator, "Interface on the rig").text
    for name, said in (("Microphone", ("channels: 2;", "two sensors and the tach need three")),
                       ("Unplugged interface", ("cannot be opened", "see that it is plugged in")),
                       ("Interface of another program", ("is held by another program", "end what else records from it"))):
        text = card(operator, name).text
        assert all(each in text for each in said), text
        assert not card(operator, name).find_elements(By.TAG_NAME, "button"), name
    assert not operator.text("#sign") and not operator.text("#cautions")  # nobody is asked for hands yet
    operator.keep("source", ("#title",))
    operator.touch(operator.shown("#language")[0])
    operator.title("Woher kommen die Messwerte?")
    operator.until("the devices", lambda: "hält das Tongerät" in card(operator, "Interface of another program").text)
    assert "brauchen drei" in card(operator, "Microphone").text
    operator.keep("source-german", ("#title",))
    operator.touch(operator.shown("#language")[0])
    operator.title("Where do the samples come from?")


def look_again_finds_what_was_plugged_in(operator, folder):
    text = pathlib.Path(folder, "devices.conf").read_text(encoding="utf-8")
    more = 'pcm.plugged { type null hint { show on description "Plugged in now" } }\n'
    pathlib.Path(folder, "devices.conf").write_text(text + more, encoding="utf-8")
    operator.until("the button", lambda: operator.shown("#look-again"))
    operator.touch(operator.shown("#look-again")[0])
    operator.until("the new device", lambda: card(operator, "Plugged in now"), 20)


def refusals_say_which_and_keep_the_page(page):
    taken = {"rate": "48000 Hz", "channels": "3", "format": "s32le"}
    for source, code, said in (("alsa:held", "device_busy", "held"), ("alsa:unplugged", "no_device", "unplugged"),
                               ("alsa:microphone", "device_channels", "microphone"), ("raw:/nowhere/rig.pipe", "not_found", "rig.pipe")):
        refused = page.refused("api/source", {"source": source, **taken})
        assert refused["code"] == code and said in refused["message"] and refused["remedy"], refused
    assert page.refused("api/source", {"source": "alsa:interface", **taken, "channels": "many"})["code"] == "bad_channels"
    for source in ("", "-", "play:spin.wav", "raw:/etc/passwd", "alsa:file:'|touch written',raw", "alsa:plug:file:written,raw"):
        assert page.refused("api/source", {"source": source, **taken})["code"] == "bad_source", source
    assert not os.path.exists("written")
    assert page.ask("api/now")["stage"] == "source"


def ready(operator, page):
    """Says that all stands, where that is asked."""
    operator.until("the next instruction", lambda: page.ask("api/now")["stage"] in ("stand", "hands", "record"))
    if page.ask("api/now")["stage"] == "stand":
        operator.until("the button", lambda: operator.shown("#go")[0].is_enabled())
        operator.press("All stands")
    operator.until("hands", lambda: page.ask("api/now")["stage"] in ("hands", "record"))
    if page.ask("api/now")["stage"] == "hands":
        operator.press("Done")
    operator.until("the recording's button", lambda: operator.text("#go").startswith(("Record", "It runs")))


def record(operator, page, rig, step, act, seconds=None):
    operator.until(step, lambda: page.ask("api/now").get("step") == step)
    ready(operator, page)
    if step == "running":
        rig.do(act)
        time.sleep(1)
    operator.touch(operator.shown("#go")[0])
    operator.until("the recording", lambda: page.ask("api/now")["stage"] == "recording")
    rig.do(act)
    if seconds:
        time.sleep(seconds)
        operator.press("That is all")
    operator.until("its end", lambda: page.ask("api/now")["stage"] not in ("recording", "finding"), 60)
    rig.do("rest")


def brought(operator, page, name, step):
    operator.until(step, lambda: page.ask("api/now").get("step") == step and page.ask("api/now")["stage"] == "record")
    operator.until("the file", lambda: any(each.text.startswith(name) for each in operator.shown("#choices button")), 20)
    operator.touch(next(each for each in operator.shown("#choices button") if each.text.startswith(name)))
    operator.until("what is asked next", lambda: page.ask("api/now").get("step") != step, 60)


def a_logger_drops_files(operator, screen, page, folder):
    """What was recorded above comes as a logger's files, one by one; nothing is heard, so it is asked each time who sees the rig stand."""
    earlier = pathlib.Path(page.folder)
    os.mkdir(f"{folder}/logger")
    shutil.copy(sorted(earlier.glob("rig.rest-*.w64"))[0], f"{folder}/logger/rest.w64")
    page.folder = f"{folder}/second"
    screen.get(page.start())
    operator.until("the folder", lambda: any("/logger" in each.text for each in operator.shown(".source")), 30)
    operator.touch(next(each for each in operator.shown(".source") if "/logger" in each.text).find_element(By.TAG_NAME, "button"))
    operator.title("Stop the drive")
    assert "only you can see" in operator.text("#sign"), operator.text("#sign")
    operator.press("All stands")
    operator.press("Done")
    operator.until("the file", lambda: operator.text("#choices").startswith("rest.w64"))
    operator.keep("logger", ("#title",))
    assert page.refused("api/bring", {"step": "rest", "file": "../shop/rig.rest-1.w64"})["code"] == "not_found"
    brought(operator, page, "rest.w64", "rest")
    operator.until("a file to come", lambda: operator.text("#choices").startswith("No new recording"))
    shutil.copy(sorted(earlier.glob("rig.running-*.w64"))[0], f"{folder}/logger/running.w64")
    brought(operator, page, "running.w64", "running")
    operator.title("Stop the drive")  # it ran meanwhile
    assert page.ask("api/now")["stage"] == "stand"
    assert page.refused("api/hands", {"step": "knocks-a"})["code"] == "job_moved_on"
    page.stop()


def main():
    os.makedirs(OUTPUT, exist_ok=True)
    folder = tempfile.mkdtemp()
    pathlib.Path(folder, "devices.conf").write_text(devices_of(folder), encoding="utf-8")
    rig, page = Rig(folder), Page(folder)
    screen = browser(folder)
    operator = Operator(screen, OUTPUT, "new-rig")
    try:
        screen.get(page.start())
        list_says_what_there_is(operator)
        look_again_finds_what_was_plugged_in(operator, folder)
        refusals_say_which_and_keep_the_page(page)
        take(operator, page, rig.told)
        assert len(page.ask("api/live-once")["levels"]) in (0, int(rig.told["channels"]))
        operator.until("the bars", lambda: len(operator.shown("#senses .level")) == int(rig.told["channels"]))
        operator.keep("listens", ("#title",))

        record(operator, page, rig, "rest", "rest")
        # Left and taken again as it was, nothing is lost; at another rate all is asked for anew.
        operator.press("Choose another source")
        operator.title("Where do the samples come from?")
        take(operator, page, rig.told)
        assert page.ask("api/now")["step"] == "running", page.ask("api/now")
        record(operator, page, rig, "running", "running")
        record(operator, page, rig, "knocks-a", "knocks-a", KNOCKS_S)
        found = " ".join(page.ask("api/now")["found"])
        assert page.ask("api/now")["step"] == "knocks-b", page.ask("api/now")

        # The interface goes while it is listened to: that is said, and it is chosen again where it is back.
        pathlib.Path(folder, "gone").touch()
        operator.title("Where do the samples come from?", 20)
        operator.until("why it is not offered", lambda: "No such device" in card(operator, "Interface on the rig").text, 20)
        operator.until("why", lambda: "'interface' failed while recording: No such device" in operator.text("#trouble"))
        operator.keep("source-gone", ("#title", "#trouble"))
        os.remove(f"{folder}/gone")
        operator.touch(operator.shown("#look-again")[0])
        operator.until("the interface", lambda: card(operator, "Interface on the rig").find_elements(By.TAG_NAME, "select"), 20)
        take(operator, page, rig.told)
        assert page.ask("api/now")["step"] == "knocks-b"
        record(operator, page, rig, "knocks-b", "knocks-b", KNOCKS_S)
        found = " ".join(page.ask("api/now")["found"])
        a, b = rig.told["sensors"].split()
        assert f"sensor A: channel {a}," in found and f"sensor B: channel {b}," in found, found

        # Started again, it knows its source and where it was.
        page.stop()
        screen.get(page.start())
        operator.until("where it was", lambda: page.ask("api/now").get("step") == "hand" and page.ask("api/now")["listens"])
        command = subprocess.run([PROGRAM, "rig", "new", "--out", f"{page.folder}/rig.toml"], capture_output=True, text=True, check=True, env=page.environment)
        assert "TYPE  counterspot rig new --record\n" in command.stdout, command.stdout

        operator.press("Choose another source")
        take(operator, page, rig.told, "16000 Hz")
        assert page.ask("api/now")["step"] == "rest", page.ask("api/now")
        assert list(pathlib.Path(page.folder).glob("rig.rest-*.w64"))  # what was recorded stays on the disk
        page.stop()
        a_logger_drops_files(operator, screen, page, folder)
        print("a source was chosen by touch, lost, found again and changed; a logger's files were brought")
    finally:
        screen.quit()
        if page.process.poll() is None:
            page.process.kill()
        rig.stop()
        shutil.rmtree(folder)


main()
