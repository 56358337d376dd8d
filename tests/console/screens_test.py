#!/usr/bin/env python3
"""Every screen of the page beside a kept picture of it, in Chromium: at four sizes, light and dark, English and German.

usage: screens_test.py PROGRAM RIGSIM DATA_FOLDER OUTPUT_FOLDER some|all|keep [NAME ...]

Kept are greys of a block of 8 by 8 pixels each, in kept_screens: enough to see that something moved, went or changed its shade, too
little to see how a release of Chromium draws its letters. `keep` makes them anew; who does so looks at the screens in OUTPUT_FOLDER.
A screen that differs is left there beside the kept one. That a button which moved 40 px and a face which is gone are found is a
part of the test.
"""
import base64
import contextlib
import io
import json
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import time

import numpy
from PIL import Image

sys.path.insert(0, str(pathlib.Path(__file__).parent))
from chromium import browser, until  # noqa: E402
from console_program import COMMAND, Console  # noqa: E402
from replayed import DAY, Replayed, hold, key_of, still_of_new_rig  # noqa: E402
from typed_rig import TypedRig  # noqa: E402

PROGRAM, RIGSIM, DATA, OUTPUT, WHICH = sys.argv[1:6]
NAMES = sys.argv[6:]
KEPT = pathlib.Path(__file__).parent / "kept_screens"
SIZES = ((1280, 800), (1920, 1080), (800, 1280), (390, 844))
ALL = [(size, theme, language) for language in ("en", "de") for theme in ("light", "dark") for size in SIZES]
SOME = [(SIZES[0], "light", "en"), (SIZES[3], "light", "en"), (SIZES[0], "dark", "de")]
BLOCK_PX = 8
SHADES = 16
# Of the shades. A block is another if none of its neighbours' kept shades is as near: what lies 8 px beside, as letters of another
# release do, is the same.
ALIKE = 2
MOST_BLOCKS = 6
MOST_OF_NOISE = 24  # where noise is drawn as large as a screen allows
STEP_S = 60
# Day and time of day stand in pictures, drawn.
CLOCK = {"LD_PRELOAD": str(next(pathlib.Path("/usr/lib").glob("*/faketime/libfaketime.so.1"))), "FAKETIME": f"{DAY} 08:00:00", "DONT_FAKE_MONOTONIC": "1"}
# What sticks out, controls that lie under something else where they are seen, and pictures of another shape than theirs.
WHAT_IS_WRONG = """const wrong = [];
    if (document.documentElement.scrollWidth > innerWidth) wrong.push(`${document.documentElement.scrollWidth} px wide`);
    for (const each of document.querySelectorAll('button, summary, input, select, a.main')) {
        if (!each.checkVisibility()) continue;
        const box = each.getBoundingClientRect();
        if (box.top < 0 || box.bottom > innerHeight || box.right > innerWidth) continue;  // scrolled to, and then seen
        for (const [x, y] of [[.5, .5], [.1, .15], [.9, .15], [.1, .85], [.9, .85]]) {
            const there = document.elementFromPoint(box.left + x * box.width, box.top + y * box.height);
            if (there && (each.contains(there) || there.contains(each))) continue;
            wrong.push(`'${each.textContent || each.name}' lies under '${there && (there.id || there.textContent.slice(0, 30))}'`);
            break;
        }
    }
    for (const each of document.images) {
        const box = each.getBoundingClientRect();
        const shape = each.naturalWidth / each.naturalHeight * box.height / box.width;
        if (each.checkVisibility() && box.width && Math.abs(shape - 1) > .02) wrong.push(`${each.alt} is shown in another shape: ${shape.toFixed(2)}`);
    }
    return wrong;"""


