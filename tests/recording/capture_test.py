#!/usr/bin/env python3
"""Live sources give the very samples that went in, held against the bytes themselves.

usage: capture_test.py PROGRAM RIGSIM DATA_FOLDER
"""
import json
import os
import pathlib
import pty
import shutil
import subprocess
import sys
import tempfile
import threading
import time

import numpy

sys.path.insert(0, str(pathlib.Path(__file__).parent.parent))
from numbered import w64_samples  # noqa: E402
from slower import SLOWER  # noqa: E402

PROGRAM, RIGSIM, DATA = sys.argv[1:4]
RATE = ["--rate", "5120 Hz"]


def record(folder, source, name, *more, **settings):
    subprocess.run([PROGRAM, "record", source, f"{folder}/{name}", *more], check=True, capture_output=True, timeout=30 * SLOWER, **settings)
    with open(f"{folder}/{name}.json", encoding="utf-8") as notes:
        return json.load(notes)


def raw_samples_from_a_pipe_are_kept_bit_for_bit(folder, samples):
    with open(f"{folder}/spin.raw", "rb") as standard_input:
        notes = record(folder, "raw:-", "pipe.w64", *RATE, stdin=standard_input)
    assert notes["frames"] == len(samples) // 3 and notes["overruns"] == 0
    assert (w64_samples(f"{folder}/pipe.w64") == samples).all()


def alsa_gives_what_the_device_gives(folder, samples):
    """ALSA's own file plugin plays a recording into a capture device; its configuration is ours alone."""
    with open(f"{folder}/asound.conf", "w", encoding="utf-8") as conf:
        conf.write(f'pcm.null {{ type null }}\npcm.rig {{ type file; slave.pcm "null"; file "/dev/null"; '
                   f'infile "{folder}/spin.raw"; format "raw" }}\n')
    seconds = len(samples) // 3 / 5120 - 0.5
    notes = record(folder, "alsa:rig", "alsa.w64", *RATE, "--format", "s32le", "--seconds", f"{seconds} s",
                   env={**os.environ, "ALSA_CONFIG_PATH": f"{folder}/asound.conf"})
    got = w64_samples(f"{folder}/alsa.w64")
    assert notes["frames"] * 3 == len(got) and (got == samples[:len(got)]).all()
    assert got.any()


def a_definition_in_place_of_a_device_is_refused(folder):
    """alsa-lib's file plugin writes files and starts programs (pcm_plugins in its documentation): whoever names a device must not."""
    for device in ("file:'|touch written',raw", 'file:{FILE "|touch written" FORMAT raw}', "file:written,raw", "plug:file:written,raw",
                   "plug:'file:written,raw'", "tee:null,written,raw", "profile:file:written,raw", "../written"):
        ran = subprocess.run([PROGRAM, "record", f"alsa:{device}", "refused.w64", *RATE, "--seconds", "0.1 s"], cwd=folder,
                             capture_output=True, text=True, timeout=30 * SLOWER, check=False)
        assert ran.returncode == 2 and "is no name of a sound device" in ran.stderr, (device, ran)
        assert not os.path.exists(f"{folder}/written"), device


def a_new_rig_is_shown_what_devices_there_are(folder):
    """A device of three channels, made of ALSA's own parts; the one without a hint is none that ALSA would name."""
    bindings = " ".join(f"bindings.{c} {{ slave a channel {c} }}" for c in range(3))
    with open(f"{folder}/devices.conf", "w", encoding="utf-8") as conf:
        conf.write('pcm.null { type null }\npcm.unnamed { type null }\n'
                   f'pcm.desk {{ type multi slaves.a {{ pcm "null" channels 3 }} {bindings} '
                   'hint { show on description "Desk" } }\n')
    os.mkdir(f"{folder}/new")
    settings = {"cwd": f"{folder}/new", "check": True, "capture_output": True, "text": True, "timeout": 30 * SLOWER,
                "env": {**os.environ, "ALSA_CONFIG_PATH": f"{folder}/devices.conf"}}
    sources = json.loads(subprocess.run([PROGRAM, "rig", "new", "--json"], **settings).stdout)["sources"]
    assert [source["source"] for source in sources] == ["alsa:desk"], sources
    assert sources[0]["least_channels"] == sources[0]["most_channels"] == 3, sources
    assert 48000 in sources[0]["rates_Hz"] and "s24le" in sources[0]["formats"], sources
    told = subprocess.run([PROGRAM, "rig", "new"], **settings).stdout
    assert told.startswith("SOURCE  alsa:desk  channels: 3; "), told
    assert 'TYPE  counterspot rig new --source alsa:desk --rate "48 kHz" --channels 3\n' in told, told
    german = subprocess.run([PROGRAM, "rig", "new", "--language", "de"], **settings).stdout
    assert german.startswith("QUELLE  alsa:desk  Kanäle: 3; "), german


