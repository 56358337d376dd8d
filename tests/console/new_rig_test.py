#!/usr/bin/env python3
"""The first day at a rig, on the page and by touch alone: the simulated rig as the source, from an empty folder to a rig file
that was proved; then rig and source as the shop's defaults, and the stock. What is right is what the simulation says of itself. With
'verdict' it goes on as a new owner does, from a plain 'counterspot console' in that folder to the first verdict, and counts what is typed.

usage: new_rig_test.py PROGRAM RIGSIM SCREENS [CASE [verdict]]
"""
import json
import os
import pathlib
import re
import signal
import subprocess
import sys
import tempfile
import time
import tomllib
import urllib.error
import urllib.request

from selenium.webdriver.common.actions.action_builder import ActionBuilder
from selenium.webdriver.common.actions.pointer_input import PointerInput
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import Select

from chromium import browser, until

PROGRAM, RIGSIM, SCREENS = sys.argv[1:4]
CASE = sys.argv[4] if len(sys.argv) > 4 else "303"
TO_THE_VERDICT = sys.argv[5:] == ["verdict"]
os.makedirs(SCREENS, exist_ok=True)
FOLDER = tempfile.mkdtemp()
CONTROL, PIPE, RIG = f"{FOLDER}/control", f"{FOLDER}/rig.pipe", f"{FOLDER}/new"
ACTS = {step: step for step in ("rest", "running", "knocks-a", "knocks-b", "hand", "slow", "bare", "at-a", "at-b", "known", "shaker-a", "shaker-b")}
ACTS["sweep"] = "top"
TAKES_S = {"knocks-a": 8.5, "knocks-b": 8.5, "hand": 15, "shaker-a": 8, "shaker-b": 8}
COASTS_S = 31  # of the simulation, from the top to rest
PACE = 3  # of the simulated rig and of its hands, against the clock

told = dict(line.split(" ", 1) for line in subprocess.run([RIGSIM, "first-day", "--case", CASE, "--describe"], check=True,
                                                          capture_output=True, text=True).stdout.splitlines())


def do(act):
    pathlib.Path(CONTROL + ".new").write_text(act + "\n", encoding="ascii")
    os.replace(CONTROL + ".new", CONTROL)


do("rest")
os.mkfifo(PIPE)
HOME = {**os.environ, "XDG_CONFIG_HOME": f"{FOLDER}/own", "XDG_DATA_HOME": f"{FOLDER}/own"}
rig = subprocess.Popen([RIGSIM, "first-day", "--case", CASE, "--control", CONTROL, "--out", PIPE, "--pace", str(PACE)])
console = subprocess.Popen([PROGRAM, "console", "--new-rig", RIG, "--source", f"raw:{PIPE}", "--rate", told["rate"] + " Hz", "--channels",
                            told["channels"], "--port", "0", "--language", "en"], stdout=subprocess.PIPE, text=True, env=HOME,
                           restore_signals=False)  # Python ignores SIGXFSZ, which a full disk is made of
url = console.stdout.readline().split()[-1]
page = browser(FOLDER)
shots = []


def ask(path, said=None):
    headers = {} if said is None else {"X-Counterspot": "1"}
    with urllib.request.urlopen(urllib.request.Request(url + path, None if said is None else json.dumps(said).encode(), headers)) as answer:
        return json.load(answer)


def wait(what, condition, seconds=60):
    until(page, what, condition, f"{SCREENS}/new-rig-stuck.png", seconds)


def at(name):
    return page.find_element(By.ID, name)


def touch(element):
    page.execute_script("arguments[0].scrollIntoView({block: 'center'})", element)
    finger = ActionBuilder(page, mouse=PointerInput("touch", "finger"))
    finger.pointer_action.move_to(element).pointer_down().pointer_up()
    finger.perform()


def shot(name):
    shots.append(name)
    for width, height in ((1280, 800), (390, 844)):
        page.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False})
        time.sleep(0.5)
        page.execute_script("scrollTo(0, 0)")
        page.save_screenshot(f"{SCREENS}/new-rig-{name}-{width}.png")
        wider = page.execute_script("return document.documentElement.scrollWidth - innerWidth")
        assert wider <= 0, (name, width, wider)


