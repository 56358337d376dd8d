#!/usr/bin/env python3
"""When the machine or a file fails: the right exit code, a sentence and a remedy, nothing half done, memory bounded.

usage: faults_test.py PROGRAM RIGSIM UNPLUG DATA_FOLDER
"""
import json
import os
import pathlib
import resource
import shutil
import signal
import struct
import subprocess
import sys
import tempfile
import threading
import time

import numpy

PROGRAM, RIGSIM, UNPLUG = sys.argv[1:4]
DATA = pathlib.Path(sys.argv[4])
RIG = str(DATA / "rig.toml")
MIB = 1 << 20


def run(*arguments, **settings):
    return subprocess.run([PROGRAM, *map(str, arguments)], capture_output=True, text=True, timeout=200, check=False, **settings)


def refused(ran, exit_code, *words):
    lines = ran.stderr.splitlines()
    assert ran.returncode == exit_code, (ran.returncode, ran.stderr)
    assert lines[-2].startswith("error: ") and lines[-1].startswith(" mend: "), ran.stderr
    for word in words:
        assert word in lines[-2], ran.stderr


def most_memory(*arguments):
    """Largest resident size of one run in bytes, its exit code and its output."""
    with tempfile.TemporaryFile("w+") as out, tempfile.TemporaryFile("w+") as trouble:
        process = subprocess.Popen([PROGRAM, *map(str, arguments)], stdout=out, stderr=trouble)
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        out.seek(0)
        trouble.seek(0)
        return usage.ru_maxrss * 1024, process.returncode, out.read(), trouble.read()


def no_file_above(size):
    """To be called in a process before it becomes the program: a writer sees a disk without room."""
    def limit():
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
    return limit


def a_log_of_a_job(folder):
    """With a job that is exported as more than one buffer holds."""
    log = folder / "shop.db"
    if not log.exists():
        assert run("job", "open", DATA / "shaft.toml", "--rig", RIG, "--log", log).returncode == 0
        assert run("job", "spin", DATA / "00-as-found.flac", "--log", log).returncode == 0
        for number in range(60):
            assert run("job", "fit", f"A {number + 1} g @ 0 deg", "--as-typed", "--log", log).returncode == 0
    return log


def what_cannot_be_written_is_said(folder):
    log = a_log_of_a_job(folder)
    assert len(run("log", "export", "--log", log).stdout) > 3 * 4096
    asked = (["limit", "--shaft", DATA / "shaft.toml"], ["solve", DATA / "spins-verify.toml", "--json"], ["--version"], ["--help"],
             ["solve", "--help"], ["manual"], ["completion"], ["log", "export", "--log", log], ["log", "export", "--csv", "--log", log],
             ["job", "show", "--log", log])
    for arguments in asked:
        with open("/dev/full", "w", encoding="utf-8") as full:
            ran = subprocess.run([PROGRAM, *map(str, arguments)], stdout=full, stderr=subprocess.PIPE, text=True, check=False)
        ran.stdout = ""
        refused(ran, 4, "standard output")
        # Room for ten bytes: what comes after them is lost, the first write is not.
        (folder / "nearly-full").write_bytes(b" " * (MIB - 10))
        with open(folder / "nearly-full", "ab") as nearly_full:
            ran = subprocess.run([PROGRAM, *map(str, arguments)], stdout=nearly_full, stderr=subprocess.PIPE, text=True,
                                 check=False, preexec_fn=no_file_above(MIB))
        ran.stdout = ""
        refused(ran, 4, "standard output")
        # Closed: what is printed must not go into the first file that is opened.
        before = log.read_bytes()
        ran = subprocess.run(["sh", "-c", f'exec "{PROGRAM}" {" ".join(map(str, arguments))} >&-'], capture_output=True, text=True,
                             check=False)
        refused(ran, 4, "standard output")
        assert log.read_bytes() == before
    refused(run("log", "export", "--log", log, "--out", "/dev/full"), 4, "/dev/full")
    refused(run("solve", DATA / "spins-verify.toml", "--picture", "/proc/fit.png"), 4)
    refused(run("record", f"play:{DATA}/03-verify.flac", "/proc/spin.w64", "--seconds", "0.2 s"), 4)
    refused(run("manual", "--folder", folder / "not-there"), 4)


