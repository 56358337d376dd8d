#!/usr/bin/env python3
"""A whole job on the live simulated rig through the page, in Chromium: by clicks, by the keyboard alone, by touch alone in German, or
by a foot pedal.

usage: page_test.py PROGRAM RIGSIM DATA_FOLDER OUTPUT_FOLDER clicks|keyboard|german|pedal [AXE_MIN_JS]

Screens of 1280x800 and 390 px, light and dark, are kept in OUTPUT_FOLDER: those of the clicks in grams and millimetres, those
of the keyboard in ounces and inches. What the page measured is held against the command line on the same recordings. With
clicks, every screen is also looked through by axe-core, the network fails once, and the program is killed once.
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
import urllib.parse
import urllib.request

from selenium.common.exceptions import StaleElementReferenceException
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

sys.path.insert(0, str(pathlib.Path(__file__).parent))
from chromium import browser, shown, touch, until  # noqa: E402

PROGRAM, RIGSIM, DATA, OUTPUT, HOW = sys.argv[1:6]
AXE = pathlib.Path(sys.argv[6]).read_text(encoding="utf-8") if len(sys.argv) > 6 else None
LANGUAGE = "de" if HOW == "german" else "en"
STEP_S = 60  # longer than run-up, steadiness and recording together take on a busy machine
SHAPES = ((1280, 800), (390, 844))
WORDS = pathlib.Path(DATA).parent / "src" / "console" / "page"
TITLES = {"Spin the shaft as found": "Messlauf: Welle im Urzustand", "Spin": "Messlauf", "Within limit": "Zulässige Restunwucht eingehalten",
          "This job is closed": "Dieser Auftrag ist abgeschlossen", "as found": "as found", "sensor A": "Aufnehmer A"}


def in_words(language):
    return json.loads((WORDS / f"words_{language}.json").read_text(encoding="utf-8"))


GERMAN = {text: in_words("de")[key] for key, text in in_words("en").items() if text} | TITLES if HOW == "german" else {}


def said(words):
    """As the page of this run says it; a number is where it was."""
    number = re.search(r"\d+", words)
    numbered = GERMAN.get(words.replace(number.group(), "{}"), "").replace("{}", number.group()) if number else ""
    return GERMAN.get(words) or numbered or words


class Operator:
    """Presses what is shown."""

    def __init__(self, page):
        self.page = page
        self.findings = {}

    def shown(self, selector):
        return shown(self.page, selector)

    def wait(self, what, condition):
        until(self.page, what, condition, os.path.join(OUTPUT, f"{HOW}-failed.png"), STEP_S)

    def press(self, words):
        if HOW == "german":
            self.wait(f"a button '{words}'", lambda: touch(self.page, self.button(words)))
            return
        if HOW == "pedal":  # it has one key, which the page may not take yet: a pedal that bounces is one press
            self.wait(f"a button '{words}'", lambda: self.button(words))
            self.wait(f"'{words}' to be taken", lambda: self.key(Keys.PAGE_DOWN) or time.sleep(0.4) or not self.button(words))
            return
        if HOW != "keyboard":  # found and clicked at once: between two looks the page may be drawn anew
            self.wait(f"a button '{words}'", lambda: self.button(words).click() or True)
            return
        self.wait(f"a button '{words}'", lambda: self.button(words))
        for _ in range(60):  # Tab until it has the focus, then Enter
            if self.has_focus(words):
                self.key(Keys.ENTER)
                return
            self.key(Keys.TAB)
        raise SystemExit(f"the keyboard does not reach the button '{words}'")

    def key(self, key):
        """As a keyboard sends it: to the page, whatever has the focus by then; a step may be drawn anew at any moment."""
        ActionChains(self.page).send_keys(key).perform()

    def has_focus(self, words):
        focused = self.page.switch_to.active_element
        try:
            return focused.tag_name == "button" and focused.text.startswith(words)
        except StaleElementReferenceException:  # drawn anew between two looks
            return False

    def type_into(self, field, text):
        """By the keys of a keyboard; by touch, as a tablet's own keyboard enters it."""
        if HOW != "german":
            field.clear()
            field.send_keys(text)
            return
        touch(self.page, field)
        self.wait("the field", lambda: self.page.switch_to.active_element == field)
        field.parent.execute_script("arguments[0].select()", field)
        self.page.execute_cdp_cmd("Input.insertText", {"text": text})

    def touches_alone(self):
        self.page.execute_cdp_cmd("Emulation.setTouchEmulationEnabled", {"enabled": True})
        self.page.execute_script("""window.hands = {}; for (const kind of ['pointerdown', 'keydown'])
            document.addEventListener(kind, (event) => { window.hands[event.pointerType || kind] = true; }, true);""")

    def choose(self, words):
        self.press(words)
        self.wait("what was chosen, to be confirmed", lambda: said(words) in self.page.find_element(By.ID, "chosen").text and self.shown("#fitted"))

    def says_it_wrong_once(self, url):
        """Kilograms instead of grams: asked about, and nothing is entered until it is answered."""
        mass, = self.shown("input[name=mass-0]")
        right = mass.get_attribute("value")
        before = asked(url, "api/now")["entries"]
        self.type_into(mass, "17.6 kg")
        self.press("It is on the shaft")
        self.wait("the query", lambda: ("weicht" if HOW == "german" else "kg") in self.page.find_element(By.ID, "asked-once").text)
        self.keep("4-unlike-asked")
        assert asked(url, "api/now")["entries"] == before
        self.press("Mend it")
        self.type_into(mass, right)

    def button(self, words):
        found = [each for each in self.shown("button") if each.text.startswith(said(words))]
        return found[0] if found else None

    def title_is(self, words):
        return self.page.find_element(By.ID, "title").text.startswith(said(words))

    def title(self, words):
        self.wait(f"the instruction '{words}'", lambda: self.title_is(words))

    def pictures_are_there(self, selector, count):
        """Loaded, not only asked for."""
        self.wait(f"{count} pictures {selector}", lambda: self.page.execute_script(
            "return [...document.querySelectorAll(arguments[0])].filter((each) => each.complete && each.naturalWidth > 0).length",
            selector) == count)

    def keep(self, name, themes=("light", "dark")):
        for theme in themes if HOW == "clicks" else ("light",):
            self.page.execute_cdp_cmd("Emulation.setEmulatedMedia",
                                      {"features": [{"name": "prefers-color-scheme", "value": theme}]})
            for width, height in SHAPES:
                self.page.execute_cdp_cmd("Emulation.setDeviceMetricsOverride",
                                          {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False})
                time.sleep(0.15)
                self.wait("the pictures", lambda: self.page.execute_script("return [...document.images].every((each) => each.complete)"))
                self.page.save_screenshot(os.path.join(OUTPUT, f"{HOW}-{name}-{width}-{theme}.png"))
                self.nothing_sticks_out(name, width)
            self.look_through(f"{name}, {theme}")
        self.page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})
        self.page.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})

    def nothing_sticks_out(self, name, width):
        wide = self.page.execute_script("return document.documentElement.scrollWidth")
        assert wide <= width, f"{name}: {wide} px wide on a screen of {width}"

    def look_through(self, name):
        if AXE is None or HOW == "keyboard":
            return
        self.page.execute_script("if (!window.axe) { " + AXE + " }")
        # The main button stays in reach over what scrolls behind it; at the end of the page it stands in its own place and covers nothing.
        self.page.execute_script("window.scrollTo(0, document.documentElement.scrollHeight)")
        found = self.page.execute_async_script("""const done = arguments[arguments.length - 1];
            axe.run({ rules: { 'target-size': { enabled: true } } }).then((all) => done(all), (trouble) => done({ trouble: String(trouble) }));""")
        assert "violations" in found and len(found["passes"]) > 5, found.get("trouble")
        self.page.execute_script("window.scrollTo(0, 0)")
        for each in found["violations"]:
            self.findings.setdefault((each["impact"], each["id"]), []).append((name, each["nodes"][0]["html"][:120]))


