#!/usr/bin/env python3
"""Recalibration at the page, in Chromium, by touch and in German: begun there, led spin by spin, and what it found is written into the
rig's file by a button of its own and by nothing else; jobs that are opened then are measured by it. What must be found is typed: sensor A
reads 0.8 of what it did.

usage: recalibration_test.py PROGRAM DATA_FOLDER OUTPUT_FOLDER [AXE_MIN_JS]
"""
import json
import os
import pathlib
import sys
import tempfile
import time
import tomllib

from chromium import browser
from console_program import COMMAND, Console
from rig_operator import Operator
from typed_rig import TypedRig

PROGRAM, DATA, OUTPUT = sys.argv[1:4]
AXE = pathlib.Path(sys.argv[4]).read_text(encoding="utf-8") if len(sys.argv) > 4 and sys.argv[4] else None
READS = 0.8
ROUNDED = 1e-4  # the file has five digits


def sensitivities(text):
    """Number and unit of each, as the file states them."""
    return [each["sensitivity"].split(" ", 1) for each in tomllib.loads(text)["sensor"]]


def it_is_led(operator, rig):
    operator.go_to_rig()
    operator.press("Die Aufnehmer mit RS-1 neu kalibrieren")
    operator.until("the offer", lambda: operator.shown("#begin-recalibration .offer"))
    operator.touch(operator.shown("#begin-recalibration .offer")[0])
    operator.until("its first step", lambda: "Neukalibrierung 1 von 3" in operator.text("#where"))
    operator.keep("begun", ("#title", "#first", "#fitted"))
    for number in range(3):
        operator.until("what hands do", lambda: operator.shown("#fitted"))
        if number:
            operator.title("Prüfmassen anbringen")
        operator.until("the form, drawn for good", lambda: operator.text("#title").startswith("Messlauf") or (operator.touch(operator.shown("#fitted")[0]), time.sleep(1))[0] is None)
        operator.title("Messlauf der Prüfwelle")
        rig.spin(rig.next(), READS)
        operator.page.execute_script("refresh()")
        operator.until("the next step", lambda number=number: operator.page.execute_script("return state.now.entries") > number)


def it_is_written_by_its_button(operator, console, rig):
    file = rig.files / "rig.toml"
    before = file.read_text(encoding="utf-8")
    operator.until("what was found", lambda: operator.shown("#rig-write"))
    stated = sensitivities(before)
    number = float(stated[0][0])
    assert f"Aufnehmer A: aus {stated[0][0]} {stated[0][1]} wird {f'{READS * number:.5g}'.replace('.', ',')} {stated[0][1]}" in operator.text("#result"), operator.text("#result")
    assert "Aufnehmer B" not in " ".join(each.text for each in operator.shown("#result p") if " wird " in each.text)
    operator.keep("found", ("#title", "#rig-next", "#rig-write"))
    operator.page.execute_script("""document.activeElement.blur();
        document.body.dispatchEvent(new KeyboardEvent('keydown', { key: 'PageDown', bubbles: true, cancelable: true }));""")
    operator.until("the rig's page, where a pedal leads", lambda: operator.shown("#rig-stands"))
    assert file.read_text(encoding="utf-8") == before, "a pedal wrote the file"
    a_file_that_was_changed_is_left_alone(console, rig, before)
    operator.touch(operator.shown("#rig-write")[0])
    operator.until("that it is done", lambda: "stehen in der Datei" in operator.text("#rig-next"))
    after = file.read_text(encoding="utf-8")
    now = sensitivities(after)
    assert abs(float(now[0][0]) / (READS * number) - 1) < ROUNDED and now[0][1] == stated[0][1], now
    assert abs(float(now[1][0]) / float(stated[1][0]) - 1) < ROUNDED and now[1][1] == stated[1][1], now
    lines = [(old, new) for old, new in zip(before.splitlines(), after.splitlines(), strict=True) if old != new]
    assert lines and all(new.lstrip().startswith("sensitivity") for _, new in lines), lines
    operator.keep("written")