def a_disk_that_fills_while_recording_is_said(folder):
    refused(run("record", f"play:{DATA}/03-verify.flac", folder / "full.w64", "--seconds", "3 s", preexec_fn=no_file_above(32768)), 4)
    assert (folder / "full.w64").stat().st_size > 0


def a_full_disk_leaves_what_was_to_be_replaced(folder):
    """What could not be written whole leaves nothing beside it; of a recording, what came is there and named."""
    log = a_log_of_a_job(folder)
    place = folder / "full-disk"
    place.mkdir()
    (place / "jobs.jsonl").write_text("what was exported last year")
    (place / "spin.w64").write_text("a recording")
    (place / "rig.toml").write_text((DATA / "rig.toml").read_text())
    for arguments in (["export", "--out", place / "jobs.jsonl", "--replace"], ["export", "--out", place / "new.jsonl"],
                      ["backup", place / "backup.db"]):
        ran = run("log", *arguments, "--log", log, preexec_fn=no_file_above(4096))
        refused(ran, 4)
        assert sorted(each.name for each in place.iterdir()) == ["jobs.jsonl", "rig.toml", "spin.w64"], list(place.iterdir())
    assert (place / "jobs.jsonl").read_text() == "what was exported last year"
    ran = run("record", f"play:{DATA}/03-verify.flac", place / "spin.w64", "--replace", "--seconds", "3 s",
              preexec_fn=no_file_above(32768))
    refused(ran, 4)
    assert (place / "spin.w64").read_text() == "a recording"
    assert "spin.part-1.w64" in ran.stderr and (place / "spin.part-1.w64").exists(), ran.stderr


def ends_soon(command, signal_number, after_s, **settings):
    """How such a process ends when it is told to, and within how many seconds."""
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **settings)
    time.sleep(after_s)
    assert process.poll() is None, process.communicate()
    told = time.monotonic()
    process.send_signal(signal_number)
    out, err = process.communicate(timeout=20)
    return process.returncode, time.monotonic() - told, out, err


def recording_ends_when_told_while_nothing_comes(folder):
    """Ctrl-C and SIGTERM, with nobody at the other end of the pipe, with one who is silent, and after samples came."""
    pipe = folder / "rig.pipe"
    os.mkfifo(pipe)
    record = [PROGRAM, "record", f"raw:{pipe}", str(folder / "told.w64"), "--rate", "5120 Hz"]
    for number in (signal.SIGINT, signal.SIGTERM):
        for silent in (False, True):
            keep = os.open(pipe, os.O_RDWR) if silent else None
            code, seconds, _, err = ends_soon(record, number, 0.5)
            assert code == 3 and "no samples came" in err and seconds < 2, (code, seconds, err)
            assert not (folder / "told.w64").exists() and not (folder / "told.w64.json").exists()
            if keep is not None:
                os.close(keep)
    for more in ([], ["--rig", RIG]):
        keep = os.open(pipe, os.O_RDWR)
        os.write(keep, numpy.arange(3 * 1000, dtype="<i4").tobytes())
        code, seconds, out, err = ends_soon([*record, "--json", "--replace", *more], signal.SIGINT, 0.5)
        os.close(keep)
        assert code == 0 and seconds < 2 and json.loads(out)["frames"] == 1000, (code, seconds, out, err)
        assert json.loads(run("inspect", folder / "told.w64", "--json").stdout)["samples"] == 1000
    # A WAV or CSV on standard input that stops coming.
    wav = b"RIFF\xff\xff\xff\xffWAVEfmt " + struct.pack("<IHHIIHH", 16, 1, 3, 5120, 30720, 6, 16) + b"data\xff\xff\xff\xff"
    for name, sent in (("stalled.w64", wav + bytes(180000)), ("stalled.csv", b"a (V),tach (V)\n" + b"0.5,1.5\n" * 80000)):
        readable, writable = os.pipe()
        writer = threading.Thread(target=os.write, args=(writable, sent))
        writer.start()
        code, seconds, out, err = ends_soon([PROGRAM, "record", "-", str(folder / name), "--json", "--rate", "5120 Hz"],
                                            signal.SIGTERM, 1.0, stdin=readable)
        os.close(readable)
        writer.join()
        os.close(writable)
        # A table is read some pieces of 256 KiB ahead; rows that wait there when it is told to end are not kept.
        least = 1000 if name == "stalled.w64" else 1
        assert code == 0 and seconds < 2 and json.loads(out)["frames"] >= least, (name, code, seconds, out, err)
    os.remove(pipe)


