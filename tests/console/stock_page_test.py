#!/usr/bin/env python3
"""The stock's file typed at the page, in Chromium and by touch alone: from a correction that no stock is known for to one in pieces of the
stock, in English; changed, replaced and begun anew in German. What the page writes is held against what 'stock new' writes of the same
answers, and against the answers themselves by Python's own reader. Then what goes wrong: a full disk, a folder that may not be written,
a file that another made meanwhile, a screen that only looks on.

usage: stock_page_test.py PROGRAM DATA_FOLDER OUTPUT_FOLDER
"""
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import time
import tomllib
import urllib.parse

from selenium.webdriver.common.by import By

from chromium import browser, touch, until
from console_program import COMMAND, Console

PROGRAM, DATA, OUTPUT = sys.argv[1:4]
FITTED = (("A 15 g @ 0 deg",), ("B 15 g @ 0 deg",))  # what spins.toml says was on the shaft
WATCH = "w" * 20
NOBODY = {"user": 65534, "group": 65534, "extra_groups": []} if os.getuid() == 0 else {}
ANSWERS = {"washer": ["16 mm: 2.9 g", "20 mm: 5.6 g"], "strip": ["12 x 3 mm, 0.283 g/mm"], "bead": ["4 %"], "closed-arc": ["A: 352 deg to 8 deg, weld seam"]}


class ShopConsole(Console):
    """Started in the shop's folder, as an owner does; with no right over files but its own, and told of a full disk by an error."""

    def start(self):
        self.command_line = [PROGRAM, "console", "--rig", f"{self.shop}/rig.toml", "--recordings", f"{self.shop}/spins", "--log", f"{self.shop}/log.db",
                             "--port", "0", *self.more]
        self.process = subprocess.Popen(self.command_line, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, cwd=self.shop, env=self.environment,
                                        restore_signals=False, **NOBODY)  # Python ignores SIGXFSZ
        self.url = self.process.stdout.readline().split()[-1]
        self.port = urllib.parse.urlsplit(self.url).port

    def disk_is_full(self, full):
        """A file takes no more than a few bytes."""
        subprocess.run(["prlimit", "--pid", str(self.process.pid), f"--fsize={64 if full else 'unlimited'}:"], check=True, **NOBODY)

    def __init__(self, shop, *more):
        self.shop, self.more = shop, more
        super().__init__(PROGRAM, DATA, shop, environment=own_home(shop))


def own_home(shop):
    return {"XDG_CONFIG_HOME": f"{shop}/own", "XDG_DATA_HOME": f"{shop}/own"}


def run(shop, *arguments):
    done = subprocess.run([PROGRAM, *arguments], check=False, capture_output=True, text=True, cwd=shop, env={**os.environ, **own_home(shop)}, stdin=subprocess.DEVNULL)
    assert done.returncode in (0, 1), (arguments, done.stderr)
    return done.stdout


def shop_at_a_correction(folder):
    """A shop without a stock, whose job knows what is to be fitted."""
    shop = pathlib.Path(folder, "shop")
    shop.mkdir()
    for name in ("rig.toml", "shaft.toml"):
        shutil.copy(f"{DATA}/{name}", shop)
    log = ("--log", f"{shop}/log.db")
    run(shop, "job", "open", "shaft.toml", "--rig", "rig.toml", *log)
    for recording, pieces in zip(("00-as-found", "01-trial-a", "02-trial-b"), (*FITTED, ())):
        run(shop, "job", "spin", f"{DATA}/{recording}.flac", *log)
        if pieces:
            run(shop, "job", "fit", "--as-typed", "--only", *pieces, *log)
    hand_over(shop)
    return shop


def hand_over(folder):
    if os.getuid() == 0:
        for place, folders, files in os.walk(folder):
            for each in (place, *(f"{place}/{name}" for name in files)):
                os.chown(each, 65534, 65534)