def shown(stage, step):
    """The page itself shows this."""
    return page.execute_script("return state.now && state.now.stage === arguments[0] && (state.now.step || '') === arguments[1]", stage, step)


def settled():
    """What is asked for, once program and page agree on it: it may go on by itself between two looks."""
    found = {}

    def agreed():
        now = found["now"] = ask("api/now")
        return now["stage"] not in ("recording", "finding") and shown(now["stage"], now.get("step", ""))

    wait("the next instruction", agreed)
    return found["now"]


def enabled():
    return at("go").is_displayed() and at("go").is_enabled()


def go():
    wait("the button", enabled)
    touch(at("go"))


def stands(turned):
    """Nobody is sent to what may turn: while it does, it cannot be said that it stands, by the page or by anybody else."""
    if turned:
        time.sleep(2.5)
        assert not at("go").is_enabled() and "keep off" in at("sign").text, at("sign").text
        try:
            ask("api/stands", {})
            raise SystemExit("it was taken as standing while it turned")
        except urllib.error.HTTPError as refused:
            assert json.load(refused)["code"] == "may_turn"
        if "keep-off" not in shots:
            shot("keep-off")
    do("rest")
    go()


def record(now):
    step = now["step"]
    if now["driven"]:
        do(ACTS[step])
        time.sleep(2 / PACE)
        go()
        if step == "sweep":
            wait("the recording", lambda: shown("recording", step))
            do("coast")
            time.sleep(COASTS_S / PACE)
            go()
    else:
        go()
        time.sleep(1 / PACE)
        do(ACTS[step])
        if step in TAKES_S:
            wait("the recording", lambda: shown("recording", step))
            if step == "knocks-a":
                shot("recording")
            time.sleep(TAKES_S[step] / PACE)
            go()
    wait("the recording's end", lambda: ask("api/now")["stage"] not in ("recording", "finding"), 60)


def say_of_the_rig():
    touch(page.find_element(By.CSS_SELECTOR, "#of-rig summary"))
    Select(page.find_element(By.NAME, "viewing_end")).select_by_value(told["viewing_end"])
    page.find_element(By.NAME, "name").clear()
    page.find_element(By.NAME, "name").send_keys("bay 7")
    page.find_element(By.NAME, "full_scale").send_keys("10 V")
    shot("of-the-rig")
    touch(at("keep"))
    wait("what was typed", lambda: ask("api/now")["told"]["full_scale"] == "10 V")


def do_all():
    """Whatever the page asks for, from the first step to a file that is saved."""
    turned, wrong_once, typed = False, "direction" not in shots, "of-the-rig" in shots
    for _ in range(80):
        now = settled()
        stage, step = now["stage"], now.get("step", "")
        assert "again" not in now, now
        assert at("said").text or stage == "proved"
        if stage + step not in shots and (stage, step) in (("stand", "rest"), ("hands", "knocks-a"), ("record", "slow"), ("hands", "at-a"), ("record", "known")):
            shot(stage + "-" + step)
        if not typed:
            typed = True
            say_of_the_rig()
            continue
        if stage == "stand":
            stands(turned)
            turned = False
        elif stage == "hands":
            if step == "at-a":
                for name in ("weight", "radius"):
                    page.find_element(By.NAME, name).send_keys(told[name])
            go()
        elif stage == "record":
            record(now)
            turned = now["driven"] and step != "running"  # a drive alone need not show
        elif stage == "direction":
            if "direction" not in shots:
                shot("direction")
            goes = told["top"] if not wrong_once else {"left": "right", "right": "left"}[told["top"]]
            wrong_once = False
            touch(at("top-" + goes))
        elif stage == "failed":
            assert "direction" in at("said").text and not os.path.exists(f"{RIG}/rig.toml")
            shot("failed")
            touch(at("again-direction"))
        elif stage == "proved":
            shot("proved")
            before = the_file()
            assert bool(before) is ("saved" in shots)  # nothing is kept before somebody says so
            go()
            wait("the file", lambda: ask("api/now")["saved"] and the_file() != before)
            shot("saved")
            return
        wait("another instruction", lambda: (ask("api/now")["stage"], ask("api/now").get("step", "")) != (stage, step), 30)
    raise SystemExit("the first day has no end")


