#!/usr/bin/env python3
"""Makes the broken recordings in tests/broken/recordings: each is a good recording of a spin with one defect, named by it.

The good one: 2 channels (sensor, tach), 4 kHz, half a second, 1 200 rpm. Only the standard library and NumPy; the seed is fixed,
so that a second run changes nothing.
"""
import pathlib
import struct
import zlib

import numpy as np

FOLDER = pathlib.Path(__file__).resolve().parent.parent / "tests" / "broken" / "recordings"
RATE_HZ, SECONDS, TURNS_PER_S = 4000, 0.5, 20.0
FRAMES = int(RATE_HZ * SECONDS)


def spin(tach=True):
    """Sensor and tach, as fractions of full scale; one row per sample."""
    rng = np.random.default_rng(20210301)
    t = np.arange(FRAMES) / RATE_HZ
    sensor = 0.2 * np.cos(2 * np.pi * TURNS_PER_S * t - 1.0) + 0.01 * rng.standard_normal(FRAMES)
    pulse = np.where((t * TURNS_PER_S + 0.5) % 1.0 < 0.1, 0.5, 0.0) if tach else np.zeros(FRAMES)
    return np.stack([sensor, pulse], axis=1)


def wav(samples, tag=3, bits=32, channels=None, rate_hz=RATE_HZ, announced=None):
    """A WAV file: RIFF, 'fmt ', 'data'. tag 1: PCM, 3: float, 7: mu-law."""
    if tag == 3:
        data = samples.astype("<f4").tobytes()
    elif tag == 7:
        data = bytes(samples.size)
    else:
        data = np.round(samples * 32767).astype("<i2").tobytes()
    channels = samples.shape[1] if channels is None else channels
    frame = channels * bits // 8
    fmt = struct.pack("<HHIIHH", tag, channels, rate_hz, rate_hz * frame, frame, bits)
    size = len(data) if announced is None else announced
    return (b"RIFF" + struct.pack("<I", 36 + size) + b"WAVEfmt " + struct.pack("<I", 16) + fmt + b"data"
            + struct.pack("<I", size) + data)