class Hands:
    """A finger on the page."""

    def __init__(self, page):
        self.page = page

    def shown(self, selector):
        return [each for each in self.page.find_elements(By.CSS_SELECTOR, selector) if each.is_displayed()]

    def until(self, what, condition):
        until(self.page, what, condition, f"{OUTPUT}/stock-stuck.png")

    def touch(self, selector):
        self.until(selector, lambda: self.shown(selector) and self.shown(selector)[0].is_enabled() and touch(self.page, self.shown(selector)[0]))

    def text(self, selector):
        return self.page.execute_script("const part = document.querySelector(arguments[0]); return part ? part.textContent : '';", selector)

    def typed(self):
        return self.page.execute_script("const part = document.querySelector('#stock input'); return part ? part.value : '';")

    def asked(self, key):
        self.until(f"the question of {key}", lambda: self.page.execute_script("return document.querySelector('#stock').dataset.asked") == key
                   and not self.page.execute_script("return document.querySelector('#stock').dataset.busy"))

    def stage(self, name):
        self.until(f"the stage {name}", lambda: self.page.execute_script("return document.querySelector('#stock').dataset.stage") == name)

    def on_pad(self, *keys):
        for key in keys:
            self.until(key, lambda key=key: [touch(self.page, each) for each in self.shown("#stock-pad button") if each.text == key])

    def answer(self, key, *keys):
        self.asked(key)
        self.on_pad(*keys)
        before = self.page.execute_script("return stockSeen.told.seen")
        self.touch("#stock-add")
        self.until("the answer to be taken", lambda: self.page.execute_script("return stockSeen.told.seen") != before)

    def is_refused(self, button, words, where):
        self.page.execute_script("document.querySelectorAll('#stock-trouble').forEach((each) => each.remove())")  # of what was tried before
        self.touch(button)
        self.until(f"that it is refused: {words}", lambda: words in self.text(where))

    def done_with(self, key):
        self.asked(key)
        self.touch("#stock-no-more")

    def shot(self, name):
        for width, height in ((1280, 800), (390, 844)):
            self.page.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False})
            self.page.execute_script("scrollTo(0, 0)")
            self.page.save_screenshot(f"{OUTPUT}/stock-{name}-{width}.png")
            wider = self.page.execute_script("return document.documentElement.scrollWidth - innerWidth")
            assert wider <= 0, (name, width, wider)

    def open(self, url):
        self.page.get(url)
        self.until("the page", lambda: self.page.execute_script("return Boolean(state.now) && Boolean(state.live)"))

    def open_stock(self):
        self.touch("#menu-button")
        self.touch("#menu [data-view=stock]")
        self.until("the stock's page", lambda: self.shown("#stock"))


def keys(text):
    """What is pressed for it."""
    return re.findall(r"A:|g/mm|mm|deg|to|[0-9.:,%x-]|g|N", text)


def interview(hands):
    """From the correction to the file, each answer by the pad; an odd one is refused beside its field; a reload in between."""
    hands.until("the choice", lambda: hands.shown(".choice[value=as_spun]"))
    hands.touch(".choice[value=as_spun]")
    hands.until("that no stock is known", lambda: hands.shown("#say-stock"))
    hands.shot("none-known")
    hands.touch("#say-stock")
    hands.asked("name")
    hands.touch("#stock-standard")
    hands.asked("washer")
    hands.on_pad("1", "6", "mm", "2", ".", "9", "g")
    hands.is_refused("#stock-add", "'16 mm2.9 g' is not understood", "label + #stock-trouble")
    assert "write it like '16 mm: 2.9 g'" in hands.text("#stock-trouble") and hands.typed() == "16 mm2.9 g", hands.typed()
    hands.shot("refused")
    hands.on_pad("⌫", "⌫", "⌫", "⌫", ":", "2", ".", "9", "g")
    assert hands.typed() == "16 mm: 2.9 g", hands.typed()
    hands.answer("washer")
    hands.answer("washer", *keys("25 mm: 9 g"))
    hands.answer("washer", *keys("20 mm: 5.6 g"))
    hands.until("three washers", lambda: len(hands.shown("[data-key=washer] li")) == 3)
    hands.touch("[data-key=washer] li:nth-child(2) button")  # was not one
    hands.until("two washers", lambda: len(hands.shown("[data-key=washer] li")) == 2)
    hands.shot("washers")
    hands.done_with("washer")
    hands.done_with("slug")
    hands.asked("strip")
    hands.on_pad(*keys("12 x 3"))
    hands.page.refresh()
    hands.until("the page", lambda: hands.page.execute_script("return Boolean(state.now) && Boolean(state.live)"))
    hands.open_stock()
    hands.asked("strip")
    assert hands.typed() == "12 x 3", hands.typed()
    hands.answer("strip", *keys("mm, 0.283 g/mm"))
    hands.done_with("strip")
    hands.done_with("clamp")
    hands.answer("bead", *keys("4 %"))
    hands.asked("planes")
    hands.touch("#stock-standard")
    hands.asked("closed-arc")
    hands.on_pad(*keys("A: 352 deg to 8 deg,"))
    hands.page.find_element(By.CSS_SELECTOR, "#stock input").send_keys("weld seam")  # as the tablet's own keyboard writes it
    hands.shot("arc")
    hands.answer("closed-arc")
    hands.done_with("closed-arc")
    hands.stage("shown")