def asked(url, path):
    with urllib.request.urlopen(url + path) as answer:
        return json.load(answer)


def nothing_went_wrong(page):
    # A weight far from what was asked for is refused once, with a query, and the browser tells of each refusal.
    def usual(message):
        return "favicon" in message or ("/api/fit" in message and "status of 400" in message)

    trouble = [each for each in page.get_log("browser") if each["level"] == "SEVERE" and not usual(each["message"])]
    assert not trouble, trouble


def goes_on_by_itself(operator, console):
    """A tablet that was out of reach, and a program that was killed: the same step, without a touch."""
    page = operator.page
    nothing_went_wrong(page)
    before = page.find_element(By.ID, "title").text
    pictures = len(page.find_elements(By.CSS_SELECTOR, ".face img"))
    page.execute_script("window.neverLoadedAnew = true")
    page.execute_cdp_cmd("Network.enable", {})
    reach = {"latency": 0, "downloadThroughput": -1, "uploadThroughput": -1}
    page.execute_cdp_cmd("Network.emulateNetworkConditions", {"offline": True, **reach})
    console.kill()
    operator.wait("the page to say that it is cut off", lambda: operator.shown("#lost"))
    page.execute_cdp_cmd("Network.emulateNetworkConditions", {"offline": False, **reach})
    time.sleep(1.0)  # longer than the browser waits before it asks again: nobody answers yet
    assert operator.shown("#lost")
    console.start()
    operator.wait("the page to find the program again", lambda: not operator.shown("#lost"))
    operator.wait("live values", lambda: page.execute_script("return performance.now() - state.heard < 1000"))
    it_stands(operator)  # a program that was started again knows nothing of it
    operator.title(before)
    assert page.find_element(By.ID, "title").text == before
    operator.pictures_are_there(".face img", pictures)
    assert page.execute_script("return window.neverLoadedAnew"), "the page was loaded anew"
    page.get_log("browser")  # of this time: who is not there cannot answer


