#!/usr/bin/env python3
"""The page of a rig whose sensors nobody has a certificate of shows volts while a shaft spins, in a job and in work on the rig, and
never a unit of motion. The recording is the demo's, played at real speed.

usage: unscaled_page_test.py PROGRAM DATA_FOLDER
"""
import json
import os
import pathlib
import re
import shutil
import sys
import tempfile
import time

from console_program import COMMAND, SLOWER, Console

PROGRAM, DATA = sys.argv[1:3]
MOTION = re.compile(r"m/s2|m/s²|mm/s|µm|[0-9] um\b|\"um\"")
PLACES = ("live-once", "now", "jobs", "rig", "rig-model", "health", "course", "trends")


def shop_in(folder):
    """The demo's, and nobody knows what its sensors give."""
    os.mkdir(f"{folder}/shop")
    for name in ("rig.toml", "shaft.toml", "stock.toml"):
        shutil.copy(f"{DATA}/{name}", f"{folder}/shop/{name}")
    rig = pathlib.Path(folder, "shop", "rig.toml")
    text = rig.read_text(encoding="utf-8")
    assert text.count('"100 mV/g"') == 2
    rig.write_text(text.replace('"100 mV/g"', '"unknown"') + '[qualification]\nsmallest_residual = "80 g·mm"\n', encoding="utf-8")
    return f"{folder}/shop"


def looked_at(console, language, more=""):
    """What the page is told, wherever it asks. A measured value is a number of volts in it."""
    told = {}
    for place in PLACES:
        status, _, text = console.ask("GET", f"/api/{place}?language={language}{more}")
        found = MOTION.search(text)
        assert not found, (place, found, text[max(0, found.start() - 200):found.end() + 50])
        told[place] = json.loads(text) if status == 200 else None
    return told


def send(console, path, said):
    status, _, text = console.ask("POST", f"/api/{path}", COMMAND, json.dumps(said).encode())
    assert status == 200, (path, status, text)
    return json.loads(text)


def volts_in(document):
    """Values of the page are texts: "0.123 V"."""
    return [each for each in re.findall(r"[0-9][0-9.,]* (?:± [0-9.,]+ )?m?V\b", json.dumps(document, ensure_ascii=False))]


def main():
    folder = tempfile.mkdtemp()
    shop = shop_in(folder)
    seen = set()
    try:
        with Console(PROGRAM, shop, folder, "--source", f"play:{DATA}/00-as-found.flac", "--seconds", "1.5 s") as console:
            send(console, "open", {"file": "shaft.toml"})
            end = time.monotonic() + 60 * SLOWER
            while "a spin was kept" not in seen:
                assert time.monotonic() < end, seen
                for language in ("en", "de"):
                    told = looked_at(console, language)
                    if volts_in(told["live-once"]):
                        seen.add(f"volts while it spins ({language})")
                    if told["now"]["entries"] > 0:
                        seen.add("a spin was kept")
                        assert volts_in(told["course"]), told["course"]
                time.sleep(0.1)
            assert {"volts while it spins (en)", "volts while it spins (de)"} <= seen, seen
            assert volts_in(looked_at(console, "en", "&units=inch")["course"])
        print(", ".join(sorted(seen)))
    finally:
        shutil.rmtree(folder)


main()
