"""Seals of an export, worked out anew with Python's hashlib and json from what include/counterspot/log/seal.hpp says of them.

Usage: seals_test.py COUNTERSPOT
"""
import hashlib
import json
import pathlib
import subprocess
import sys
import tempfile


def run(*words):
    return subprocess.run([str(word) for word in words], check=True, capture_output=True, text=True).stdout


def sha256(text):
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def entries_as_written(line):
    """The entries' own characters: numbers may be written in more than one way, and a hash knows only one."""
    decoder = json.JSONDecoder()
    at = line.index('"entries":[') + len('"entries":[')
    while line[at] != "]":
        _, end = decoder.raw_decode(line, at)
        yield line[at:end]
        at = end + 1 if line[end] == "," else end


def seal_of(line):
    job = json.loads(line)
    opened = {key: job[key] for key in ("uid", "opened", "program", "rig_file", "rig_definition", "shaft_file", "shaft_definition")}
    seal = sha256(json.dumps(opened, ensure_ascii=False, separators=(",", ":")))
    for entry in entries_as_written(line):
        seal = sha256(seal + "\n" + entry)
    return seal


def main():
    program = sys.argv[1]
    kept = pathlib.Path(__file__).resolve().parent.parent / "log/versions" / "6.jsonl"
    with tempfile.TemporaryDirectory() as folder:
        log = pathlib.Path(folder) / "log.db"
        run(program, "log", "import", kept, "--log", log)
        lines = run(program, "log", "export", "--log", log).splitlines()
        jobs = [line for line in lines if json.loads(line)["format"] == "counterspot job"]
        assert len(jobs) == 6, len(jobs)
        # A file that never changes: so a later version seals what an earlier one kept as it was sealed then.
        kept_seals = {json.loads(line)["job"]: seal_of(line) for line in kept.read_text(encoding="utf-8").splitlines()}
        for line in jobs:
            job = json.loads(line)
            assert job["seal"] == seal_of(line) == kept_seals[job["job"]], job["job"]
            code = job["seal"][:24]
            answer = run(program, "log", "verify", job["job"], "--code", code, "--log", log)
            assert f"of entry {len(job['entries'])}; none came later" in answer, answer


main()
