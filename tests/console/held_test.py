#!/usr/bin/env python3
"""A job that is open at the page, whose shaft is within its limit, while the rig is checked elsewhere, on the command line: a check that
fails holds the verdict back at once, without an entry in the job, and one that is within gives it back. Screens that look on are told.

usage: held_test.py PROGRAM DATA_FOLDER
"""
import json
import sys
import tempfile

from console_program import Console
from typed_rig import TypedRig

PROGRAM, DATA = sys.argv[1:3]
def main():
    with tempfile.TemporaryDirectory() as folder:
        rig = TypedRig(PROGRAM, DATA, folder)
        assert rig.make("qualify")["passed"]
        rig.balance(0.05)
        with Console(PROGRAM, rig.files, folder) as console:
            def now():
                return json.loads(console.ask("GET", "/api/now")[2])

            def verdicts():
                return [each["verdict"] for each in now()["result"]]

            before = now()
            assert before["job"] == "MC-0417/1" and before["step"].startswith("close") and before["held_back"] == [], before
            assert verdicts() == ["within"] * 4, verdicts()  # planes and supports
            assert not rig.make("check", 1.3)["within"]
            held = now()
            assert "within" not in verdicts() and held["entries"] == before["entries"], held["result"]
            assert any("daily check" in each["message"] for each in held["held_back"]), held["held_back"]
            assert held["serial"] != before["serial"], "a screen that looks on would not ask again"
            assert held["title"] != before["title"] and held["step"] != before["step"], (held["title"], held["step"])
            line = json.loads(rig.run("job", "next", "--job", "MC-0417/1", "--json"))
            assert line["step"] == held["step"], (line["step"], held["step"])
            assert rig.make("check")["within"]
            assert verdicts() == ["within"] * 4 and now()["held_back"] == [], now()["held_back"]
            assert now()["title"] == before["title"]
            print("held back by a check elsewhere, and given back by another")


main()
