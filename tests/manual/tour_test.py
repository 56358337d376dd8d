#!/usr/bin/env python3
"""tour_test.py PROGRAM SOURCE-TREE: the commands of the manuals' tour, one after the other in a copy of the demo, print
what the tour says. A line '…' stands for any lines that are left out."""
import pathlib
import re
import shlex
import shutil
import subprocess
import sys
import tempfile

program, tree = sys.argv[1], pathlib.Path(sys.argv[2])
text = (tree / "src/manual/tour.md").read_text()
blocks = re.findall(r"^```console\n(.*?)^```$", text, re.S | re.M)
steps = [step for block in blocks for step in re.findall(r"^\$ counterspot (.*)\n((?:(?!\$ ).*\n)*)", block, re.M)]
with tempfile.TemporaryDirectory() as folder:
    shutil.copytree(tree / "data", folder, dirs_exist_ok=True)
    for command, said in steps:
        ran = subprocess.run([program, *shlex.split(command)], capture_output=True, text=True, cwd=folder, check=False)
        pattern = "".join("(?:.*\n)*?" if line == "…" else re.escape(line) + "\n" for line in said.splitlines())
        assert ran.returncode <= 1, (command, ran.stderr)
        assert re.fullmatch(pattern, ran.stdout), f"counterspot {command} printed\n{ran.stdout}{ran.stderr}"
assert len(steps) >= 7, steps
for feature in ("straight.toml", "--stock", "turned.toml", "log quality", "batch track"):
    assert any(feature in command for command, _ in steps), feature
for word in ("STRAIGHTNESS", "JOINTS", "slide one", "ADAPTERS"):
    assert any(word in said for _, said in steps), word
print(f"{len(steps)} steps")
