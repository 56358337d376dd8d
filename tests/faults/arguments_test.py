#!/usr/bin/env python3
"""Whatever is typed: the program ends by itself with one of its exit codes, a fault is said in a sentence with a remedy, and what was
there is left alone.

usage: arguments_test.py PROGRAM DATA_FOLDER [RUNS [SEED]]

Commands and options are those that --help names, so that a new one is tried too. Values are what people, scripts and other programs'
mistakes put there.
"""
import os
import pathlib
import random
import re
import shlex
import shutil
import subprocess
import sys
import tempfile

PROGRAM, DATA = os.path.abspath(sys.argv[1]), sys.argv[2]
RUNS = int(sys.argv[3]) if len(sys.argv) > 3 else 400
SEED = int(sys.argv[4]) if len(sys.argv) > 4 else 1

FILES = ["rig.toml", "shaft.toml", "spins.toml", "spins-verify.toml", "stock.toml", "00-as-found.flac", "01-trial-a.flac", ".", "..", "nothing",
         "/dev/null", "/dev/full", "a" * 300, "new.svg", "new.png", "new.pdf", "new.html", "new.csv", "new.json", "new.jsonl", "new.npy",
         "notes.txt", "fenn.key", "broken.toml", "", "-", "with space.toml", "file:log.db", ":memory:", "log.db"]
VALUES = ["0", "1", "-1", "2", "1e308", "-1e308", "nan", "inf", "1e-320", "99999999999999999999", "0x10", "1,5", "1 800 rpm", "1800 rpm",
          "0 rpm", "-5 rpm", "nan rpm", "12.5 g", "A 12.5 g @ 138.4 deg", "A -3 g @ 4:37", "B 0 g @ 0 deg", "Q 1 g @ 1 deg", "A 12 g", "A=6.0 mm/s @ 35 deg",
          "A=6.0 mm/s @ 35 deg ± 0.1 mm/s", "B=", "=", "G6.3", "G2.5", "G-1", "G1e9", "15 kg", "0 kg", "180 deg", "1e9 deg", "5120 Hz", "0 Hz", "3 s",
          "-3 s", "1e12 s", "2026-11-01", "2026-13-45", "9999-12-31", "PS-1042", "MC-0417/1", "MC-0417/999999999999", "A", "B", "en", "de", "xx",
          "%s%n", "\u00b5\u03a9\u20ac", "\U0001f600", "\x1b[31m", "'; DROP TABLE jobs; --", "x" * 20000, "." * 5000, "[" * 5000, "{", "\"", "\\",
          "\udcff\udcfe"]  # no UTF-8
# What once ended as a fault of the program: names that are no UTF-8, where they are kept.
FOUND = [["rig", "new", "\udcff\udcfe", "--only", "hand"], ["record", "00-as-found.flac", "new.\udcff.w64", "--replace"],
         ["rig", "qualify", "--rig", "\udcff.toml", "--shaft", "shaft.toml", "--log", "new.db"]]
# They serve or record until they are ended, or read a device; each has tests of its own.
LEFT_OUT = {"console", "record"}
SECONDS = 60


def help_of(*command):
    return subprocess.run([PROGRAM, *command, "--help"], capture_output=True, text=True, check=True).stdout


def subcommands_in(text):
    part = re.search(r"^Subcommands:\n((?:  .*\n)+)", text, re.M)
    return re.findall(r"^  ([a-z][a-z-]*)", part.group(1), re.M) if part else []


def examples_in(text):
    return [shlex.split(line)[1:] for line in re.findall(r"^  (counterspot [^|<>&;\n]+)$", text, re.M)]


def all_commands():
    """Each command, with its options, whether an option takes a value, and the examples of its help."""
    found = []
    for name in subcommands_in(help_of()):
        if name in LEFT_OUT:
            continue
        deeper = subcommands_in(help_of(name))
        for words in [[name, each] for each in deeper] or [[name]]:
            text = help_of(*words)
            options = re.findall(r"^  (?:-\w,)?(--[a-z-]+)( [A-Z]+)?", text, re.M)
            options = [(option, bool(value)) for option, value in options if option not in ("--help", "--watch")]
            found.append((words, options, [each for each in examples_in(text) if each[:len(words)] == words]))
    return found