def reduced(png):
    """The mean grey of each block, in shades."""
    grey = numpy.asarray(Image.open(io.BytesIO(png)).convert("L"), dtype=float)
    high, wide = (length // BLOCK_PX for length in grey.shape)
    blocks = grey[:high * BLOCK_PX, :wide * BLOCK_PX].reshape(high, BLOCK_PX, wide, BLOCK_PX).mean(axis=(1, 3))
    return numpy.floor(blocks * SHADES / 256).astype(int)


def away(one, other):
    """Of each block of the one, how far the nearest of the other is in shade, there or beside."""
    beside = numpy.pad(other, 1, mode="edge")
    high, wide = one.shape
    return numpy.min([abs(one - beside[y:y + high, x:x + wide]) for y in range(3) for x in range(3)], axis=0)


def blocks_that_differ(one, other):
    if one.shape != other.shape:
        return numpy.ones(one.shape, bool)
    return numpy.maximum(away(one, other), away(other, one)) >= ALIKE


def differ(one, other, most=MOST_BLOCKS):
    return int(blocks_that_differ(one, other).sum()) > most


def as_picture(shades):
    picture = Image.fromarray(shades.astype(numpy.uint8)).convert("P")
    picture.putpalette([round(255 * shade / (SHADES - 1)) for shade in range(SHADES) for _ in range(3)])
    return picture


def shades_in(file):
    return numpy.asarray(Image.open(file), dtype=int)


class Screens:
    """Shows a console's screens as they are asked for, and holds each against what is kept of it."""

    def __init__(self, page, replayed):
        self.page, self.replayed = page, replayed
        self.wrong, self.looked_at, self.names, self.top = [], 0, [], None
        self.cases = {"some": SOME}.get(WHICH, ALL)

    def until(self, what, condition):
        until(self.page, what, condition, os.path.join(OUTPUT, "screen-stuck.png"), STEP_S, pause_s=0.03)

    def wanted(self, name):
        self.names.append(name)
        return not NAMES or name in NAMES

    def of(self, name, console, held=None, go=None, ready="#title", moved=None, gone=None, top=None):
        """@param go what leads there: parts to be clicked one after the other, or a script; @param ready what is there then;
        @param moved, gone parts whose loss must be found; @param top what the screen is scrolled to"""
        if not self.wanted(name):
            return
        console.ask("GET", "/api/now")  # so that its live event is of what the command line entered
        self.replayed.show(console, held)
        self.top = top
        for language in dict.fromkeys(each[2] for each in self.cases):
            self.load(language, go, ready)
            for size, theme, _ in (each for each in self.cases if each[2] == language):
                self.hold_against(name, size, theme, language)
                if WHICH != "keep" and (size, theme, language) == SOME[0]:
                    self.loss_is_found(name, moved, gone)

    def load(self, language, go, ready):
        self.replayed.language = language
        self.look_at(SIZES[0])
        begin = self.page.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": f"""if (location.protocol === 'http:') {{
            localStorage.clear(); sessionStorage.clear(); localStorage.setItem('language', '{language}'); }}"""})
        self.page.get("about:blank")  # else what was chosen before would be shown again
        self.page.get(self.replayed.url)
        self.page.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", begin)
        self.until("the page", lambda: self.page.execute_script("return Boolean(state.live) && state.language === arguments[0] && Boolean(state.now)", language))
        for step in (go if isinstance(go, tuple) else ()):
            self.until(step, lambda step=step: self.page.execute_script("const part = document.querySelector(arguments[0]); part.click(); return true;", step))
        if isinstance(go, str):
            self.page.execute_script(go)
        self.until(ready, lambda: self.page.execute_script("const part = document.querySelector(arguments[0]); return Boolean(part && part.checkVisibility())", ready))

    def look_at(self, size):
        self.page.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {"width": size[0], "height": size[1], "deviceScaleFactor": 1, "mobile": False})

    def shot(self, size, theme):
        self.page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [{"name": "prefers-color-scheme", "value": theme},
                                                                            {"name": "prefers-reduced-motion", "value": "reduce"}]})
        self.look_at(size)
        self.page.execute_script("window.scrollTo(0, 0); const part = arguments[0] && document.querySelector(arguments[0]); if (part) part.scrollIntoView();", self.top)
        self.until("the pictures", lambda: self.page.execute_script("""return [...document.images].every((each) => each.complete &&
            (!each.checkVisibility() || each.naturalWidth > 0) && (!each.closest('picture, #curves-picture') || !each.currentSrc ||
            each.currentSrc.includes('theme=' + arguments[0])));""", theme))
        self.page.execute_async_script("const done = arguments[0]; requestAnimationFrame(() => requestAnimationFrame(done));")
        told = self.page.execute_cdp_cmd("Page.captureScreenshot", {"format": "png", "optimizeForSpeed": True})
        return base64.b64decode(told["data"])

    def hold_against(self, name, size, theme, language):
        file = f"{name}-{size[0]}-{theme}-{language}.png"
        png = self.shot(size, theme)
        now = reduced(png)
        self.looked_at += 1
        if theme == "light":
            self.wrong += [f"{file}: {each}" for each in self.page.execute_script(WHAT_IS_WRONG)]
        if WHICH == "keep":
            as_picture(now).save(KEPT / file, bits=4, optimize=True)
            pathlib.Path(OUTPUT, f"screen-{file}").write_bytes(png)
            return
        kept = shades_in(KEPT / file) if (KEPT / file).exists() else None
        if kept is not None and not differ(now, kept, MOST_OF_NOISE if name == "curves-orders" else MOST_BLOCKS):
            return
        pathlib.Path(OUTPUT, f"screen-{file}").write_bytes(png)
        self.wrong.append(self.beside_each_other(file, now, kept))

    def beside_each_other(self, file, now, kept):
        """Kept, new, and where they differ, as large as the screen's half."""
        if kept is None:
            return f"{file}: no picture of it is kept"
        parts = [kept, now] + ([numpy.where(blocks_that_differ(now, kept), 0, SHADES - 1)] if kept.shape == now.shape else [])
        both = Image.new("L", (sum(part.shape[1] + 2 for part in parts), max(part.shape[0] for part in parts)), 128)
        x = 0
        for part in parts:
            both.paste(as_picture(part).convert("L"), (x, 0))
            x += part.shape[1] + 2
        where = os.path.join(OUTPUT, f"differs-{file}")
        both.resize((4 * both.width, 4 * both.height), Image.NEAREST).save(where)
        blocks = int(blocks_that_differ(now, kept).sum())
        return f"{file}: {blocks} blocks are another, at most {MOST_BLOCKS} may be; kept, new and where they differ: {where}"

    def loss_is_found(self, name, moved, gone):
        """The comparison can fail: what moved by 40 px, and what is gone, is seen."""
        right = reduced(self.shot(SIZES[0], "light"))
        for part, change in ((moved, "transform: translateY(-40px)"), (gone, "visibility: hidden")):
            if not part:
                continue
            changed = self.page.execute_script("""const parts = [...document.querySelectorAll(arguments[0])].filter((each) => each.checkVisibility());
                parts.forEach((each) => { each.style.cssText = arguments[1]; }); return parts.length;""", part, change)
            assert changed, f"{name}: there is no {part}"
            assert differ(reduced(self.shot(SIZES[0], "light")), right), f"{name}: {part} with '{change}' was not found"
            self.page.execute_script("document.querySelectorAll(arguments[0]).forEach((each) => { each.style.cssText = ''; });", part)
        assert not differ(reduced(self.shot(SIZES[0], "light")), right), f"{name}: the screen is not as it was"


def the_look_is_chosen(screens, console):
    """Dark on a screen that is light, as on one that is dark; and text that is larger. Both outlive the page."""
    if WHICH == "keep" or (NAMES and "start" not in NAMES):
        return
    screens.replayed.show(console)
    screens.load("en", None, "#title")
    press = lambda button: screens.page.execute_script("document.getElementById(arguments[0]).click()", button)
    press("theme")
    press("theme")
    screens.page.refresh()
    screens.until("the page", lambda: screens.page.execute_script("return Boolean(state.live) && Boolean(state.now)"))
    dark = shades_in(KEPT / f"start-{SIZES[0][0]}-dark-en.png")
    assert not differ(reduced(screens.shot(SIZES[0], "light")), dark), "what was chosen to be dark is not"
    press("theme")
    assert differ(reduced(screens.shot(SIZES[0], "light")), dark), "it is dark for ever"
    large = lambda: screens.page.execute_script("return parseFloat(getComputedStyle(document.querySelector('#go')).fontSize)")
    before = large()
    press("size")
    after = large()
    assert after > 1.05 * before, (before, after)


# ---- the consoles whose screens are shown ----
def run(*arguments):
    done = subprocess.run([PROGRAM, *arguments], check=False, capture_output=True, text=True)
    assert done.returncode in (0, 1), (arguments, done.stderr)
    return done.stdout


def tell(console, path, **said):
    status, _, text = console.ask("POST", path, COMMAND, json.dumps(said).encode())
    assert status == 200, text
    return json.loads(text)


@contextlib.contextmanager
def simulated(seconds):
    """A console on the live simulated rig with a job, the rig's process, and its control file. @param seconds of a recording."""
    with tempfile.TemporaryDirectory() as folder:
        pipe, control = f"{folder}/rig.pipe", pathlib.Path(folder, "control")
        os.mkfifo(pipe)
        control.write_text("drive off\n", encoding="ascii")
        rig = subprocess.Popen([RIGSIM, "live", "--control", control, "--out", pipe, "--run-up", "1.5"])
        try:
            with Console(PROGRAM, DATA, folder, "--source", f"raw:{pipe}", "--rate", "5120 Hz", "--speed", "1620 rpm", "--practice", str(control),
                         "--seconds", seconds) as console:
                tell(console, "/api/open", file="shaft.toml")
                yield console, rig, control
        finally:
            rig.kill()
            rig.wait()


def live_of(console):
    return json.loads(console.ask("GET", "/api/live-once")[2])


def live_screens(screens):
    """On the simulated rig: before, while and after a spin is recorded."""
    if NAMES and not {"wanted", "face", "turns", "hands"} & set(NAMES):
        return
    with simulated("6 s") as (console, _, _):
        live = lambda: live_of(console)
        screens.until("to be asked whether it stands", lambda: live()["may_confirm"] or live()["standing"])
        if not live()["standing"]:
            tell(console, "/api/stands")
        screens.until("it stands", lambda: live()["standing"])
        held = {"wanted": hold(console)}
        tell(console, "/api/practice", drive=True)
        screens.until("the spin to be recorded", lambda: live()["phase"] == "recording" and all(face["tip"] for face in live()["faces"]))
        held["face"] = hold(console)
        screens.until("what the spin says", lambda: json.loads(console.ask("GET", "/api/now")[2])["step"] == "fit_trial")
        screens.until("it to be told", lambda: live()["title"])
        held["turns"] = hold(console)
        tell(console, "/api/practice", drive=False)
        screens.until("it stands", lambda: live()["standing"])
        held["hands"] = hold(console)
        screens.of("wanted", console, held["wanted"], moved="#menu-button", gone="#gauge")
        screens.of("face", console, held["face"], ready="#faces img", moved="#instruments", gone="#faces")
        screens.of("turns", console, held["turns"], gone="#title")
        screens.of("hands", console, held["hands"], ready="#fitted", moved="#fitted", gone=".face")


def curves_screens(screens):
    """A recording that is always the same, played as a live source: a run-up, and then a steady spin."""
    if NAMES and not any(name.startswith("curves-") for name in NAMES):
        return
    with tempfile.TemporaryDirectory() as folder:
        recording = f"{folder}/run-up.flac"
        subprocess.run([RIGSIM, "spin", "--speed", "300 rpm", "--stretch", "1620 rpm in 15 s", "--seconds", "60", "--seed", "5", "--out", recording], check=True)
        with Console(PROGRAM, DATA, folder, "--source", f"play:{recording}", "--seconds", "60 s", environment=CLOCK) as console:
            tell(console, "/api/open", file="shaft.toml")
            live = lambda: live_of(console)
            screens.until("a steady speed", lambda: live()["at_s"] > 20.0)
            held = hold(console, curves=("time", "speed", "orders"))
            for kind in ("time", "speed", "orders"):
                screens.of(f"curves-{kind}", console, held, go=f"document.querySelector('#instruments [value={kind}]').click()",
                           ready="#curves-picture img", moved="#instruments", gone="#curves-picture")


def alarm_screens(screens):
    """What goes wrong while the shaft turns, on the simulated rig whose mishaps are switched on at the page."""
    names = {"too-fast", "tach-lost", "cable-off", "source-dead", "practice"}
    if NAMES and not names & set(NAMES):
        return
    with simulated("600 s") as (console, rig, control):
        live = lambda: live_of(console)
        tell(console, "/api/practice", drive=True)
        turning = lambda: live()["phase"] == "recording" and all(face["tip"] for face in live()["faces"])
        screens.until("the faces", turning)
        tell(console, "/api/practice", mishap="loose", on=True)
        screens.until("the cable", lambda: not any(face["tip"] for face in live()["faces"]) and "nothing" in live()["faces"][0]["words"])
        held = {"cable-off": hold(console)}
        tell(console, "/api/practice", mishap="loose", on=False)
        screens.until("the faces", turning)
        tell(console, "/api/practice", mishap="tach", on=True)
        screens.until("the tach", lambda: live()["tach_lost"])
        held["tach-lost"] = hold(console)
        tell(console, "/api/practice", mishap="tach", on=False)
        screens.until("the faces", turning)
        control.write_text("drive on\nspeed 4500 rpm\n", encoding="ascii")
        screens.until("the alarm", lambda: live()["alarm"] and live()["speed_rpm"] > 4490)
        held["too-fast"] = hold(console)
        tell(console, "/api/practice", drive=True)
        screens.until("the faces", turning)
        rig.kill()
        screens.until("no news", lambda: live()["old"])
        held["source-dead"] = hold(console)
        screens.of("practice", console, held["tach-lost"], go=("#mishaps summary",), ready="#mishaps button", moved="#mishaps")
        screens.of("cable-off", console, held["cable-off"], ready="#faces .bad", gone="#faces")
        screens.of("tach-lost", console, held["tach-lost"], gone="#title")
        screens.of("too-fast", console, held["too-fast"], ready="#alarm", gone="#alarm")
        screens.of("source-dead", console, held["source-dead"], gone="#title")


class NewRig(Console):
    """The console of a rig that has no file yet."""

    def __init__(self, program, folder, *more):
        super().__init__(program, "", folder, environment=CLOCK)
        self.command_line = [program, "console", "--new-rig", f"{folder}/shop", "--port", "0", "--language", "en", *more]


# Of the steps from an empty folder to a known weight, those whose page looks different.
NEW_RIG = {("stand", "rest"): "new-stand", ("hands", "knocks-a"): "new-knocks", ("direction", "direction"): "new-direction",
           ("hands", "at-a"): "new-weight", ("proved", ""): "new-proved"}
PACE = 3  # of the simulated rig and of its hands, against the clock
TAKES_S = {"knocks-a": 8.5, "knocks-b": 8.5, "hand": 15}  # of what is done once, on the simulation's clock


def new_rig_screens(screens):
    """The first day at a simulated rig, by the requests that the page makes."""
    wanted = {name for name in NEW_RIG.values() if not NAMES or name in NAMES}
    if not wanted:
        return
    told = dict(line.split(" ", 1) for line in subprocess.run([RIGSIM, "first-day", "--case", "303", "--describe"], check=True, capture_output=True,
                                                              text=True).stdout.splitlines())
    with tempfile.TemporaryDirectory() as folder:
        pipe, control = f"{folder}/rig.pipe", f"{folder}/control"

        def do(act):
            pathlib.Path(control + ".new").write_text(act + "\n", encoding="ascii")
            os.replace(control + ".new", control)

        do("rest")
        os.mkfifo(pipe)
        rig = subprocess.Popen([RIGSIM, "first-day", "--case", "303", "--control", control, "--out", pipe, "--pace", str(PACE)])
        try:
            with NewRig(PROGRAM, folder, "--source", f"raw:{pipe}", "--rate", told["rate"] + " Hz", "--channels", told["channels"]) as console:
                ask = lambda what: json.loads(console.ask("GET", "/api/" + what)[2])
                while not wanted <= set(screens.names):
                    screens.until("an instruction", lambda: ask("now")["stage"] not in ("recording", "finding"))
                    now = ask("now")
                    stage, step = now["stage"], now.get("step", "")
                    assert "again" not in now, now
                    if stage == "stand":
                        do("rest")
                        screens.until("that it may be said", lambda: ask("live-once")["may_confirm"])
                    name = NEW_RIG.get((stage, step))
                    if name and name not in screens.names:
                        held = {key: (kind, content.replace(f"{folder}/".encode(), b"/")) if kind == "application/json" else (kind, content)
                                for key, (kind, content) in hold(console, units="", change=still_of_new_rig).items()}
                        screens.of(name, console, held, moved="#go" if stage in ("stand", "hands") else None, gone="#title")
                    if stage == "proved":
                        break
                    if stage == "stand":
                        tell(console, "/api/stands", step=step)
                    elif stage == "hands":
                        known = {"weight": told["weight"], "radius": told["radius"]} if step == "at-a" else {}
                        tell(console, "/api/hands", step=step, **known)
                    elif stage == "direction":
                        tell(console, "/api/tell", step=step, top_goes=told["top"], viewing_end=told["viewing_end"])
                    elif stage == "record":
                        if now["driven"]:
                            do(step)
                            time.sleep(2 / PACE)
                        tell(console, "/api/record", step=step)
                        if step in TAKES_S:
                            do(step)
                            time.sleep(TAKES_S[step] / PACE)
                            tell(console, "/api/enough")
                    screens.until("another", lambda: (ask("now")["stage"], ask("now").get("step", "")) != (stage, step) or
                          (stage == "stand" and ask("live-once")["may_confirm"]))  # it trembled once more
        finally:
            rig.kill()
            rig.wait()


# What spins-verify.toml says was on the shaft in its recordings.
FITTED = (("A 15 g @ 0 deg",), ("B 15 g @ 0 deg",), ("A 36 g @ 265 deg", "B 15 g @ 0 deg", "B 26 g @ 110 deg"))


def not_yet_within(screens):
    """A correction that left a half: of what is on the shaft some may be off."""
    if NAMES and "again" not in NAMES:
        return
    with tempfile.TemporaryDirectory() as folder:
        rig = TypedRig(PROGRAM, DATA, folder)
        rig.balance(0.5)
        with Console(PROGRAM, rig.files, folder) as console:
            screens.of("again", console, ready="#fitted", moved="#fitted", gone=".face")


def many_jobs(screens):
    """Of which a part of an id finds one."""
    if NAMES and "jobs-found" not in NAMES:
        return
    with tempfile.TemporaryDirectory() as folder:
        rig = TypedRig(PROGRAM, DATA, folder)
        shaft = (rig.files / "shaft.toml").read_text(encoding="utf-8")
        for number in range(12):
            (rig.files / "shaft.toml").write_text(shaft.replace("MC-0417", f"MC-{417 + 31 * number:04}"), encoding="utf-8")
            rig.run("job", "open", f"{rig.files}/shaft.toml", "--rig", f"{rig.files}/rig.toml")
            rig.run("job", "close", "--reason", "for the list")
        with Console(PROGRAM, rig.files, folder) as console:
            screens.of("jobs-found", console, go="sessionStorage.setItem('words', 'MC-04'); view('jobs')", ready="#other td button", moved="#other td button")


def view(name):
    return f"view('{name}')"


def job_screens(screens):
    """A job from its first shaft to its sheet, of the recordings of the data folder."""
    with tempfile.TemporaryDirectory() as folder:
        shafts = pathlib.Path(folder, "data")
        shafts.mkdir()
        for name in ("rig.toml", "shaft.toml", "stock.toml"):
            shutil.copy(f"{DATA}/{name}", shafts)
        job = lambda verb, *more: run("job", verb, *more, "--log", f"{folder}/log.db")
        with Console(PROGRAM, shafts, folder, "--stock", f"{shafts}/stock.toml") as console:
            screens.of("start", console, moved="#go")
            the_look_is_chosen(screens, console)
            screens.of("shafts", console, go=view("open"), ready="#other .offered")
            tell(console, "/api/open", file="shaft.toml")
            screens.of("upload", console, go=view("upload"), ready="#other form")
            screens.of("menu", console, go=("#menu-button",), ready="#menu")
            job("spin", f"{DATA}/00-as-found.flac")
            screens.of("trial", console, ready="#fitted", moved="#fitted", gone=".face")
            job("fit", "--as-typed", "--only", *FITTED[0])
            job("spin", f"{DATA}/01-trial-a.flac")
            job("fit", "--as-typed", "--only", *FITTED[1])
            job("spin", f"{DATA}/02-trial-b.flac")
            screens.until("the step", lambda: json.loads(console.ask("GET", "/api/now")[2])["step"] == "fit_correction")
            screens.of("which", console, ready="#choices", gone=".choice:first-child")
            chosen = ".choice[value=as_spun]"
            screens.of("ways", console, go=(chosen,), ready=".ways .choice[value=fewer]")
            screens.of("correction", console, go=(chosen, ".choice[value=one]"), ready="#fitted", moved="#fitted", gone=".face")
            screens.of("stock", console, go=(chosen, ".choice[value=fewer]"), ready="#fitted")
            screens.of("course", console, go=("#course summary",), ready="#course .spin", top="#course")
            job("fit", "--as-typed", "--only", *FITTED[2])
            job("spin", f"{DATA}/03-verify.flac")
            screens.of("verdict", console, ready="#course", moved="#go", gone="#result")
            job("close")
            screens.of("closed", console, ready="img.sheet")
            screens.of("jobs", console, go=view("jobs"), ready="#other td button")
            screens.of("history", console, go="view('job', 'MC-0417/1')", ready="#other article")
            screens.of("trends", console, go=view("trends"), ready="#other table")
            screens.of("learnt", console, go=view("learnt"), ready="#other h2")


def of_the_stock(console):
    """What the console says of its stock, whose folder is another in every run."""
    held = {}
    for language in ("en", "de"):
        path = f"/api/stock-file?units=metric&language={language}"
        told = json.loads(console.ask("GET", path)[2])
        told["file"] = "/home/marrow/shop/stock.toml"
        held[key_of(path, language)] = ("application/json", json.dumps(told).encode())
    return held


def stock_screens(screens):
    """What weights there are: a question, the file that comes of the answers, the one that is there, and one by hand."""
    if NAMES and not any(name.startswith("stock-") for name in NAMES):
        return
    with tempfile.TemporaryDirectory() as folder:
        shop = pathlib.Path(folder, "data")
        shop.mkdir()
        shutil.copy(f"{DATA}/rig.toml", shop)
        with Console(PROGRAM, shop, folder) as console:
            def do(path, **said):
                tell(console, path, seen=json.loads(console.ask("GET", "/api/stock-file")[2])["seen"], **said)

            def show(name, ready):
                screens.of(name, console, of_the_stock(console), go=view("stock"), ready=ready, gone=ready)

            do("/api/stock-answer", key="name", answer="bay 2")
            do("/api/stock-answer", key="washer", answer="16 mm: 2.9 g")
            show("stock-question", "#stock-pad")
            for key, answer in (("washer", ""), ("slug", ""), ("strip", "12 x 3 mm, 0.283 g/mm"), ("strip", ""), ("clamp", ""), ("bead", "4 %"), ("planes", ""),
                                ("closed-arc", "")):
                do("/api/stock-answer", key=key, answer=answer)
            show("stock-file", "#stock-write")
            do("/api/stock-write", language="en")
            show("stock-written", "#stock-text")
            with open(shop / "stock.toml", "a", encoding="utf-8") as file:
                file.write("# ours\n")
            show("stock-by-hand", "#stock-text")


def rig_screens(screens):
    """Work on the rig: from one that was never proved to new sensitivities."""
    if NAMES and not any(name.startswith("rig-") for name in NAMES):
        return
    with tempfile.TemporaryDirectory() as folder:
        rig = TypedRig(PROGRAM, DATA, folder)
        with Console(PROGRAM, rig.files, folder) as console:
            screens.of("rig-unproved", console, go=view("rig"), ready="#begin-qualification")
            tell(console, "/api/rig-begin", task="qualification", file="reference.toml")
            step = rig.next()
            screens.of("rig-mount", console, ready="#fitted", moved="#fitted")
            while step["step"] > 0:
                if step["step"] == 17:
                    screens.of("rig-masses", console, ready="#fitted", moved="#fitted", gone=".face")
                step = rig.spin(step)
            screens.of("rig-passed", console, ready="#rig-next", gone="#rig-next")
            screens.of("rig-proved", console, go=view("rig"), ready="#begin-check", moved="#begin-check")
            tell(console, "/api/rig-leave")
            rig.make("check", 0.8)
            screens.of("rig-outside", console, go=view("rig"), ready="#rig-verdicts.bad")
            rig.make("recalibrate", 0.8)
            screens.of("rig-recalibrated", console, go=view("rig"), ready="#rig-write", moved="#rig-write")


def none_is_kept_in_vain(screens):
    if NAMES or WHICH == "keep":
        return
    known = {f"{name}-{size[0]}-{theme}-{language}.png" for name in screens.names for size, theme, language in ALL}
    vain = {each.name for each in KEPT.glob("*.png")} - known
    assert not vain, f"kept of screens that are no more: {sorted(vain)}"


def main():
    os.makedirs(OUTPUT, exist_ok=True)
    KEPT.mkdir(exist_ok=True)
    folder = tempfile.mkdtemp()
    page = browser(folder)
    try:
        with Replayed() as replayed:
            screens = Screens(page, replayed)
            begin = time.monotonic()
            for part in (live_screens, curves_screens, alarm_screens, new_rig_screens, job_screens, many_jobs, not_yet_within, stock_screens, rig_screens):
                part(screens)
                print(f"{part.__name__}: {screens.looked_at} pictures, {time.monotonic() - begin:.0f} s", flush=True)
        none_is_kept_in_vain(screens)
    finally:
        page.quit()
        shutil.rmtree(folder, ignore_errors=True)
    assert not screens.wrong, "\n".join(["", *screens.wrong, "who meant it: screens_test.py … keep (tests/README.md)"])
    print(f"{screens.looked_at} pictures of {len(screens.names)} screens")


main()
