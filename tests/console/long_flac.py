"""A FLAC of silence (RFC 9639) that unpacks to a million times its size: constant subframes, 65535 samples in each frame."""
import struct

BLOCK = 65535


def crc(content, bits, polynomial):
    value = 0
    for byte in content:
        value ^= byte << (bits - 8)
        for _ in range(8):
            value = (value << 1 ^ polynomial if value >> (bits - 1) else value << 1) & ((1 << bits) - 1)
    return value.to_bytes(bits // 8, "big")


def number(value):
    """Of a frame, coded as section 9.1.5 says: as UTF-8 codes a character."""
    if value < 0x80:
        return bytes([value])
    more = []
    while value >= 0x40 >> len(more):
        more.insert(0, 0x80 | value & 0x3F)
        value >>= 6
    return bytes([(0xFF00 >> (len(more) + 1)) & 0xFF | value, *more])


def long_flac(hours, rate_hz=51200, channels=3, announced=True):
    """@param announced: whether its head says how long it is"""
    frames = round(hours * 3600 * rate_hz / BLOCK)
    total = frames * BLOCK if announced else 0
    stream = struct.pack(">HH3s3s", BLOCK, BLOCK, b"", b"") + (rate_hz << 44 | (channels - 1) << 41 | 15 << 36 | total).to_bytes(8, "big")
    content = [b"fLaC", bytes([0x80, 0, 0, 34]), stream, bytes(16)]
    subframes = channels * bytes(3)  # constant, zero, in 16 bits
    for each in range(frames):
        head = bytes([0xFF, 0xF8, 0x70, (channels - 1) << 4 | 8]) + number(each) + struct.pack(">H", BLOCK - 1)
        frame = head + crc(head, 8, 0x07) + subframes
        content.append(frame + crc(frame, 16, 0x8005))
    return b"".join(content)