def arguments(chance, words, options, examples):
    def value():
        return chance.choice(FILES if chance.random() < 0.6 else VALUES)

    if examples and chance.random() < 0.5:  # one that is meant to work, with some of it changed
        line = list(chance.choice(examples))
        for _ in range(chance.randrange(3)):
            at = chance.randrange(len(words), len(line) + 1)
            line[at:at + chance.randrange(2)] = [value()] if chance.random() < 0.7 else []
        return line
    line = list(words)
    for _ in range(chance.randrange(4)):
        line.append(value())
    for option, takes in chance.sample(options, min(len(options), chance.randrange(4))):
        line.append(option)
        if takes and chance.random() < 0.9:
            line.append(value())
    if chance.random() < 0.1:
        line.append(chance.choice(["--", "--no-such-option", "-x", "--="]))
    return line


def as_it_was(folder):
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir()) if path.is_file() and not path.name.startswith(("new.", "log.db"))}


def check(ran, line):
    said = ran.stderr.decode("utf-8", "replace")
    assert 0 <= ran.returncode <= 4, (ran.returncode, line, said[-3000:])
    assert "Sanitizer" not in said and "runtime error" not in said, (line, said[-3000:])
    assert "this is a fault of the program" not in said, (line, said[-3000:])
    if ran.returncode < 2:
        return
    if "--json" in line and b'"remedy":' in ran.stdout:  # of one file among several
        return
    lines = said.splitlines()
    said_so = any(each.startswith(("error: ", "Fehler: ")) for each in lines)
    mended_so = any(each.startswith((" mend: ", "Abhilfe: ")) for each in lines)
    assert said_so and mended_so, (line, said[-3000:])


def main():
    chance = random.Random(SEED)  # the same lines on every machine
    commands = all_commands()
    assert len(commands) > 30, commands
    ended = {}
    with tempfile.TemporaryDirectory() as made:
        folder = pathlib.Path(made, "data")
        shutil.copytree(DATA, folder)
        (folder / "notes.txt").write_text("no recording\n" * 100, encoding="utf-8")
        (folder / "\udcff.toml").write_text((folder / "rig.toml").read_text(encoding="utf-8") +
                                             '[qualification]\nsmallest_residual = "80 g·mm"\n', encoding="utf-8")
        (folder / "broken.toml").write_bytes(b"[shaft\n\x00\xff = \n")
        kept = as_it_was(folder)
        home = dict(os.environ, HOME=made, XDG_DATA_HOME=f"{made}/own", LC_ALL="C.UTF-8")
        for line in (["job", "open", "shaft.toml", "--rig", "rig.toml"], ["job", "spin", "00-as-found.flac"],
                     ["log", "key", "fenn.key", "--name", "A. Fenn"]):  # so that there is something to work with
            subprocess.run([PROGRAM, *line], cwd=folder, env=home, stdin=subprocess.DEVNULL, capture_output=True, check=True)
        for number in range(RUNS):
            line = arguments(chance, *commands[number % len(commands)])
            if number < len(FOUND):
                line = FOUND[number]
            ran = subprocess.run([PROGRAM, *line], cwd=folder, env=home, stdin=subprocess.DEVNULL, capture_output=True, timeout=SECONDS, check=False)
            check(ran, line)
            ended[ran.returncode] = ended.get(ran.returncode, 0) + 1
            now = as_it_was(folder)
            assert {name: now.get(name) for name in kept} == kept, (line, "a file was changed")
    assert len(ended) >= 3, ended  # not all of it was refused for one reason
    print(f"{RUNS} command lines on {len(commands)} commands; exit codes {dict(sorted(ended.items()))}")


main()