def as_the_command_writes_it(folder):
    other = pathlib.Path(folder, "other")
    other.mkdir()
    options = [part for key, answers in ANSWERS.items() for answer in answers for part in (f"--{key}", answer)]
    run(other, "stock", "new", "--name", "stock", "--planes", "A, B", *options)
    return (other / "stock.toml").read_text(encoding="utf-8")


def it_is_written_and_used(hands, console, shop, folder):
    hands.shot("shown")
    assert not (shop / "stock.toml").exists(), "it was written before anybody said so"
    hands.touch("#stock-write")
    hands.stage("there")
    hands.until("that it is written", lambda: "It is used from now on" in hands.text("#stock-note"))
    hands.shot("written")
    text = (shop / "stock.toml").read_text(encoding="utf-8")
    assert text == as_the_command_writes_it(folder)
    stock = tomllib.loads(text)
    assert [each["mass"] for each in stock["piece"]] == ["2.9 g", "5.6 g"] and stock["stock"]["bead"] == "4 %", stock
    assert stock["strip"][0]["linear_mass"] == "0.283 g/mm" and stock["plane"][0]["forbidden"][0]["why"] == "weld seam", stock
    assert tomllib.loads((shop / "shop.toml").read_text(encoding="utf-8")) == {"stock": "stock.toml"}
    # The page has it at once; so has a command that names no file.
    hands.touch("#stock-to-work")
    hands.until("pieces of the stock", lambda: "strip 12 x 3 mm" in hands.text(".ways .choice:not([value=one])"))
    hands.shot("used")
    assert json.loads(console.ask("GET", "/api/now")[2])["stock"] == "stock"
    for name in ("spins.toml", "00-as-found.flac", "01-trial-a.flac", "02-trial-b.flac"):
        shutil.copy(f"{DATA}/{name}", shop)
    pieces = json.loads(run(shop, "place", "spins.toml", "--json"))["pieces"]
    assert pieces and {piece["kind"] for piece in pieces} <= {"washer 16 mm", "washer 20 mm", "strip 12 x 3 mm"}, pieces
    assert all(8 < piece["angle_deg"] < 352 for piece in pieces if piece["plane"] == "A"), pieces


def changed_in_german(hands, shop):
    """What is there is changed from its answers, and replaced; the old one is kept. A file changed by hand says how it is changed."""
    file, before = shop / "stock.toml", (shop / "stock.toml").read_text(encoding="utf-8")
    hands.touch("#menu-button")
    hands.touch("#language")
    hands.until("German", lambda: hands.page.execute_script("return document.documentElement.lang") == "de")
    hands.open_stock()
    hands.stage("there")
    hands.touch("#stock-change")
    hands.stage("shown")
    hands.touch("[data-key=washer] li:nth-child(2) button")
    hands.until("one washer", lambda: len(hands.shown("[data-key=washer] li")) == 1)
    hands.touch("[data-key=washer] > button")
    hands.asked("washer")
    hands.page.find_element(By.CSS_SELECTOR, "#stock input").send_keys("24 mm; 9,7 g")
    hands.is_refused("#stock-add", "Diese Antwort ist nicht zu verstehen: '24 mm; 9,7 g'", "label + #stock-trouble")
    hands.shot("refused-de")
    hands.page.execute_script("const field = document.querySelector('#stock input'); field.value = ''; field.dispatchEvent(new Event('input'));")
    hands.page.find_element(By.CSS_SELECTOR, "#stock input").send_keys("24 mm: 9,7 g")
    hands.answer("washer")
    hands.done_with("washer")
    hands.stage("shown")
    assert "stock.before-1.toml" in hands.text("#stock") and file.read_text(encoding="utf-8") == before
    hands.shot("replace-de")
    hands.touch("#stock-write")
    hands.stage("there")
    assert (shop / "stock.before-1.toml").read_text(encoding="utf-8") == before, "the old one is not kept as it was"
    now = tomllib.loads(file.read_text(encoding="utf-8"))
    assert [(each["name"], each["mass"]) for each in now["piece"]] == [("Scheibe 16 mm", "2.9 g"), ("Scheibe 24 mm", "9,7 g")], now
    # By hand, in a text editor.
    file.write_text(file.read_text(encoding="utf-8") + "# ours\n", encoding="utf-8")
    hands.page.execute_script("view('stock')")
    hands.until("how it is changed", lambda: "'counterspot manual stock-file'" in hands.text("#stock-by-hand"))
    assert not hands.shown("#stock-change")
    hands.shot("by-hand-de")
    hands.touch("#stock-anew")
    hands.asked("name")
    assert not hands.shown(".stock-answered"), "it is not begun anew"
    hands.touch("#stock-leave")
    hands.stage("there")
    assert file.read_text(encoding="utf-8").endswith("# ours\n")