def a_device_that_is_silent_ends_when_told(folder):
    (folder / "asound.conf").write_text('pcm.rig { type null }\n')
    code, seconds, _, err = ends_soon([PROGRAM, "record", "alsa:rig", str(folder / "silent.w64"), "--rate", "5120 Hz", "--format", "s32le"],
                                      signal.SIGINT, 0.5, env={**os.environ, "ALSA_CONFIG_PATH": f"{folder}/asound.conf",
                                                               "LD_PRELOAD": UNPLUG, "SILENT_DEVICE": "1"})
    assert code == 3 and "no samples came" in err and seconds < 2, (code, seconds, err)


def a_device_that_is_unplugged_is_said_and_what_came_is_kept(folder):
    samples = numpy.arange(3 * 5120 * 8, dtype="<i4")
    samples.tofile(folder / "spin.raw")
    (folder / "asound.conf").write_text(
        f'pcm.null {{ type null }}\npcm.rig {{ type file; slave.pcm "null"; file "/dev/null"; infile "{folder}/spin.raw"; '
        'format "raw" }\n')
    ran = run("record", "alsa:rig", folder / "unplugged.w64", "--rate", "5120 Hz", "--format", "s32le",
              env={**os.environ, "ALSA_CONFIG_PATH": f"{folder}/asound.conf", "LD_PRELOAD": UNPLUG})
    refused(ran, 4, "rig", "No such device")
    there = run("inspect", folder / "unplugged.w64", "--json")
    assert there.returncode == 0, there.stderr
    assert json.loads(there.stdout)["samples"] > 0


def a_rig_is_checked_by_knocks_on_a_sound_device_or_it_is_said_why_not(folder):
    """'rig check --source' on devices that are gone, held, too small or of another rate; a refusal keeps nothing, and waits for nobody."""
    place = folder / "checked"
    place.mkdir()
    device = 'type file slave.pcm "null" file "/dev/null" format "raw"'
    two = " ".join(f"bindings.{c} {{ slave a channel {c} }}" for c in range(2))
    (place / "asound.conf").write_text(
        f'pcm.null {{ type null }}\npcm.rig {{ {device} infile "{place}/knocks.raw" }}\npcm.card {{ type hw card 77 }}\n'
        f'pcm.small {{ type multi slaves.a {{ pcm "null" channels 2 }} {two} }}\n'
        'pcm.slow { type plug slave { pcm "null" rate 48000 } }\n')
    numpy.zeros(3 * 48000 * 3, dtype="<i4").tofile(place / "knocks.raw")
    shutil.copy(RIG, place / "rig.toml")
    env = {**os.environ, "ALSA_CONFIG_PATH": f"{place}/asound.conf", "LD_PRELOAD": UNPLUG, "BUSY_DEVICE": "held"}

    def check(source, *more):
        return run("rig", "check", "--rig", "rig.toml", "--source", f"alsa:{source}", "--log", "log.db", "--seconds", "1 s", *more, env=env, cwd=place)

    at_48 = ("--rate", "48 kHz", "--channels", "3")
    for source, more, error, mend in (("card", at_48, "'card' cannot be opened", "plugged in"),
                                      ("no-such-name", at_48, "'no-such-name' cannot be opened", "'counterspot rig new' lists"),
                                      ("held", at_48, "'held' is held by another program", "end what else records from it"),
                                      ("small", at_48, "'small' has 2 channels, and '3' were asked for", "--channels 2"),
                                      ("slow", (), "'slow' offers 48 kHz, and '51.2 kHz' were asked for", '--rate "48 kHz"'),
                                      ("rig", at_48, "'rig' failed while recording: No such device", "plugged in")):
        ran = check(source, *more)
        refused(ran, 4, error)
        assert mend in ran.stderr.splitlines()[-1] and "ALSA lib" not in ran.stderr, ran.stderr
    german = check("held", *at_48, "--language", "de")
    assert german.returncode == 4, german.stderr
    for words in ("Ein anderes Programm hält das Tongerät ('held')", "Beenden, was sonst von ihm aufnimmt"):
        assert words in german.stderr, german.stderr
    assert not (place / "log.db").exists()


