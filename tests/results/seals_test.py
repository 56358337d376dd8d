"""Seals of an export, worked out anew with Python's hashlib and json from what include/counterspot/log/seal.hpp says of them,
and signatures on them, read and made with OpenSSL.

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


def seal_of(line, entries=None):
    """After so many entries; None: all."""
    job = json.loads(line)
    opened = {key: job[key] for key in ("uid", "opened", "program", "rig_file", "rig_definition", "shaft_file", "shaft_definition")}
    seal = sha256(json.dumps(opened, ensure_ascii=False, separators=(",", ":")))
    for entry in list(entries_as_written(line))[:entries]:
        seal = sha256(seal + "\n" + entry)
    return seal


def openssl_verifies(public_key, signature, message, folder):
    (folder / "message").write_bytes(message)
    (folder / "signature").write_bytes(signature)
    answer = subprocess.run(["openssl", "pkeyutl", "-verify", "-rawin", "-pubin", "-inkey", public_key, "-sigfile", folder / "signature",
                             "-in", folder / "message"], capture_output=True, text=True)
    return answer.returncode == 0


def check_signatures(program, log, folder):
    """A key of ours and one that OpenSSL made sign a closed job; OpenSSL reads both public keys and says that the signatures hold."""
    ours, theirs = folder / "fenn.key", folder / "rook.key"
    run(program, "log", "key", ours, "--name", "A. Fenn")
    pem = run("openssl", "genpkey", "-algorithm", "ed25519")
    theirs.write_text("Name: B. Rook\n" + pem)
    run("openssl", "pkey", "-in", theirs, "-pubout", "-out", folder / "rook.key.pub")
    for key in (ours, theirs):
        run(program, "log", "sign", "MC-0417/1", "--key", key, "--log", log)
    export = folder / "jobs.jsonl"
    run(program, "log", "export", "--shaft", "MC-0417", "--verdict", "within", "--out", export, "--key", theirs, "--log", log)
    line = export.read_text(encoding="utf-8").splitlines()[0]
    entries = list(entries_as_written(line))
    signed = [json.loads(entry) for entry in entries if json.loads(entry)["kind"] == "sign"]
    assert [entry["details"]["signed_by"] for entry in signed] == ["A. Fenn", "B. Rook"], signed
    for entry, key in zip(signed, (ours, theirs)):
        before = seal_of(line, entry["number"] - 1)
        message = f"counterspot signature\nseal {before}\nat {entry['at']}\nby {entry['details']['signed_by']}\n".encode()
        signature = bytes.fromhex(entry["details"]["signature"])
        assert openssl_verifies(f"{key}.pub", signature, message, folder)
        assert not openssl_verifies(f"{key}.pub", signature, message + b"x", folder)
        run(program, "log", "verify", export, "--signed-by", f"{key}.pub")
    assert openssl_verifies(f"{theirs}.pub", (folder / "jobs.jsonl.sig").read_bytes(), export.read_bytes(), folder)
    run(program, "log", "verify", export, "--signed-by", f"{theirs}.pub", "--signature", folder / "jobs.jsonl.sig")
    run(program, "log", "check", "--log", log)


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
        check_signatures(program, log, pathlib.Path(folder))


main()