def rf64(samples, announced):
    """An RF64 file (EBU Tech 3306): the true sizes stand in 'ds64'."""
    data = samples.astype("<f4").tobytes()
    plain = wav(samples)
    ds64 = b"ds64" + struct.pack("<IQQQI", 28, announced + 72, announced, announced // 8, 0)
    return b"RF64\xff\xff\xff\xffWAVE" + ds64 + plain[12:36] + b"data\xff\xff\xff\xff" + data


def aiff(samples, announced_frames):
    """A 16-bit AIFF file; the rate is an 80-bit float: 4 000 = 0x400A, 0xFA00..."""
    data = np.round(samples * 32767).astype(">i2").tobytes()
    comm = b"COMM" + struct.pack(">IhIh", 18, samples.shape[1], announced_frames, 16) + bytes.fromhex("400AFA00000000000000")
    ssnd = b"SSND" + struct.pack(">III", announced_frames * 4 + 8, 0, 0) + data
    return b"FORM" + struct.pack(">I", 4 + 26 + 16 + announced_frames * 4) + b"AIFF" + comm + ssnd


def flac_without_frames(frames):
    """A FLAC file that ends after its STREAMINFO block: 4 kHz, 2 channels, 16 bits."""
    bits = (RATE_HZ << 44) | (1 << 41) | (15 << 36) | frames
    return b"fLaC\x80\x00\x00\x22" + struct.pack(">HH", 4096, 4096) + bytes(6) + bits.to_bytes(8, "big") + bytes(16)


def png():
    def chunk(name, data):
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
    head = struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0\0")) + chunk(b"IEND", b"")


def csv(header="time (s),accel (g),tach (V)", rows=40, separator=","):
    """Lines of a good table; a defect changes one of them."""
    samples = spin()[:rows] * [10.0, 10.0]
    return [header] + [separator.join([f"{k / RATE_HZ:.6f}", f"{a:.5f}", f"{b:.3f}"]) for k, (a, b) in enumerate(samples)]


def changed(lines, line, text):
    """The table with its 1-based line replaced."""
    lines = list(lines)
    lines[line - 1] = text
    return ("\n".join(lines) + "\n").encode()


def later(lines, line, by_s):
    """The table with all its times from a 1-based line on later."""
    cells = [text.split(",") for text in lines]
    for row in cells[line - 1:]:
        row[0] = f"{float(row[0]) + by_s:.6f}"
    return [",".join(row) for row in cells]


def with_sample(value, channel):
    samples = spin()
    samples[1234, channel] = value
    return wav(samples)


def one_pulse():
    samples = spin()
    samples[200:, 1] = 0.0
    return samples


def noisy_tach():
    samples = spin(tach=False)
    samples[:, 1] = 0.001 * np.random.default_rng(7).standard_normal(FRAMES)
    return samples


def broken():
    good, table = spin(), csv()
    late = csv(rows=40)
    yield "good.wav", wav(good)
    yield "good.csv", ("\n".join(csv(rows=FRAMES)) + "\n").encode()
    yield "empty.wav", b""
    yield "empty.csv", b""
    yield "header-cut-short.wav", wav(good)[:30]
    yield "header-without-data-part.wav", wav(good)[:36]
    yield "no-samples.wav", wav(good[:0])
    yield "promises-more-data.wav", wav(good, announced=100000 * 8)
    yield "promises-more-data.rf64", rf64(good, announced=100000 * 8)
    yield "promises-more-data.aiff", aiff(good, announced_frames=100000)
    yield "no-length.aiff", aiff(good, announced_frames=0)
    yield "no-frames.flac", flac_without_frames(100000)
    yield "no-channels.wav", wav(good, channels=0)
    yield "rate-zero.wav", wav(good, rate_hz=0)
    yield "compressed-mu-law.wav", wav(good, tag=7, bits=8)
    yield "picture.png", png()
    yield "notes.wav", b"as found, bay 2\nspun twice, the tach was dirty\n"
    yield "first-four-bytes.wav", b"RIFF"
    yield "nan-in-sensor.wav", with_sample(np.nan, 0)
    yield "infinity-in-sensor.wav", with_sample(np.inf, 0)
    yield "nan-in-tach.wav", with_sample(np.nan, 1)
    yield "tach-never-pulses.wav", wav(spin(tach=False))
    yield "tach-pulses-once.wav", wav(one_pulse())
    yield "tach-is-noise.wav", wav(noisy_tach())
    yield "text-in-number-column.csv", changed(table, 12, "0.002500,broken,0.000")
    yield "number-with-a-tail.csv", changed(table, 12, "0.002500,1.5volts,0.000")
    yield "empty-cell.csv", changed(table, 12, "0.002500,,0.000")
    yield "row-too-short.csv", changed(table, 12, "0.002500,1.5")
    yield "row-too-long.csv", changed(table, 12, "0.002500,1.5,0.000,7")
    yield "decimal-comma-between-commas.csv", changed(table, 2, "0,000000,1,08060,0,000")
    yield "double-separator.csv", changed(table, 12, "0.002500,,1.5,0.000")
    yield "double-separator-in-header.csv", changed(table, 1, "time (s),,tach (V)")
    yield "unclosed-quote.csv", changed(table, 12, '0.002500,"1.5,0.000')
    yield "unclosed-quote-in-header.csv", changed(table, 1, 'time (s),"accel (g),tach (V)')
    yield "time-jumps.csv", changed(later(late, 22, 1e-4), 21, "0.004850,1.5,0.000")
    yield "time-goes-back.csv", changed(table, 21, "0.001000,1.5,0.000")
    yield "time-stands-still.csv", changed(table, 21, "0.004500,1.5,0.000")
    yield "time-is-nan.csv", changed(table, 21, "nan,1.5,0.000")
    yield "time-in-metres.csv", changed(table, 1, "time (m),accel (g),tach (V)")
    yield "sensor-in-ohms.csv", changed(csv(rows=FRAMES), 1, "time (s),accel (Ohm),tach (V)")
    yield "no-time-column.csv", changed(table, 1, "row,accel (g),tach (V)")
    yield "header-only.csv", changed(table[:1], 1, table[0])
    yield "comments-only.csv", b"# Marrow Creek Shaftworks\n# bay 2\n\n"
    yield "single-row.csv", changed(table[:2], 1, table[0])
    yield "two-columns-one-name.csv", changed(table, 1, "time (s),accel (g),accel (V)")
    yield "utf-16-cut.csv", b"\xff\xfe" + "\n".join(table).encode("utf-16-le") + b"\x30"


if __name__ == "__main__":
    FOLDER.mkdir(parents=True, exist_ok=True)
    for name, data in broken():
        (FOLDER / name).write_bytes(data)
