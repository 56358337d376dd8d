#!/usr/bin/env python3
"""The page and what is kept: an open job that was altered behind the log holds up no other shaft, and a job that is closed at the page
is signed with the key that the page was given.

usage: kept_test.py PROGRAM DATA_FOLDER
"""
import json
import pathlib
import sqlite3
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).parent))
from console_program import COMMAND, Console  # noqa: E402

PROGRAM, DATA = sys.argv[1:3]


def program(*arguments):
    return subprocess.run([PROGRAM, *arguments], check=True, capture_output=True, text=True).stdout


def now(console):
    status, _, text = console.ask("GET", "/api/now")
    return status, json.loads(text)


def command(console, path, said):
    status, _, text = console.ask("POST", path, headers={**COMMAND, "Content-Type": "application/json"}, body=json.dumps(said).encode())
    assert status == 200, text


def check_altered(folder):
    log = f"{folder}/log.db"
    program("job", "open", f"{DATA}/shaft.toml", "--rig", f"{DATA}/rig.toml", "--log", log)
    program("job", "spin", f"{DATA}/00-as-found.flac", "--log", log)
    with sqlite3.connect(log) as database:
        database.execute("UPDATE readings SET value_re = value_re / 10")
    with Console(PROGRAM, DATA, folder) as console:
        status, said = now(console)
        assert status == 500 and said["code"] == "log_altered", said  # the only job there is: what is wrong is said
        command(console, "/api/open", {"file": "shaft.toml"})
        status, said = now(console)
        assert status == 200 and said["job"] == "MC-0417/2", said
    with Console(PROGRAM, DATA, folder) as console:  # after a restart the job that can be gone on with is shown
        assert now(console)[1]["job"] == "MC-0417/2"


def check_signed(folder):
    program("log", "key", f"{folder}/bay2.key", "--name", "bay 2")
    with Console(PROGRAM, DATA, folder, "--key", f"{folder}/bay2.key") as console:
        said = now(console)[1]
        command(console, "/api/close", {"job": said["job"], "entries": said["entries"], "reason": "the tube is dented"})
    program("log", "verify", "MC-0417/2", "--signed-by", f"{folder}/bay2.key.pub", "--log", f"{folder}/log.db")


with tempfile.TemporaryDirectory() as made:
    check_altered(made)
    check_signed(made)