def a_file_that_was_changed_is_left_alone(console, rig, before):
    file = rig.files / "rig.toml"
    file.write_text(before + "# another hand\n", encoding="utf-8")
    work = json.loads(console.ask("GET", "/api/rig")[2])["to_be_written"]["work"]
    said = json.dumps({"work": work}).encode()
    assert console.code("POST", "/api/rig-write", headers=COMMAND, body=said)[1] == "rig_file_changed"
    assert file.read_text(encoding="utf-8") == before + "# another hand\n"
    file.write_text(before, encoding="utf-8")
    assert console.code("POST", "/api/rig-write", headers=COMMAND, body=b'{"work": "another"}')[1] == "job_moved_on"


def jobs_are_measured_by_it(console, rig, before):
    """The job that was open keeps the file that it was begun with; one that is opened now has the new one."""
    recording = pathlib.Path(DATA, "00-as-found.flac").read_bytes()

    def amplitude(job):
        status, _, text = console.ask("POST", f"/api/upload?as=spin&job={job}", COMMAND, recording)
        assert status == 200, text
        entries = json.loads(rig.run("job", "show", "--job", job, "--json"))["entries"]
        return [abs(complex(*reading["value_si"])) for reading in entries[-1]["details"]["readings"]]

    status, _, text = console.ask("POST", "/api/choose", COMMAND, json.dumps({"job": before}).encode())
    assert status == 200, text
    old = amplitude(before)
    rig.run("job", "back", "1", "--job", before, "--reason", "the same recording is measured again by the other file")
    status, _, text = console.ask("POST", "/api/open", COMMAND, json.dumps({"shaft_of": before, "copy_id": "MC-0418"}).encode())
    assert status == 200, text
    new = amplitude("MC-0418/1")
    assert abs(new[0] / old[0] * READS - 1) < 2 * ROUNDED and abs(new[1] / old[1] - 1) < 2 * ROUNDED, (old, new)


def none_of_an_unknown_sensitivity(folder, operator):
    """Nothing could be put right: said where it would be begun, and refused."""
    os.mkdir(f"{folder}/unknown")
    rig = TypedRig(PROGRAM, DATA, f"{folder}/unknown")
    assert rig.make("qualify")["passed"]
    file = rig.files / "rig.toml"
    text = file.read_text(encoding="utf-8")
    number, unit = sensitivities(text)[1]
    file.write_text(text.replace(f'"{number} {unit}"', '"unknown"'), encoding="utf-8")
    with Console(PROGRAM, rig.files, f"{folder}/unknown", "--language", "de") as console:
        operator.page.get(console.url)
        operator.go_to_rig()
        operator.until("why not", lambda: "lassen sich nicht neu kalibrieren" in operator.text("#other"))
        assert not operator.shown("#begin-recalibration")
        work = json.loads(console.ask("GET", "/api/rig")[2])["proved"]["work"]
        said = json.dumps({"task": "recalibration", "work": work}).encode()
        assert console.code("POST", "/api/rig-begin", headers=COMMAND, body=said)[1] == "no_sensitivity"
        assert json.loads(console.ask("GET", "/api/rig")[2])["open"] is None


def main():
    os.makedirs(OUTPUT, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        rig = TypedRig(PROGRAM, DATA, folder)
        assert rig.make("qualify")["passed"]
        rig.run("job", "open", f"{rig.files}/shaft.toml", "--rig", f"{rig.files}/rig.toml")
        with Console(PROGRAM, rig.files, folder, "--language", "de") as console:
            page = browser(folder)
            try:
                operator = Operator(page, OUTPUT, "recalibration", AXE)
                page.get(console.url)
                it_is_led(operator, rig)
                it_is_written_by_its_button(operator, console, rig)
                jobs_are_measured_by_it(console, rig, "MC-0417/1")
                none_of_an_unknown_sensitivity(folder, operator)
                assert not operator.findings, operator.findings
            finally:
                page.quit()
    print("recalibrated by touch: written by its button alone")


main()
