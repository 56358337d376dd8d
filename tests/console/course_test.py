#!/usr/bin/env python3
"""The course of a job at the page, in Chromium, by clicks: its spins opened and set aside, the last thing said undone, several pieces a
plane by touches and the number pad, a job closed, opened again and found by a code reader. What the page did is held against 'job show'.

usage: course_test.py PROGRAM DATA_FOLDER OUTPUT_FOLDER

The job is that of the tour: the recordings of the data folder, entered on the command line while the page looks on.
"""
import json
import math
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import time

from selenium.webdriver import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from chromium import browser, shown, text_of, until
from console_program import COMMAND, Console

PROGRAM, DATA, OUTPUT = sys.argv[1:4]
JOB = "MC-0417/1"
# What spins-verify.toml says was on the shaft in its recordings.
FITTED = (("A 15 g @ 0 deg",), ("B 15 g @ 0 deg",), ("A 36 g @ 265 deg", "B 15 g @ 0 deg", "B 26 g @ 110 deg"))
SHAPES = ((1280, 800), (1920, 1080), (800, 1280), (390, 844))


def entries_in(text):
    return [{**entry, **entry["details"]} for entry in json.loads(text)["entries"]]


class Page:
    def __init__(self, page, console, folder):
        self.page, self.console, self.log = page, console, f"{folder}/log.db"

    def run(self, *arguments):
        done = subprocess.run([PROGRAM, *arguments, "--log", self.log], check=False, capture_output=True, text=True)
        assert done.returncode in (0, 1), done.stderr
        return done.stdout

    def kept(self):
        return entries_in(self.run("job", "show", "--job", JOB, "--json"))

    def until(self, what, condition):
        until(self.page, what, condition, os.path.join(OUTPUT, "course-failed.png"))

    def shown(self, selector):
        return shown(self.page, selector)

    def text(self, selector):
        return text_of(self.page, selector)

    def press(self, words, within="body"):
        def pressed():
            for each in self.shown(f"{within} button"):
                if each.text.startswith(words):
                    self.page.execute_script("arguments[0].scrollIntoView({ block: 'center' })", each)
                    each.click()
                    return True
            return False
        self.until(f"a button '{words}'", pressed)

    def entries(self, count):
        self.page.execute_script("refresh()")  # what is entered elsewhere is not news of the rig
        self.until(f"{count} entries", lambda: self.page.execute_script("return state.now.entries") == count)
        self.until("their course", lambda: self.page.execute_script("return course.shown").split(",")[1] == str(count))

    def open_course(self):
        self.until("the course", lambda: self.shown("#course summary"))
        if not self.page.execute_script("return document.getElementById('course').open"):
            self.page.execute_script("arguments[0].scrollIntoView({ block: 'center' })", self.shown("#course summary")[0])
            self.page.find_element(By.CSS_SELECTOR, "#course summary").click()
        self.until("its strip", lambda: self.shown("#course .spin"))

    def keep(self, name):
        for theme in ("light", "dark"):
            self.page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [{"name": "prefers-color-scheme", "value": theme}]})
            for width, height in SHAPES:
                self.page.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False})
                time.sleep(0.2)
                self.page.save_screenshot(os.path.join(OUTPUT, f"course-{name}-{width}-{theme}.png"))
                wide = self.page.execute_script("return document.documentElement.scrollWidth")
                assert wide <= width, f"{name}: {wide} px wide on a screen of {width}"
                small = self.page.execute_script("""return [...document.querySelectorAll('#course button, #pieces button, #course summary, .pad button')]
                  .filter((each) => each.checkVisibility()).map((each) => [each.textContent, each.getBoundingClientRect()])
                  .filter(([, box]) => box.height < 48 || box.width < 48).map(([text, box]) => `${text}: ${box.width} x ${box.height}`);""")
                assert not small, small
        self.page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})
        self.page.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


def a_spin_is_named_before_it_is_made(page):
    page.until("the step", lambda: page.shown("#naming summary"))
    page.page.find_element(By.CSS_SELECTOR, "#naming summary").click()
    page.until("the field", lambda: page.shown("#naming input"))
    page.page.find_element(By.CSS_SELECTOR, "#naming input").send_keys("before the paint")
    page.press("Name it so")
    page.until("the name", lambda: "before the paint" in page.text("#naming-words"))
    recording = pathlib.Path(DATA, "00-as-found.flac").read_bytes()
    status, _, text = page.console.ask("POST", f"/api/upload?as=spin&job={JOB}", COMMAND, recording)
    assert status == 200, text
    page.entries(1)
    assert page.kept()[-1]["label"] == "before the paint", page.kept()


