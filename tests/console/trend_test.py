#!/usr/bin/env python3
"""The control chart at the page is that of 'log trend': the same curves and marks, which lie at the residuals that the log has.

usage: trend_test.py PROGRAM DATA_FOLDER
"""
import json
import re
import sys
import tempfile

from console_program import Console
from typed_rig import TypedRig

PROGRAM, DATA = sys.argv[1:3]
LEFT = (0.05, 0.03, 0.5)


def drawn(svg):
    """All that is stroked or filled, without letters, whose shapes are named in the order in which they come."""
    shapes = [re.sub(r'clip-path="[^"]*"|id="[^"]*"', "", line) for line in svg.split("\n") if line.startswith(("<path", "<rect"))]
    return [line for line in shapes if "stroke-width" in line]


def main():
    with tempfile.TemporaryDirectory() as folder:
        rig = TypedRig(PROGRAM, DATA, folder)
        with Console(PROGRAM, rig.files, folder) as console:
            assert json.loads(console.ask("GET", "/api/trends")[2])["chart"] is None, "there is nothing yet to be drawn"
            for left in LEFT:
                rig.balance(left)
                rig.run("job", "close", "--reason", "as it is")
            file = f"{folder}/trend.svg"
            rig.run("log", "trend", "--picture", file)
            with open(file, encoding="utf-8") as picture:
                line = drawn(picture.read())
            address = json.loads(console.ask("GET", "/api/trends")[2])["chart"]["light"]
            page = drawn(console.ask("GET", address)[2])
            assert len(page) > 10 and page == line, (len(page), len(line))
            print(f"{len(page)} shapes of {len(LEFT)} jobs, as 'log trend' draws them")


main()