def it_stands(operator):
    """Said by somebody who sees it; the rest the page finds by itself."""
    operator.press("The shaft stands still")
    operator.wait("the page to take it", lambda: not operator.shown("#stands"))


def drive(operator, url, on):
    """By the page's own button; with a pedal, by the switch at the rig."""
    if HOW != "pedal":
        operator.press("Start the drive" if on else "Stop the drive")
        return
    request = urllib.request.Request(url + "api/practice", json.dumps({"drive": on}).encode(), {"X-Counterspot": "1"})
    urllib.request.urlopen(request, timeout=60).close()


def the_faces_are_live(operator):
    """One for each sensor or plane; the arrows move, and what they show is said with its ±. All of it without scrolling."""
    page = operator.page

    def tips():
        return page.execute_script("return [...document.querySelectorAll('#faces .arrow')].map((each) => each.getAttribute('x2'))")

    operator.pictures_are_there("#faces img", 2)
    before = tips()
    operator.wait("the arrows to move", lambda: len(tips()) == 2 and all(now != then for now, then in zip(tips(), before)))
    operator.wait("what they show", lambda: all("±" in each.text for each in operator.shown("#faces figcaption")))
    page.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {"width": 1280, "height": 800, "deviceScaleFactor": 1, "mobile": False})
    bottom = page.execute_script("return document.querySelector('#faces').getBoundingClientRect().bottom")
    page.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
    assert bottom <= 800, f"the faces end at {bottom} px of 800"


def a_spin(operator, url, number):
    drive(operator, url, True)
    operator.wait("a recorded spin", lambda: asked(url, "api/live-once")["phase"] == "recording")
    if number == 0:
        the_faces_are_live(operator)
        operator.keep("2-recording", ("dark",))  # it does not last
    operator.title("Stop the rig")
    if number == 0:
        operator.keep("3-stop")
    drive(operator, url, False)
    operator.wait("the shaft to stand", lambda: asked(url, "api/live-once")["standing"])


def a_statement_is_taken_back(operator, url, step):
    """The form that it belonged to is there again, with what had been asked for."""
    operator.press("Menu")
    operator.press("This job's history")
    operator.wait("the history", lambda: operator.shown("#other form"))
    operator.type_into(operator.shown("#other form input[name=reason]")[-1], "it was another one")
    operator.press(f"Take entry {step['entries'] + 1} back")
    operator.title(step["title"])
    operator.wait("the form", lambda: operator.shown("#fitted"))
    assert asked(url, "api/now")["pieces"] == step["pieces"]
    operator.press("It is on the shaft")
    operator.title("Spin")