def several_pieces_are_typed(page):
    """By the number pad and by touches on the face; a fault stands beside its field; what was typed outlives a reload and other units."""
    page.until("the form", lambda: page.shown("#fitted"))
    field = lambda name: page.page.find_element(By.NAME, name)
    page.page.find_element(By.CSS_SELECTOR, "#pieces .open-pad").click()
    for key in ("1", "2", ".", "5", "g", "Done"):
        page.press(key, ".pad")
    page.until("12.5 g", lambda: field("mass-0").get_attribute("value") == "12.5 g")
    face = page.page.find_element(By.CSS_SELECTOR, "#pieces .face img")
    page.until("the face", lambda: page.page.execute_script("return arguments[0].naturalWidth", face))
    page.page.execute_script("arguments[0].scrollIntoView({ block: 'center' })", face)
    # The face's picture is 224 by 150 with its middle at 112, 78 (mm): 36 mm to the right of it is three o'clock.
    ActionChains(page.page).move_to_element_with_offset(face, face.size["width"] * 36 / 224, face.size["height"] * 3 / 150).click().perform()
    page.until("three o'clock", lambda: field("place-0").get_attribute("value") in ("2:59", "3:00", "3:01"))
    plane = page.page.execute_script("return document.querySelector('#pieces fieldset').dataset.plane")
    page.press("Another piece in plane " + plane)
    page.until("another box", lambda: page.shown("input[name=mass-1]"))
    field("mass-1").send_keys("4 furlong")
    field("place-1").send_keys("6:00")
    page.keep("typed")
    page.page.find_element(By.ID, "units").click()
    page.page.refresh()
    page.until("what was typed", lambda: field("mass-1").get_attribute("value") == "4 furlong" and field("mass-0").get_attribute("value") == "12.5 g")
    page.page.find_element(By.ID, "units").click()
    page.until("what was typed", lambda: field("mass-1").get_attribute("value") == "4 furlong")
    page.press("It is on the shaft")
    page.until("the fault", lambda: page.shown(".beside"))
    assert page.page.switch_to.active_element.get_attribute("name") == "mass-1"
    box = page.page.execute_script("const box = document.querySelector('.beside').getBoundingClientRect(); return [box.top, box.bottom, innerHeight]")
    assert 0 <= box[0] and box[1] <= box[2], box
    field("mass-1").clear()
    field("mass-1").send_keys("4 g")
    before = len(page.kept())
    page.press("It is on the shaft")
    page.until("the statement, or its question", lambda: page.text("#asked-once") or len(page.kept()) == before + 1)
    if page.text("#asked-once"):
        page.press("It is so")
    page.entries(before + 1)
    pieces = page.kept()[-1]["pieces"]
    assert sorted(round(1e3 * each["mass_kg"], 3) for each in pieces) == [4, 12.5] and {"AB"[each["plane"]] for each in pieces} == {plane}, pieces


def the_last_thing_said_is_undone(page):
    before = len(page.kept())
    page.open_course()
    page.press("Undo the last entry")
    page.entries(before + 1)
    page.until("what it was", lambda: f"Entry {before} was taken back" in page.text("#took-back") and "12.5 g" in page.text("#took-back"))
    assert "no longer says that these weights are on" in page.text("#took-back")
    last = page.kept()[-1]
    assert last["kind"] == "take back" and last["entry"] == before, last
    page.open_course()
    assert not page.shown("#undo"), "what is taken back is not undone by the next touch"


def pieces_come_from_the_stock(page):
    """What `place` finds in the spins of the same recordings: the choice with fewer pieces first, said as the shop makes them, and kept
    with what they really add. Back leads to the choices."""
    page.press("The trial weights are still on")
    page.until("the ways", lambda: [each.get_attribute("value") for each in page.shown("#choices .choice")] == ["fewer", "best", "one"])
    page.keep("ways")
    found = json.loads(subprocess.run([PROGRAM, "place", "spins.toml", "--stock", "stock.toml", "--json"], cwd=DATA, check=False, capture_output=True,
                                      text=True).stdout)["fewer_pieces"]
    told = json.loads(page.console.ask("GET", "/api/stock?base=as_spun")[2])["ways"][0]
    assert found["status"] == "optimal" and "proven" in told["proof"] and abs(told["left_ratio"] - found["worst_ratio"]) < 2e-3, (told, found)
    assert [(each["plane"], each["what"]) for each in told["fit"]] == [(each["plane"], each["work"]) for each in found["pieces"]], (told, found)
    page.press(f"{len(found['pieces'])} pieces of the stock")
    page.until("their fields", lambda: page.shown("#fitted"))
    assert all(each["work"] in page.text("#pieces") for each in found["pieces"]), page.text("#pieces")
    page.until("their faces", lambda: page.page.execute_script("return [...document.querySelectorAll('.face img')].every((each) => each.naturalWidth)"))
    page.keep("stock")
    page.press("Back to the choice")
    page.until("the choices", lambda: page.text("#title") == "Which weights?")
    page.press(f"{len(found['pieces'])} pieces of the stock")
    before = len(page.kept())
    page.press("It is on the shaft")
    page.entries(before + 1)
    fitted = page.kept()[-1]["pieces"][1:]  # behind the trial weight, which is still on
    for piece, asked in zip(fitted, found["pieces"], strict=True):
        assert abs(1e3 * piece["mass_kg"] - asked["acting_g"]) < 0.06 and "AB"[piece["plane"]] == asked["plane"], (piece, asked)
        assert abs(math.degrees(piece["angle_rad"]) - asked["angle_deg"]) < 0.3, (piece, asked)
    page.run("job", "back", str(before + 1), "--reason", "fitted as the tour has it")


