#!/usr/bin/env python3
"""What goes wrong away from the page is said in the language of who reads it: a shaft's file that cannot be read, and a live source that
has ended.

usage: told_test.py PROGRAM DATA_FOLDER
"""
import json
import pathlib
import shutil
import sys
import tempfile
import time

from console_program import SLOWER, Console

PROGRAM, DATA = sys.argv[1:3]


def main():
    with tempfile.TemporaryDirectory() as folder:
        shop = pathlib.Path(folder, "shop")
        shop.mkdir()
        for name in ("rig.toml", "shaft.toml"):
            shutil.copy(f"{DATA}/{name}", shop / name)
        text = (shop / "shaft.toml").read_text(encoding="utf-8")
        (shop / "broken.toml").write_text(text.replace('"14.60 kg"', '"14.60 stones"'), encoding="utf-8")
        with Console(PROGRAM, str(shop), folder, "--source", f"play:{DATA}/00-as-found.flac") as console:
            def asked(place, language):
                return json.loads(console.ask("GET", f"/api/{place}?language={language}")[2])

            faults = {language: next(each["fault"] for each in asked("shafts", language) if each["file"] == "broken.toml")
                      for language in ("en", "de")}
            assert "stones" in faults["en"] and "stones" in faults["de"], faults
            assert faults["en"] != faults["de"] and "Einheit" in faults["de"], faults
            end = time.monotonic() + 60 * SLOWER
            while "the live source has ended" not in asked("live-once", "en")["said"]:
                assert time.monotonic() < end, asked("live-once", "en")
                time.sleep(0.2)
            said = asked("live-once", "de")["said"]
            assert "die laufende Quelle ist zu Ende" in said and "ended" not in said, said
            print(faults["de"], "|", said)


main()
