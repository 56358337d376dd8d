#!/usr/bin/env python3
"""When the machine or a file fails: the right exit code, a sentence and a remedy, nothing half done, memory bounded.

usage: faults_test.py PROGRAM RIGSIM UNPLUG DATA_FOLDER
"""
import json
import os
import pathlib
import struct
import subprocess
import sys
import tempfile

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


def what_cannot_be_written_is_said(folder):
    with open("/dev/full", "w", encoding="utf-8") as full:
        for arguments in (["limit", "--shaft", DATA / "shaft.toml"], ["solve", DATA / "spins-verify.toml", "--json"]):
            ran = subprocess.run([PROGRAM, *map(str, arguments)], stdout=full, stderr=subprocess.PIPE, text=True, check=False)
            ran.stdout = ""
            refused(ran, 4)
    refused(run("solve", DATA / "spins-verify.toml", "--picture", "/proc/fit.png"), 4)
    refused(run("record", f"play:{DATA}/03-verify.flac", "/proc/spin.w64", "--seconds", "0.2 s"), 4)
    refused(run("manual", "--folder", folder / "not-there"), 4)


def a_disk_that_fills_while_recording_is_said(folder):
    """No file of this process may pass 64 KiB, which a writer sees as a disk without room."""
    limit = f'trap "" XFSZ; ulimit -f 64; exec "{PROGRAM}" record "play:{DATA}/03-verify.flac" "{folder}/full.w64" --seconds "3 s"'
    ran = subprocess.run(["sh", "-c", limit], capture_output=True, text=True, timeout=60, check=False)
    refused(ran, 4)


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
        a_device_that_is_unplugged_is_said_and_what_came_is_kept(here)
        a_flood_of_nan_and_infinity_is_refused_at_the_first(here)
        a_name_that_is_no_utf8_does_no_harm(here)
        a_table_of_a_million_lines_is_measured_in_bounded_memory(here)
        memory_does_not_grow_with_a_recording(here)
