#!/usr/bin/env python3
"""What the rig taught, on the page: it says what `rig model` says, line by line, with the same picture.

usage: learnt_test.py PROGRAM DATA_FOLDER OUTPUT_FOLDER

Where Chromium is installed the view is opened in it too, and a screen is kept in OUTPUT_FOLDER.
"""
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).parent))
from console_program import COMMAND, Console  # noqa: E402

PROGRAM, DATA, OUTPUT = sys.argv[1:4]

# A job of a shaft of the demo's kind on the demo's rig, made up: as found, and a weight in either plane.
SPINS = ((), ("A 20 g @ 0 deg",), ("B 20 g @ 0 deg",))
READ = (("3.0 m/s2 @ 40 deg", "2.0 m/s2 @ 140 deg"), ("5.0 m/s2 @ 35 deg", "2.2 m/s2 @ 143 deg"), ("3.4 m/s2 @ 37 deg", "3.5 m/s2 @ 90 deg"))


def program(*arguments):
    return subprocess.run([PROGRAM, *arguments], check=True, capture_output=True, text=True).stdout


def teach(folder):
    log = ["--log", f"{folder}/log.db"]
    text = pathlib.Path(f"{DATA}/shaft.toml").read_text(encoding="utf-8")
    shaft = pathlib.Path(folder, "other.toml")
    shaft.write_text(re.sub(r'id = "[^"]*"', 'id = "MC-7"', text, count=1), encoding="utf-8")
    program("job", "open", str(shaft), "--rig", f"{DATA}/rig.toml", *log)
    for fitted, (at_a, at_b) in zip(SPINS, READ):
        if fitted:
            program("job", "fit", *log, "--job", "MC-7/1", "--as-typed", *fitted)
        program("job", "spin", *log, "--job", "MC-7/1", "--speed", "1620 rpm", "--vector", f"A={at_a} ± 0.01 m/s2", "--vector", f"B={at_b} ± 0.01 m/s2")


def one_line(text):
    return re.sub(r"\s+", " ", text)


def says_what_rig_model_says(console, folder):
    status, _, text = console.ask("GET", "/api/rig-model")
    assert status == 200, text
    shown = json.loads(text)
    told = one_line(program("rig", "model", "--log", f"{folder}/log.db", "--rig", f"{DATA}/rig.toml", "--shaft", f"{DATA}/shaft.toml"))
    assert one_line(shown["heading"]) in told, shown["heading"]
    parts = shown["parts"] + [shown["advice"]]
    assert [part["heading"].split(" ")[0] for part in parts] == ["PEDESTAL", "PEDESTAL", "COUPLING", "FORETOLD", "TAUGHT", "SHAFT"]
    for part in parts:
        assert one_line(part["heading"]) in told and part["rows"], part["heading"]
        for what, known in part["rows"]:
            assert one_line(f"{what} {known}") in told, (what, known, told)
    assert shown["cautions"] and all(one_line(each) in told for each in shown["look_at"])
    assert any("MC-7/1" in what for part in parts for what, _ in part["rows"])


def strokes(svg):
    return svg.count("stroke-width")


def draws_the_same_picture(console, folder):
    program("rig", "model", "--log", f"{folder}/log.db", "--rig", f"{DATA}/rig.toml", "--picture", f"{folder}/rig.svg")
    status, headers, drawn = console.asked("GET", "/rig-model.svg?theme=light")
    assert status == 200 and headers["Content-Type"].startswith("image/svg")
    assert strokes(pathlib.Path(folder, "rig.svg").read_text(encoding="utf-8")) == strokes(drawn.decode()) > 10
    assert "rig Marrow Creek, bay 2, metric units, counterspot " in drawn.decode()  # for who cannot see its title line
    assert console.asked("GET", "/rig-model.svg?theme=dark")[2] != drawn


def is_shown_in_chromium(console, folder):
    from selenium.webdriver.common.by import By
    from selenium.webdriver.support.ui import WebDriverWait
    from chromium import browser
    page = browser(folder)
    try:
        page.get(console.url)
        page.find_element(By.ID, "menu-button").click()
        page.find_element(By.CSS_SELECTOR, "[data-view=learnt]").click()
        wait = WebDriverWait(page, 30)
        wait.until(lambda shown: "PEDESTAL A" in shown.find_element(By.ID, "other").text)
        wait.until(lambda shown: shown.execute_script("const img = document.querySelector('#other img'); return img.complete && img.naturalWidth > 0;"))
        text = page.find_element(By.ID, "other").text
        for words in ("What the rig taught", "PEDESTAL B", "COUPLING", "FORETOLD", "MC-7/1", "balance at"):
            assert words.lower() in text.lower(), (words, text)
        for width in (1280, 390):
            page.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {"width": width, "height": 1600, "deviceScaleFactor": 1, "mobile": False})
            page.save_screenshot(os.path.join(OUTPUT, f"learnt-{width}.png"))
            wide = page.execute_script("return document.documentElement.scrollWidth")
            assert wide <= width, f"{wide} px wide on a screen of {width}"
    finally:
        page.quit()


def main():
    os.makedirs(OUTPUT, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, Console(PROGRAM, DATA, folder) as console:
        assert console.code("GET", "/api/rig-model") == (400, "nothing_learnt")
        teach(folder)
        assert console.ask("POST", "/api/open", COMMAND, b'{"file":"shaft.toml"}')[0] == 200
        says_what_rig_model_says(console, folder)
        draws_the_same_picture(console, folder)
        if shutil.which("chromedriver") and shutil.which("chromium"):
            is_shown_in_chromium(console, folder)
        else:
            print("Chromium is not installed: the view was not looked at")


main()