def a_flood_of_nan_and_infinity_is_refused_at_the_first(folder):
    for name, value in (("nan", numpy.nan), ("infinity", numpy.inf), ("largest", 3.4e38)):
        frames = 512000
        samples = numpy.full((frames, 3), value, dtype="<f4")
        samples[:, 2] = (numpy.arange(frames) % 512 < 50) * 0.4  # the tach is sound
        with open(folder / f"{name}.wav", "wb") as file:
            size = samples.nbytes
            file.write(b"RIFF" + struct.pack("<I", 36 + size) + b"WAVEfmt " + struct.pack("<IHHIIHH", 16, 3, 3, 51200, 614400, 12, 32))
            file.write(b"data" + struct.pack("<I", size) + samples.tobytes())
        ran = run("track", folder / f"{name}.wav", "--rig", RIG, "--json")
        if name == "largest":  # finite: measured, and said as clipped
            assert ran.returncode in (0, 3), ran.stderr
        else:
            refused(ran, 3, "channel 1", "sample 1 ")
    rows = "".join(f"nan,nan,{int(i % 50 < 5)},{i / 1000}\n" for i in range(20000))
    (folder / "nan.csv").write_text("a (g),b (g),tach,time (s)\n" + rows)
    refused(run("track", folder / "nan.csv", "--rig", RIG), 3)


def sparse_w64(path, seconds, rate=51200):
    """Wave64 (Sony Pictures Digital) of 64-bit floats in three channels, all zero but never written: it has a size and no blocks."""
    def chunk(name, guid, content):
        return name + guid + struct.pack("<Q", 24 + len(content)) + content
    wave = b"\xf3\xac\xd3\x11\x8c\xd1\x00\xc0\x4f\x8e\xdb\x8a"
    size = seconds * rate * 3 * 8
    head = chunk(b"fmt ", wave, struct.pack("<HHIIHH", 3, 3, rate, rate * 24, 24, 64)) + b"data" + wave + struct.pack("<Q", 24 + size)
    riff = b"riff\x2e\x91\xcf\x11\xa5\xd6\x28\xdb\x04\xc1\x00\x00"
    with open(path, "wb") as file:
        file.write(riff + struct.pack("<Q", 40 + len(head) + size) + b"wave" + wave + head)
        file.truncate(40 + len(head) + size)
    return size


def sparse_rf64(path, seconds, rate=51200):
    """RF64 (EBU Tech 3306), the same."""
    size = seconds * rate * 3 * 8
    head = b"RF64\xff\xff\xff\xffWAVEds64" + struct.pack("<IQQQI", 28, 72 + size, size, seconds * rate, 0)
    head += b"fmt " + struct.pack("<IHHIIHH", 16, 3, 3, rate, rate * 24, 24, 64) + b"data\xff\xff\xff\xff"
    with open(path, "wb") as file:
        file.write(head)
        file.truncate(len(head) + size)
    return size


def memory_does_not_grow_with_a_recording(folder, gibibytes=4.5):
    """Over 4 GiB, where the sizes in a WAV's header end. A dead tach is known only at the end: all of it was read."""
    longest = int(gibibytes * (1 << 30) / (51200 * 24))
    for name, write in (("w64", sparse_w64), ("rf64", sparse_rf64)):
        write(folder / f"short.{name}", 30)
        size = write(folder / f"long.{name}", longest)
        small, _, _, _ = most_memory("track", folder / f"short.{name}", "--rig", RIG)
        large, exit_code, _, trouble = most_memory("track", folder / f"long.{name}", "--rig", RIG)
        assert exit_code == 3 and "tach" in trouble, (exit_code, trouble)
        print(f"{name}: {size / (1 << 30):.1f} GiB read with {large / MIB:.0f} MiB, 30 s with {small / MIB:.0f} MiB")
        assert large < small + 32 * MIB, (small, large)
        os.remove(folder / f"long.{name}")