def the_file():
    file = pathlib.Path(RIG, "rig.toml")
    return file.read_text(encoding="utf-8") if file.exists() else ""


def also(what, step):
    """Asks for what a rig can do without, and does it. @return the file's lines, as they are then."""
    touch(at("more-" + what))
    wait(step, lambda: ask("api/now").get("step") == step)
    if step not in shots:
        shot(step)
    do_all()
    return the_file().splitlines()


def on_a_shaker():
    """What is found of each sensor is the simulation's sensitivity, within the ± that is written."""
    lines = [line for line in also("sensitivity", "shaker-a") if line.startswith("sensitivity")]
    assert len(lines) == 2, lines
    for line, truth in zip(lines, told["sensitivity_V_per_si"].split(), strict=True):
        found, unit = re.match(r'sensitivity = "-?([0-9.e+-]+) (mV/\(m/s2\))"', line).groups()
        percent = float(re.search(r"± ([0-9.]+) %", line)[1])
        off = 100 * (float(found) / (1e3 * float(truth)) - 1)
        print(f"on the shaker: {found} {unit}, {off:+.2f} % off, ± {percent} % stated")
        assert 3 <= percent < 5 and abs(off) <= percent, (line, truth)


def in_a_coast_down():
    """Each resonance found is one of the simulation's, within the ± that is written, and is named as one to keep from."""
    lines = [line for line in also("sweep", "sweep") if line.startswith("# ")]
    found = [tuple(map(float, each)) for each in re.findall(r"resonance with the shaft on, at sensor [AB, ]+: ([0-9.]+) ± ([0-9.]+) rpm", "\n".join(lines))]
    truths = [float(each) for each in told["resonances_rpm"].split()]
    print("in the coast-down:", ", ".join(f"{at_rpm} ± {u_rpm} rpm" for at_rpm, u_rpm in found), "and in truth", truths)
    shunned = [tuple(map(float, each)) for line in lines if line.startswith("# keep from") for each in re.findall(r"([0-9.]+) to ([0-9.]+) rpm", line)]
    nothing = re.search(r"swept [0-9]+ to ([0-9]+) rpm: no resonance stands out", "\n".join(lines))
    if nothing:  # the tach of case 302 sees its mark no more at the speed of any
        assert not found and min(truths) > float(nothing[1]), (lines, truths)
        return
    assert found, lines
    for at_rpm, u_rpm in found:
        truth = min(truths, key=lambda each: abs(each - at_rpm))
        assert abs(at_rpm - truth) <= u_rpm < 0.07 * truth, (found, truths)
        assert any(low < truth < high for low, high in shunned), lines


def compare():
    with open(f"{RIG}/rig.toml", "rb") as file:
        found = tomllib.load(file)
    assert found["rig"]["name"] == "bay 7" and found["rig"]["viewing_end"] == told["viewing_end"]
    assert found["rig"]["rotation"] == told["rotation"], (found, told)
    assert [each["channel"] for each in found["sensor"]] == [int(each) for each in told["sensors"].split()]
    assert found["tach"]["channel"] == int(told["tach"])


def typed(*arguments):
    """A plain command of the owner in the rig's folder: nothing is named."""
    done = subprocess.run([PROGRAM, *arguments], cwd=RIG, env=HOME, capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False)
    assert done.returncode in (0, 1), done.stderr
    return done.stdout


def disk_is_full(full):
    """No file of the program takes more than a few bytes."""
    subprocess.run(["prlimit", "--pid", str(console.pid), f"--fsize={64 if full else 'unlimited'}:"], check=True)