def a_job_within_limit(page):
    """The rest of the tour's job, as its file of spins says what was fitted."""
    page.run("job", "fit", "--as-typed", "--only", *FITTED[0])
    page.run("job", "spin", f"{DATA}/01-trial-a.flac")
    page.run("job", "fit", "--as-typed", "--only", *FITTED[1])
    page.run("job", "spin", f"{DATA}/02-trial-b.flac")
    page.entries(len(page.kept()))
    pieces_come_from_the_stock(page)
    page.run("job", "fit", "--as-typed", "--only", *FITTED[2])
    page.run("job", "spin", f"{DATA}/03-verify.flac")
    page.entries(len(page.kept()))


def the_strip_shows_every_spin(page):
    page.open_course()
    kept = [entry for entry in page.kept() if entry["kind"] == "spin"]
    page.until("all spins", lambda: len(page.shown("#course .spin")) == len(kept))
    page.until("the curve", lambda: page.page.execute_script("const image = document.querySelector('#course .chart img'); return image && image.naturalWidth"))
    for card, entry in zip(page.shown("#course .spin"), kept):
        assert f"{entry['number']}. {entry['label']}" in card.text and f"{entry['speed_rad_s'] * 30 / math.pi:.0f} rpm" in card.text, (card.text, entry["speed_rad_s"])
        assert "% of limit" in card.text and "±" in card.text, card.text
    told = json.loads(page.console.ask("GET", "/api/course")[2])["spins"]
    for spin, entry in zip(told, kept):
        if not entry.get("finding"):
            assert spin["left"]["seen_now"]
            continue
        worst = max(entry["finding"]["held"], key=lambda held: held["residual_kg_m"] / held["limit_kg_m"])
        assert abs(spin["left"]["percent"] - 100 * worst["residual_kg_m"] / worst["limit_kg_m"]) < 1e-3, (spin["left"], worst)
    percents = [spin["left"]["percent"] for spin in told]
    assert percents[-1] < 100 < percents[0], percents
    page.shown("#course .spin")[-1].click()
    page.until("the last spin", lambda: "03-verify.flac" in page.text("#course .opened"))
    page.keep("strip")


def a_spin_is_set_aside(page):
    before = page.kept()
    page.until("the reason", lambda: page.shown("#course .opened input[name=reason]"))
    page.press("Set this spin aside")  # without a reason the browser asks for it
    time.sleep(0.5)
    assert page.kept() == before
    page.shown("#course .opened input[name=reason]")[0].send_keys("something touched the shaft")
    page.press("Set this spin aside")
    page.entries(len(before) + 1)
    last = page.kept()[-1]
    assert (last["kind"], last["reason"]) == ("take back", "something touched the shaft"), last
    page.open_course()
    page.until("set aside", lambda: "set aside" in page.shown("#course .spin")[-1].text)
    page.run("job", "spin", f"{DATA}/03-verify.flac")
    page.entries(len(before) + 2)


def a_key_never_closes(page):
    page.until("within", lambda: page.text("#title") == "Within limit")
    before = len(page.kept())
    for key in (Keys.ENTER, Keys.PAGE_DOWN):
        page.page.execute_script("document.activeElement.blur()")
        ActionChains(page.page).send_keys(key).perform()
    time.sleep(1)
    assert len(page.kept()) == before and page.text("#title") == "Within limit"
    page.press("Close the job")
    page.until("closed", lambda: page.text("#title") == "This job is closed")


def a_closed_job_is_opened_again(page):
    before = len(page.kept())
    page.press("Menu")
    page.press("This job's history")
    page.until("the form", lambda: page.shown("#reopen-job"))
    page.press("Open it again")
    page.until("that a reason is needed", lambda: "reason" in page.text("#trouble").lower())
    page.press("Menu")
    page.press("This job's history")
    page.until("the form", lambda: page.shown("#reopen-job"))
    page.shown("#reopen-job input")[0].send_keys("the paint was wet")
    page.press("Open it again")
    page.until("open", lambda: page.text("#title") == "Within limit")
    last = page.kept()[-1]
    assert len(page.kept()) == before + 1 and (last["kind"], last["reason"]) == ("take back", "the paint was wet"), last