def with_a_full_disk(hands, console, shop):
    """An answer that cannot be kept is refused, and stays in its field; so is a file that cannot be written."""
    hands.touch("#stock-anew")
    hands.asked("name")
    hands.touch("#stock-standard")
    hands.asked("washer")
    console.disk_is_full(True)
    hands.on_pad(*keys("16 mm: 2.9 g"))
    hands.is_refused("#stock-add", "nicht ganz geschrieben", "label + #stock-trouble")
    assert hands.typed() == "16 mm: 2.9 g"
    console.disk_is_full(False)
    hands.answer("washer")
    for key in ("washer", "slug", "strip", "clamp", "bead"):
        hands.done_with(key)
    hands.asked("planes")
    hands.touch("#stock-standard")
    hands.done_with("closed-arc")
    hands.stage("shown")
    before = {each.name: each.read_bytes() for each in shop.glob("stock*")}
    console.disk_is_full(True)
    hands.is_refused("#stock-write", "nicht ganz geschrieben", "#stock-trouble")
    console.disk_is_full(False)
    assert {each.name: each.read_bytes() for each in shop.glob("stock*")} == before, "a disk that is full changed files"
    # A folder that may not be written.
    shop.chmod(0o555)
    hands.is_refused("#stock-write", "nicht ganz geschrieben", "#stock-trouble")
    shop.chmod(0o755)
    assert {each.name: each.read_bytes() for each in shop.glob("stock*")} == before
    hands.stage("shown")


def made_meanwhile(hands, console, shop):
    """What another program wrote in the meantime is not written over."""
    (shop / "stock.toml").write_text('[[piece]]\nname = "another"\nmass = "1 g"\n', encoding="utf-8")
    hands.is_refused("#stock-write", "inzwischen geändert", "#stock-trouble")
    assert 'name = "another"' in (shop / "stock.toml").read_text(encoding="utf-8")
    # By this page's command alone, and what was seen of the file must be said.
    said = json.dumps({"seen": "0" * 64}).encode()
    assert console.code("POST", "/api/stock-write", headers=COMMAND, body=said) == (409, "stock_moved_on")
    told = json.loads(console.ask("GET", "/api/stock-file")[2])
    wrong = json.dumps({"seen": told["seen"], "key": 7, "answer": ["x"]}).encode()
    assert console.code("POST", "/api/stock-answer", headers=COMMAND, body=wrong) == (400, "bad_request")
    hands.touch("#stock-leave")
    hands.stage("there")


def who_only_looks_on(hands, console):
    hands.page.execute_script("localStorage.setItem('language', 'en')")
    hands.page.delete_all_cookies()
    hands.open(f"http://127.0.0.1:{console.port}/?token={WATCH}")
    hands.page.execute_script("view('stock')")
    hands.until("the stock's file", lambda: hands.shown("#stock-text"))
    assert not hands.shown("#stock button"), [each.text for each in hands.shown("#stock button")]
    code = hands.page.execute_async_script("""fetch('/api/stock-change', { method: 'POST', headers: { 'X-Counterspot': '1', 'Content-Type': 'application/json' },
        body: JSON.stringify({ seen: stockSeen.told.seen }) }).then((answer) => answer.json()).then((told) => arguments[0](told.code));""")
    assert code == "watches_only", code


def main():
    os.makedirs(OUTPUT, exist_ok=True)
    begin = time.monotonic()
    folder = tempfile.mkdtemp()
    os.chmod(folder, 0o755)
    page = browser(f"{folder}/browser")
    hands = Hands(page)
    try:
        shop = shop_at_a_correction(folder)
        with ShopConsole(shop, "--language", "en") as console:
            hands.open(console.url)
            interview(hands)
            it_is_written_and_used(hands, console, shop, folder)
            changed_in_german(hands, shop)
            with_a_full_disk(hands, console, shop)
            made_meanwhile(hands, console, shop)
        with ShopConsole(shop, "--token", "t" * 20, "--watch-token", WATCH) as console:
            who_only_looks_on(hands, console)
    finally:
        page.quit()
        shutil.rmtree(folder, ignore_errors=True)
    print(f"a stock was typed, changed and replaced by touch, in {time.monotonic() - begin:.0f} s")


main()