def kept_as_the_shops():
    """By one button rig and source are the shop's: every command then knows both. Where the disk takes nothing, it says so and asks again."""
    if not ask("api/now")["saved"]:
        go()
    wait("that it is saved", lambda: ask("api/now")["saved"] and at("go").text in ("Keep rig and source as the shop's", "Bank und Quelle als die der Werkstatt merken"))
    assert "counterspot shop rig rig.toml" in typed(), typed()  # a plain command knows none yet
    disk_is_full(True)
    go()
    wait("that it is not kept", lambda: "nicht ganz geschrieben" in at("trouble").text or "could not be written whole" in at("trouble").text)
    shot("shop-not-kept")
    assert not ask("api/now")["shop"] and not os.path.exists(f"{RIG}/shop.toml")
    disk_is_full(False)
    go()
    wait("that it is kept", lambda: ask("api/now")["shop"] and at("go").text in ("Say which weights there are", "Sagen, welche Gewichte es gibt"))
    shot("shop-kept")
    with open(f"{RIG}/shop.toml", "rb") as file:
        stated = tomllib.load(file)
    assert stated["rig"] == "rig.toml" and stated["source"] == f"raw:{PIPE}" and stated["source_channels"] == int(told["channels"]), stated
    assert float(stated["source_rate"].split()[0]) == float(told["rate"]), stated
    found = {key: value["value"] for key, value in json.loads(typed("shop", "--json")).items()}
    assert found["rig"] == os.path.realpath(f"{RIG}/rig.toml") and found["source"] == f"raw:{PIPE}", found
    assert "counterspot shaft new ID" in typed(), typed()  # the rig is known; next is a shaft


def stock_is_typed():
    """What weights there are, from the end of the new rig: one washer, by the pad."""
    go()
    asked = lambda key: wait(key, lambda: page.execute_script("const box = document.getElementById('stock'); return box && !box.dataset.busy && box.dataset.asked === arguments[0]", key))
    asked("name")
    touch(at("stock-standard"))
    asked("washer")
    for key in ("1", "6", "mm", ":", "2", ".", "9", "g"):
        touch(next(each for each in page.find_elements(By.CSS_SELECTOR, "#stock-pad button") if each.text == key))
    shot("stock")
    touch(at("stock-add"))
    wait("the washer", lambda: page.execute_script("return document.querySelectorAll('[data-key=washer] li').length") == 1)
    for key in ("washer", "slug", "strip", "clamp", "bead"):
        asked(key)
        touch(at("stock-no-more"))
    asked("planes")
    touch(at("stock-standard"))
    asked("closed-arc")
    touch(at("stock-no-more"))
    wait("the file", lambda: page.execute_script("return document.getElementById('stock').dataset.stage") == "shown")
    touch(at("stock-write"))
    wait("that it is written", lambda: page.execute_script("return document.getElementById('stock').dataset.stage") == "there")
    shot("stock-written")
    found = json.loads(typed("shop", "--json"))
    assert found["stock"]["value"] == os.path.realpath(f"{RIG}/stock.toml"), found
    touch(at("to-rig"))
    wait("the rig again", lambda: at("title").is_displayed())


def measured_shaft():
    """What a tape measure and a scale give, as the page's form asks for it."""
    shaft = tomllib.loads(subprocess.run([RIGSIM, "first-day", "--case", CASE, "--shaft"], check=True, capture_output=True, text=True).stdout)
    a, b = shaft["plane"]
    said, tube, supports = shaft["shaft"], shaft["tube"], shaft["supports"]
    return {"id": "PS-1042", "mass": said["mass"], "service-speed": said["service_speed"], "limit": said["grade"],
            "outside-diameter": tube["outside_diameter"], "wall": tube["wall"], "length": tube["length"], "supports": supports["B"],
            "center-of-mass": supports["center_of_mass"], "plane-a": a["position"], "plane-b": b["position"], "radius": a["radius"]}


def hands_do(now):
    """What is asked of hands, once the shaft is said and seen to stand: the first of each choice, and then what is asked for."""
    def done():
        if ask("api/now")["entries"] > now["entries"]:
            return True
        for part in ("#stands-button", "#fit .choice", "#next-plane", "#fitted"):
            shown = [each for each in page.find_elements(By.CSS_SELECTOR, part) if each.is_displayed()]
            if shown:
                touch(shown[0])
                time.sleep(0.5)
                break
        return False

    wait(now["step"], done, 120)