def back_goes_one_view_back(page):
    page.press("Menu")
    page.press("All jobs")
    page.until("the list", lambda: page.shown("#other table"))
    page.press(JOB, "#other")
    page.until("the job", lambda: page.text("#other h1") == JOB)
    page.page.back()
    page.until("the list again", lambda: page.text("#other h1") == "All jobs")
    ActionChains(page.page).send_keys(Keys.ESCAPE).perform()
    page.until("the work", lambda: page.text("#title") == "Within limit")


def a_code_opens_its_job(page):
    def read(code):
        page.page.execute_script("""document.activeElement.blur();
            for (const key of [...arguments[0], 'Enter']) document.body.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true, cancelable: true }));""", code)

    before = len(page.kept())
    read("NO-SUCH-NUMBER")
    page.until("that there is none", lambda: "NO-SUCH-NUMBER" in page.text("#trouble"))
    read("MC-0417")  # its job is open: it is gone on with
    page.until("nothing is in the way", lambda: not page.text("#trouble"))
    assert page.page.execute_script("return state.now.job") == JOB and len(page.kept()) == before
    page.press("Close the job")
    page.until("closed", lambda: page.text("#title") == "This job is closed")
    read("MC-0417")
    page.until("the next job of this shaft", lambda: page.page.execute_script("return state.now.job") == "MC-0417/2")


def a_job_ends_as_it_stands(page):
    page.press("Menu")
    page.press("This job's history")
    page.until("the form", lambda: page.shown("#end-job"))
    page.shown("#end-job input")[0].send_keys("scrapped: the tube is bent")
    page.press("Close it as it stands")
    page.until("closed", lambda: page.text("#title") == "This job is closed")
    last = entries_in(page.run("job", "show", "--job", "MC-0417/2", "--json"))[-1]
    assert (last["kind"], last["reason"]) == ("close", "scrapped: the tube is bent"), last


def a_broken_shaft_is_listed_with_its_fault(page):
    page.press("Menu")
    page.press("Open a shaft")
    page.until("the fault", lambda: "broken.toml cannot be used" in page.text("#other .bad") and "mass" in page.text("#other .bad"))
    assert [each.text[:7] for each in page.shown("#other ul.plain button")] == ["MC-0417", "A copy"], "a rig is no shaft"


def the_next_shaft_is_a_copy(page):
    """From the closed job by one tap to the shafts; a copy asks for its number alone, and is listed from then on."""
    page.press("Menu")
    page.press("Present job")
    page.press("Next shaft")
    page.press("A copy", "#other")
    page.until("its field", lambda: page.shown("input[name=copy_id]"))
    page.shown("input[name=copy_id]")[0].send_keys("MC-0999")
    page.press("Open this shaft", "#other .offered")
    page.until("its job", lambda: page.page.execute_script("return state.now.job") == "MC-0999/1")
    families = {job["job"]: job["family"] for job in json.loads(page.console.ask("GET", "/api/jobs")[2])["jobs"]}
    assert families["MC-0417/1"] == families["MC-0999/1"], families
    listed = json.loads(page.console.ask("GET", "/api/shafts")[2])
    assert [each.get("job") for each in listed if each["id"] == "MC-0999"] == ["MC-0999/1"], listed


def main():
    os.makedirs(OUTPUT, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([PROGRAM, "job", "open", f"{DATA}/shaft.toml", "--rig", f"{DATA}/rig.toml", "--log", f"{folder}/log.db"], check=True, capture_output=True)
        shafts = pathlib.Path(folder, "data")
        shafts.mkdir()
        for name in ("rig.toml", "shaft.toml", "stock.toml"):
            shutil.copy(f"{DATA}/{name}", shafts)
        (shafts / "broken.toml").write_text((shafts / "shaft.toml").read_text(encoding="utf-8").replace("14.60 kg", "14.60 furlong"), encoding="utf-8")
        with Console(PROGRAM, shafts, folder, "--stock", f"{shafts}/stock.toml") as console:
            driver = browser(folder)
            try:
                page = Page(driver, console, folder)
                driver.get(console.url)
                a_spin_is_named_before_it_is_made(page)
                time.sleep(1.5)  # the page draws its form again once its live stream runs
                for case in (several_pieces_are_typed, the_last_thing_said_is_undone, a_job_within_limit, the_strip_shows_every_spin,
                             a_spin_is_set_aside, a_key_never_closes, a_closed_job_is_opened_again, back_goes_one_view_back,
                             a_code_opens_its_job, a_job_ends_as_it_stands, a_broken_shaft_is_listed_with_its_fault, the_next_shaft_is_a_copy):
                    case(page)
                    print("ok:", case.__name__.replace("_", " "), flush=True)
            finally:
                driver.quit()


main()