def a_job_by_pedal(operator, url):
    """Opened by a code reader, which types; then one key alone, up to the verdict. What a pedal cannot do, hands do: say once that
    the shaft stands, which somebody has to see, and close the job."""
    page = operator.page
    page.execute_script("""window.hands = {}; for (const kind of ['pointerdown', 'keydown'])
        document.addEventListener(kind, (event) => { window.hands[event.key || event.pointerType] = true; }, true);""")
    operator.wait("the first step", lambda: operator.button("Choose the shaft"))
    ActionChains(page, duration=0).send_keys("MC-").pause(0.3).send_keys("0417" + Keys.ENTER).perform()
    operator.wait("a code in pieces to be refused", lambda: "in pieces" in page.find_element(By.ID, "trouble").text)
    time.sleep(1.5)
    for _ in range(5):  # a code that came in pieces, on a machine that is busy, is refused and read again
        ActionChains(page, duration=0).send_keys("MC-0417" + Keys.ENTER).perform()
        operator.wait("the code to be taken or refused", lambda: operator.title_is("Spin the shaft as found") or "in pieces" in page.find_element(By.ID, "trouble").text)
        if operator.title_is("Spin the shaft as found"):
            break
        time.sleep(1.5)
    operator.title("Spin the shaft as found")
    operator.wait("to be asked whether it stands", lambda: operator.button("The shaft stands still"))
    operator.key(Keys.PAGE_DOWN)
    time.sleep(0.5)
    operator.button("The shaft stands still").click()
    operator.wait("the page to take it", lambda: not operator.shown("#stands"))
    page.execute_script("window.hands = {}; document.activeElement.blur()")
    for number in range(8):
        a_spin(operator, url, number)
        step = asked(url, "api/now")
        if step["step"] == "close":
            break
        operator.wait("what to fit", lambda: operator.shown("#fitted, #choices"))
        if step["choices"]:
            operator.choose("The trial weights are off")
        operator.press("It is on the shaft")
        operator.title("Spin")
    operator.title("Within limit")
    for _ in range(4):
        operator.key(Keys.PAGE_DOWN)
        time.sleep(0.5)
    assert asked(url, "api/now")["step"] == "close", "a pedal closed the job"
    used = page.execute_script("return Object.keys(window.hands)")
    assert used == ["PageDown"], used


def a_whole_job(operator, url, console):
    operator.press("Choose the shaft")
    operator.wait("the shafts", lambda: operator.button("MC-0417"))
    operator.keep("0-open")
    operator.press("MC-0417")
    operator.title("Spin the shaft as found")
    operator.keep("1-spin")
    it_stands(operator)
    for number in range(8):
        a_spin(operator, url, number)
        step = asked(url, "api/now")
        if step["step"] == "close":
            break
        operator.wait("what to fit", lambda: operator.shown("#fitted, #choices"))
        choices = step["choices"]  # where trial weights are on, the usual one first
        shown = choices[0]["fit"] if choices else step["fit"]
        if choices:
            assert [each["base"] for each in choices] == ["bare", "as_spun"], choices
            operator.title("Are the trial weights off?")
            operator.keep("5-which", ("dark",))
            operator.choose("The trial weights are off")
        operator.pictures_are_there(".face img", len(shown))
        if number in (0, 2):
            operator.keep(f"{4 if number == 0 else 5}-{step['step'].replace('_', '-')}")
        if number == 0 and HOW == "clicks":
            goes_on_by_itself(operator, console)
        if number == 0:
            operator.says_it_wrong_once(url)
        operator.press("It is on the shaft")
        operator.title("Spin")
        if number == 0:
            a_statement_is_taken_back(operator, url, step)
    operator.title("Within limit")
    operator.keep("6-within")
    operator.press("Close the job")
    operator.title("This job is closed")
    operator.pictures_are_there("img.sheet", 1)
    operator.keep("7-closed")


def the_other_pages(operator):
    for number, (name, words) in enumerate((("All jobs", "MC-0417/1"), ("This job's history", "as found"), ("Trends", "Week"),
                                            ("Rig health", "sensor A"), ("Bring a recording", "Send it")), 8):
        operator.press("Menu")
        operator.press(name)
        operator.wait(words, lambda words=words: said(words) in operator.page.find_element(By.ID, "other").text)
        operator.keep(f"{number}-{name.lower().replace(' ', '-').replace(chr(39), '')}")


def the_other_language(operator):
    """Chosen at the page, kept there, and stronger than the program's; what stands on the page is all in it."""
    page = operator.page
    other = {"en": "de", "de": "en"}[LANGUAGE]
    page.refresh()  # away from the field for a file, which takes no keys
    operator.wait("the page", lambda: operator.title_is("This job is closed"))
    operator.press("Menu")
    operator.press({"en": "Deutsch", "de": "English"}[LANGUAGE])
    operator.wait("the other language", lambda: page.execute_script("return document.documentElement.lang") == other)
    page.refresh()
    operator.wait("its menu", lambda: page.find_element(By.ID, "menu-button").text == in_words(other)["menu"])
    operator.wait("its title", lambda: page.find_element(By.ID, "title").text in TITLES.keys() | TITLES.values())
    english = re.findall(r"\b(?:the|of|at|on|with|shaft|spin|rig)\b", page.find_element(By.TAG_NAME, "body").text)
    assert (other == "en") == bool(english), english