def to_the_verdict():
    """The owner starts 'counterspot console' where the rig's file is; no rig, source, stock or log is named, and nothing is typed twice."""
    global console, url
    console.send_signal(signal.SIGTERM)
    assert console.wait(20) == 0
    console = subprocess.Popen([PROGRAM, "console", "--port", "0"], stdout=subprocess.PIPE, text=True, cwd=RIG, env=HOME)
    url = console.stdout.readline().split()[-1]
    page.get(url)
    wait("the page", lambda: page.execute_script("return Boolean(state.live) && Boolean(state.now)"))
    page.execute_script("view('open')")
    wait("the shaft's form", lambda: page.find_elements(By.NAME, "service-speed"))
    shaft = measured_shaft()
    for name, value in shaft.items():
        page.find_element(By.NAME, name).send_keys(value)
    shot("shaft")
    touch(page.find_elements(By.CSS_SELECTOR, "#other form button.main")[-1])
    wait("the job", lambda: ask("api/now")["job"])
    wait("that it stands", lambda: ask("api/live-once")["standing"] or (at("stands-button").is_displayed() and touch(at("stands-button"))))
    shot("first-spin")
    spins = 0
    for _ in range(30):
        now = ask("api/now")
        if now["step"].startswith("close"):
            break
        if not now["step"].startswith("spin"):
            hands_do(now)
            continue
        spins += 1
        do("spin " + "; ".join(f"{each['plane']}: {each['mass_g']:.3f} g @ {each['angle_deg']:.2f} deg" for each in now["on_shaft"]))
        wait("the spin", lambda now=now: ask("api/now")["entries"] > now["entries"], 120)
        do("rest")
    now = ask("api/now")
    assert now["step"] == "close" and now["stock"] == "stock", now["step"]
    assert {each["verdict"] for each in now["result"]} == {"within"}, now["result"]
    shot("verdict")
    print(f"from an empty folder to 'within' by touch: 2 commands, {spins} spins, typed: 4 of the rig, 1 of the stock, {len(shaft)} of the shaft")


def all_that_can_be_found():
    on_a_shaker()
    in_a_coast_down()
    compare()
    # The same in German, and where the command goes on: both have what was told.
    touch(at("language"))
    wait("German", lambda: at("title").text == "Bewiesen")
    wait("the remarks of the file", lambda: "# Gefunden von 'counterspot rig new' und bewiesen" in at("rig-text").text)
    shot("german")
    # What a rig can do without may be asked for as well, and taken back.
    for what, step in (("sweep", "sweep"), ("sensitivity", "shaker-a")):
        touch(at("more-" + what))
        wait("that it is done without", lambda what=what: settled()["stage"] == "proved" and at("more-" + what).text.startswith("Zusätzlich finden"))
        touch(at("more-" + what))
        wait(step, lambda step=step: ask("api/now").get("step") == step and at("title").text != "Bewiesen")
        wait("the way back", lambda what=what: at("more-" + what).text.startswith("Verzichten auf"))
        touch(at("more-" + what))
        wait("that it is proved as before", lambda: at("title").text == "Bewiesen")
    command = subprocess.run([PROGRAM, "rig", "new", "--out", f"{RIG}/rig.toml", "--json"], capture_output=True, text=True, check=True)
    assert json.loads(command.stdout)["written"], command.stdout
    kept_as_the_shops()
    stock_is_typed()
    print(f"a rig file was found and proved by touch; screens: {', '.join(shots)}")


try:
    page.get(url)
    do_all()
    compare()
    if TO_THE_VERDICT:
        do("rest")  # the drive is stopped before anything is typed
        kept_as_the_shops()
        stock_is_typed()
        to_the_verdict()
    else:
        all_that_can_be_found()
finally:
    page.quit()
    console.send_signal(signal.SIGTERM)
    code = console.wait(20)
    rig.kill()
    rig.wait()
assert code == 0