def a_table_of_a_million_lines_is_measured_in_bounded_memory(folder):
    """3 g at sensor A, 1500 rpm; the tenth of the table and the whole take the same memory and say the same."""
    rate, rows = 5000, 1_000_000
    turns = 25.0 * (numpy.arange(rows) + 0.5) / rate
    a, b = 3.0 * numpy.cos(2 * numpy.pi * turns - 1.0), numpy.cos(2 * numpy.pi * turns)
    tach = 5 * (turns % 1 < 0.1)
    lines = [f"{i / rate:.4f},{a[i]:.5f},{b[i]:.5f},{tach[i]:.0f}\n" for i in range(rows)]
    (folder / "rig-table.toml").write_text(
        '[rig]\nname = "table"\nrotation = "clockwise"\nviewing_end = "A"\n[tach]\nchannel = "tach"\n'
        '[[sensor]]\nname = "A"\nchannel = "a"\nsensitivity = "100 mV/g"\n[[sensor]]\nname = "B"\nchannel = "b"\n'
        'sensitivity = "100 mV/g"\n')
    said = {}
    for name, count in (("tenth", rows // 10), ("whole", rows)):
        with open(folder / f"{name}.csv", "w", encoding="ascii") as file:
            file.write("time (s),a (g),b (g),tach\n")
            file.writelines(lines[:count])
        memory, exit_code, out, trouble = most_memory("track", folder / f"{name}.csv", "--rig", folder / "rig-table.toml", "--json")
        assert exit_code == 0, trouble
        said[name] = (memory, json.loads(out)["sensors"][0]["orders"][0]["amplitude"])
        assert abs(said[name][1] - 3 * 9.80665) < 1e-3, said
    print(f"1 000 000 lines with {said['whole'][0] / MIB:.0f} MiB, 100 000 with {said['tenth'][0] / MIB:.0f} MiB")
    assert said["whole"][0] < said["tenth"][0] + 32 * MIB, said


def a_name_that_is_no_utf8_does_no_harm(folder):
    name = os.fsencode(folder) + b"/sp\xefn.flac"
    with open(DATA / "00-as-found.flac", "rb") as spin, open(name, "wb") as file:
        file.write(spin.read())
    log = ["--log", str(folder / "log.db")]
    ran = subprocess.run([PROGRAM, "track", name, "--rig", RIG, "--json"], capture_output=True, check=False)
    assert ran.returncode == 0 and "sp\ufffdn.flac" in json.loads(ran.stdout)["file"], ran
    assert run("job", "open", DATA / "shaft.toml", "--rig", RIG, *log).returncode == 0
    ran = subprocess.run([PROGRAM, "job", "spin", name, *log], capture_output=True, check=False)
    assert ran.returncode == 0, ran.stderr
    assert run("job", "next", "--json", *log).returncode == 0


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        here = pathlib.Path(place)
        what_cannot_be_written_is_said(here)
        a_disk_that_fills_while_recording_is_said(here)
        a_full_disk_leaves_what_was_to_be_replaced(here)
        recording_ends_when_told_while_nothing_comes(here)
        a_device_that_is_silent_ends_when_told(here)
        a_device_that_is_unplugged_is_said_and_what_came_is_kept(here)
        a_rig_is_checked_by_knocks_on_a_sound_device_or_it_is_said_why_not(here)
        a_flood_of_nan_and_infinity_is_refused_at_the_first(here)
        a_name_that_is_no_utf8_does_no_harm(here)
        a_table_of_a_million_lines_is_measured_in_bounded_memory(here)
        memory_does_not_grow_with_a_recording(here)