def the_sheet_is_the_command_lines(operator, url, log):
    address, = operator.shown("#sheet a")
    assert address.text == said("Print the sheet")
    address = address.get_attribute("href")
    assert urllib.parse.urlparse(address).path == "/sheet.pdf"
    with urllib.request.urlopen(address) as answer:
        shown = answer.read()
    out = log + ".pdf"
    units = "inch" if HOW == "keyboard" else "metric"
    subprocess.run([PROGRAM, "sheet", "MC-0417/1", "--log", log, "--out", out, "--units", units, "--language", LANGUAGE], check=True, capture_output=True)
    assert shown == pathlib.Path(out).read_bytes() and shown.startswith(b"%PDF"), "the page's sheet is another"


def numbers_are_those_of_the_command_line(log, recordings):
    def run(*arguments):
        return subprocess.run([PROGRAM, *arguments], check=True, capture_output=True, text=True).stdout

    def readings(text):
        return [line.strip() for line in text.splitlines() if line.strip().startswith(("sensor A: ", "sensor B: ")) and " at " in line]

    files = sorted((each for each in os.listdir(recordings) if each.endswith(".flac") and ".cut-" not in each),
                   key=lambda name: int(name.split("-")[3]))
    assert len(files) >= 3, files
    other = log + ".other"
    run("job", "open", f"{DATA}/shaft.toml", "--rig", f"{DATA}/rig.toml", "--log", other)
    for name in files:
        run("job", "spin", os.path.join(recordings, name), "--log", other)
    page, line = (readings(run("job", "show", "--log", which, "--job", "MC-0417/1")) for which in (log, other))
    assert page == line and len(page) == 2 * len(files), (page, line)
    print(f"{len(files)} spins: the page read what 'job spin' reads in the same recordings")


class Console:
    def __init__(self, line):
        self.line, self.port = line, "0"
        self.start()

    def start(self):
        self.process = subprocess.Popen([*self.line, "--port", self.port], stdout=subprocess.PIPE, text=True)
        self.url = self.process.stdout.readline().split()[-1]
        self.port = self.url.split(":")[2].strip("/")

    def kill(self):
        self.process.kill()
        self.process.wait()


def say_findings(findings):
    for (impact, rule), places in sorted(findings.items(), key=str):
        print(f"axe-core: {impact}: {rule}, {len(places)} times, as in {places[0]}")
    grave = [key for key in findings if key[0] in ("serious", "critical")]
    assert not grave, grave


def main():
    os.makedirs(OUTPUT, exist_ok=True)
    folder = tempfile.mkdtemp()
    pipe, control, log, recordings = (os.path.join(folder, name) for name in ("rig.pipe", "control", "log.db", "spins"))
    os.mkfifo(pipe)
    rig = subprocess.Popen([RIGSIM, "live", "--control", control, "--out", pipe, "--run-up", "1.5"])
    console = Console([PROGRAM, "console", "--rig", os.path.join(DATA, "rig.toml"), "--shafts", DATA, "--source", f"raw:{pipe}",
                       "--rate", "5120 Hz", "--recordings", recordings, "--log", log, "--practice", control, "--speed", "1620 rpm",
                       "--seconds", "3 s", "--language", LANGUAGE])
    try:
        page = browser(folder)
        try:
            page.get(console.url)
            operator = Operator(page)
            if HOW == "pedal":
                a_job_by_pedal(operator, console.url)
                nothing_went_wrong(page)
                return
            if HOW == "keyboard":
                operator.press("g, mm")
            if HOW == "german":
                operator.touches_alone()
            a_whole_job(operator, console.url, console)
            if HOW == "german":
                assert page.execute_script("return Object.keys(window.hands)") == ["touch"], page.execute_script("return window.hands")
                page.execute_cdp_cmd("Emulation.setTouchEmulationEnabled", {"enabled": False})
            the_sheet_is_the_command_lines(operator, console.url, log)
            the_other_pages(operator)
            the_other_language(operator)
            say_findings(operator.findings)
            nothing_went_wrong(page)
        finally:
            page.quit()
        numbers_are_those_of_the_command_line(log, recordings)
    finally:
        for process in (rig, console.process):
            process.send_signal(signal.SIGTERM)
            process.wait()
        shutil.rmtree(folder)


main()