def point(name, pipe):
    """What is opened next under this name."""
    os.symlink(pipe, name + ".new")
    os.replace(name + ".new", name)


def what_comes_in_time(name, recordings):
    """One recording after the other, each time the name is opened, at four times real speed. Each has a pipe of its own, so that nothing
    is left of the one before."""
    pipes = [tempfile.mktemp(dir=os.path.dirname(name)) for _ in recordings]
    for pipe in pipes:
        os.mkfifo(pipe)
    point(name, pipes[0])
    for n, (samples, frames_a_second) in enumerate(recordings):
        with open(pipes[n], "wb", buffering=0) as out:  # waits for who reads
            if n + 1 < len(pipes):
                point(name, pipes[n + 1])
            part = 16 * (frames_a_second // 20)
            try:
                for at in range(0, len(samples), part):
                    out.write(samples[at:at + part])
                    time.sleep(0.05 / 4)
            except BrokenPipeError:
                pass


def knocks_on_a_sound_device_check_a_rig(folder):
    """The simulated rig's knocks, at A and then at B, through ALSA's file plugin: within; the same at the wrong ends: not."""
    case = "303"  # of four channels
    told = dict(line.split(" ", 1) for line in subprocess.run([RIGSIM, "first-day", "--case", case, "--describe"], check=True, capture_output=True,
                                                              text=True).stdout.splitlines())
    knocks = {}
    for act in ("knocks-a", "knocks-b"):
        pathlib.Path(folder, act).write_text(act + "\n", encoding="ascii")
    running = [subprocess.Popen([RIGSIM, "first-day", "--case", case, "--control", f"{folder}/{act}", "--seconds", "8.5", "--out",
                                 f"{folder}/{act}.raw"]) for act in ("knocks-a", "knocks-b")]
    assert [each.wait(60) for each in running] == [0, 0]
    for act in ("knocks-a", "knocks-b"):
        knocks[act] = pathlib.Path(folder, f"{act}.raw").read_bytes()
    assert told["channels"] == "4" and told["inverted"] in ("no no", "no yes", "yes no", "yes yes")
    signs = ["-" if each == "yes" else "" for each in told["inverted"].split()]
    sensors = "".join(f'[[sensor]]\nname = "{name}"\nchannel = {channel}\nsensitivity = "{sign}unknown"\n'
                      for name, channel, sign in zip("AB", told["sensors"].split(), signs, strict=True))
    os.mkdir(f"{folder}/checked")
    pathlib.Path(folder, "checked", "rig.toml").write_text(
        f'[rig]\nname = "bay 7"\nrotation = "{told["rotation"]}"\nviewing_end = "{told["viewing_end"]}"\n[tach]\nchannel = {told["tach"]}\n'
        f'{sensors}', encoding="utf-8")
    with open(f"{folder}/knocks.conf", "w", encoding="utf-8") as conf:
        conf.write(f'pcm.null {{ type null }}\npcm.rig {{ type file; slave.pcm "null"; file "/dev/null"; infile "{folder}/knocks.pipe"; format "raw" }}\n')
    # What is typed once need not be typed again: the second check takes all of it from the shop's file.
    env = {**os.environ, "ALSA_CONFIG_PATH": f"{folder}/knocks.conf", "XDG_CONFIG_HOME": f"{folder}/checked"}
    settings = {"cwd": f"{folder}/checked", "capture_output": True, "text": True, "timeout": 60 * SLOWER, "env": env, "stdin": subprocess.DEVNULL}
    for key, value in (("rig", "rig.toml"), ("log", "log.db"), ("source", "alsa:rig"), ("source_rate", told["rate"] + " Hz"),
                       ("source_channels", told["channels"]), ("source_format", "s32le")):
        subprocess.run([PROGRAM, "shop", key, value], check=True, **settings)
    typed = ["--source", "alsa:rig", "--rate", told["rate"] + " Hz", "--channels", told["channels"], "--format", "s32le"]
    for more, acts, within in ((typed, ("knocks-a", "knocks-b"), True), (["--record"], ("knocks-a", "knocks-b"), True),
                               (["--record"], ("knocks-b", "knocks-a"), False)):
        giver = threading.Thread(target=what_comes_in_time, args=(f"{folder}/knocks.pipe", [(knocks[act], int(told["rate"])) for act in acts]))
        if os.path.islink(f"{folder}/knocks.pipe"):
            os.remove(f"{folder}/knocks.pipe")
        giver.start()
        while not os.path.islink(f"{folder}/knocks.pipe"):
            time.sleep(0.01)
        ran = subprocess.run([PROGRAM, "rig", "check", *more, "--seconds", "8.2 s", "--json"], check=False, **settings)
        giver.join()
        assert ran.returncode == (0 if within else 1), (ran.returncode, ran.stdout, ran.stderr)
        assert json.loads(ran.stdout)["within"] is within, ran.stdout
        assert ran.stderr.index("pedestal A") < ran.stderr.index("pedestal B"), ran.stderr


def levels_are_shown_at_a_terminal(folder):
    ours, theirs = pty.openpty()
    answer = subprocess.run([PROGRAM, "rig", "new", "--json", "--source", f"raw:{folder}/spin.raw", *RATE, "--seconds", "1.5 s"],
                            cwd=f"{folder}/new", check=True, stdout=subprocess.PIPE, stderr=theirs, timeout=30 * SLOWER)
    os.close(theirs)
    shown = os.read(ours, 65536).decode()
    os.close(ours)
    assert shown.count("\r  1 ") >= 5 and " dB  2 " in shown and "#" in shown, shown
    assert "sources" not in json.loads(answer.stdout)  # one was named, and has shown the first step


def a_played_recording_measures_as_the_recording_itself(folder):
    record(folder, f"play:{DATA}/03-verify.flac", "played.flac", "--seconds", "1.5 s", "--rig", f"{DATA}/rig.toml")
    track = [PROGRAM, "track", "--rig", f"{DATA}/rig.toml", "--json"]
    one, other = (json.loads(subprocess.run([*track, *which], check=True, capture_output=True, text=True).stdout)
                  for which in ([f"{folder}/played.flac"], [f"{DATA}/03-verify.flac", "--to", "1.5 s"]))
    for a, b in zip(one["sensors"], other["sensors"], strict=True):
        assert a["orders"][0]["amplitude"] == b["orders"][0]["amplitude"]


def a_csv_stays_a_csv(folder):
    record(folder, f"{DATA}/csv/00-as-found.csv", "copy.csv")
    given, kept = (numpy.loadtxt(name, delimiter=",", skiprows=1) for name in (f"{DATA}/csv/00-as-found.csv", f"{folder}/copy.csv"))
    assert given.shape == kept.shape and numpy.array_equal(given, kept)


def main():
    folder = tempfile.mkdtemp()
    try:
        with open(f"{folder}/control", "w", encoding="utf-8") as control:
            control.write("drive on\n")
        subprocess.run([RIGSIM, "live", "--control", f"{folder}/control", "--seconds", "2", "--run-up", "0.5", "--out",
                        f"{folder}/spin.raw"], check=True, timeout=30 * SLOWER)
        samples = numpy.fromfile(f"{folder}/spin.raw", "<i4")
        assert len(samples) > 3 * 5120
        raw_samples_from_a_pipe_are_kept_bit_for_bit(folder, samples)
        alsa_gives_what_the_device_gives(folder, samples)
        a_definition_in_place_of_a_device_is_refused(folder)
        a_new_rig_is_shown_what_devices_there_are(folder)
        knocks_on_a_sound_device_check_a_rig(folder)
        levels_are_shown_at_a_terminal(folder)
        a_played_recording_measures_as_the_recording_itself(folder)
        a_csv_stays_a_csv(folder)
    finally:
        shutil.rmtree(folder)


main()
