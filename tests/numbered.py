"""A live source in which every sample is known from its number, and the reading of what was recorded of it.

usage: numbered.py PIPE RATE_HZ RPM [SECONDS]   writes in real time, 24-bit, four channels; prints when it began
"""
import os
import sys
import time

import numpy

BLOCK_S = 0.01
CHANNELS = 4


def samples(first, count, rate_hz, rpm):
    """Frames as integers of 24 bits: the frame's number, a scramble of it (Knuth's multiplicative hash), a tach, the scramble's opposite."""
    number = numpy.arange(first, first + count, dtype=numpy.int64)
    scramble = (number * 2654435761 >> 8) % (1 << 23) - (1 << 22)
    pulse = (number * rpm / (60.0 * rate_hz)) % 1.0 < 0.05
    return numpy.stack([number % (1 << 23), scramble, pulse * (1 << 22), -scramble], axis=1).astype("<i4")


def as_24_bits(frames):
    return frames.reshape(-1, 1).view("u1")[:, :3].tobytes()


def w64_samples(path):
    """The data chunk of a Wave64 file (Sony Pictures Digital, Wave64 specification): GUID, 64-bit size, samples."""
    with open(path, "rb") as file:
        content = file.read()
    at = content.index(b"data\xf3\xac\xd3\x11\x8c\xd1\x00\xc0\x4f\x8e\xdb\x8a")
    size = int.from_bytes(content[at + 16:at + 24], "little") - 24
    bytes_each = int.from_bytes(content[content.index(b"fmt ") + 38:][:2], "little") // 8
    data = numpy.frombuffer(content[at + 24:at + 24 + size], "u1").reshape(-1, bytes_each)
    wide = numpy.zeros((len(data), 4), "u1")
    wide[:, 4 - bytes_each:] = data
    return wide.view("<i4")[:, 0] >> (32 - 8 * bytes_each)


def feed(pipe, rate_hz, rpm, seconds):
    block = round(BLOCK_S * rate_hz)
    with open(pipe, "wb", buffering=0) as out:
        begin = time.monotonic()
        print(begin, flush=True)
        first, latest = 0, 0.0
        while first < seconds * rate_hz:
            first += block
            due = begin + first / rate_hz
            time.sleep(max(0.0, due - time.monotonic()))
            try:
                out.write(as_24_bits(samples(first - block, block, rate_hz, rpm)))
            except BrokenPipeError:  # whoever read has gone
                break
            latest = max(latest, time.monotonic() - due)
            if os.path.exists(pipe + ".end"):
                break
    print(latest, flush=True)


if __name__ == "__main__":
    feed(sys.argv[1], float(sys.argv[2]), float(sys.argv[3]), float(sys.argv[4]) if len(sys.argv) > 4 else 1e9)
