#!/usr/bin/env python3
"""A shaft typed at the page without a scale: its mass is the tube's and what its ends weigh beyond it, as the limit needs it, the least
that it can be. Worked out here from the section, 7850 kg/m3 and JCGM 100:2008, 5.1.2 (what is independent adds up by squares).

usage: typed_shaft_test.py PROGRAM DATA_FOLDER
"""
import contextlib
import json
import math
import sqlite3
import sys
import tempfile
import tomllib
import urllib.request

from console_program import COMMAND, Console

PROGRAM, DATA = sys.argv[1:3]
TYPED = {"id": "PS-1042", "service-speed": "3200 rpm", "limit": "G16", "outside-diameter": "76.2 mm", "wall": "2.1 mm", "length": "1420 mm",
         "end-a": "2,1 kg ± 0.3 kg", "end-b": "1.9 kg ± 0.2 kg", "supports": "1500 mm", "plane-a": "70 mm", "plane-b": "1430 mm", "radius": "39 mm"}
ROUNDED = 1e-3  # the file has four digits
CALIPER_M = 0.1e-3  # what a wall is read to: common practice, no source


def least_mass_kg():
    outside, wall, length = 0.0762, 0.0021, 1.420
    tube = math.pi / 4 * (outside**2 - (outside - 2 * wall) ** 2) * length * 7850
    return tube + 2.1 + 1.9 - math.hypot(tube * CALIPER_M / wall, 0.3, 0.2)


def refused(console, **changed):
    said = {key: value for key, value in {**TYPED, **changed}.items() if value}
    return console.code("POST", "/api/open", COMMAND, json.dumps(said).encode())


def main():
    with tempfile.TemporaryDirectory() as folder, Console(PROGRAM, DATA, folder) as console:
        for without in ("supports", "plane-a", "plane-b"):  # else a plane would be taken to lie at bearing A
            assert refused(console, **{without: ""}) == (400, "no_answer"), without
        assert refused(console, wall="2.1") == (400, "bad_quantity")
        assert refused(console, mass="3 kg") == (400, "bad_value")  # lighter than its tube
        assert json.loads(console.ask("GET", "/api/now")[2])["job"] is None
        status, _, text = console.ask("POST", "/api/open", COMMAND, json.dumps(TYPED).encode())
        assert status == 200, text
        with contextlib.closing(sqlite3.connect(f"{folder}/log.db")) as log:
            shaft = tomllib.loads(log.execute("SELECT definition FROM shafts").fetchone()[0])
        mass_kg = float(shaft["shaft"]["mass"].split()[0])
        assert abs(mass_kg / least_mass_kg() - 1) < ROUNDED, (mass_kg, least_mass_kg())
        assert shaft["shaft"]["grade"] == "G16" and [each["position"] for each in shaft["plane"]] == ["70 mm", "1430 mm"], shaft
        for language, word in (("en", "pumps"), ("de", "Pumpen")):
            with urllib.request.urlopen(f"{console.url}api/grade-help?language={language}") as answer:
                assert word in json.load(answer)["words"]


main()
