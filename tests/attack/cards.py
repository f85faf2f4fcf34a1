"""Cards that no camera wrote: small files whose Exif holds a stamp, and pictures that declare gigabytes."""

import datetime
import pathlib
import random
import struct
import zlib

FIRST = datetime.datetime(2026, 1, 1)


def frame(seconds, number):
    """A JPEG of one grey block whose stamp is so many seconds after the first of the year."""
    stamp = (FIRST + datetime.timedelta(seconds=seconds)).strftime("%Y:%m:%d %H:%M:%S").encode() + b"\0"
    inner = [(0x829A, 5, 1, (1, 125)), (0x829D, 5, 1, (8, 1)), (0x8827, 3, 1, 200), (0x9003, 2, 20, stamp)]
    at = 8 + 2 + 12 + 4
    room, body, entries = at + 2 + 12 * len(inner) + 4, b"", b""
    for tag, kind, count, value in inner:
        if isinstance(value, int):
            entries += struct.pack("<HHIHH", tag, kind, count, value, 0)
            continue
        entries += struct.pack("<HHII", tag, kind, count, room + len(body))
        body += value if isinstance(value, bytes) else struct.pack("<II", *value)
    tiff = b"II*\0" + struct.pack("<I", 8) + struct.pack("<HHHIII", 1, 0x8769, 4, 1, at, 0)
    tiff += struct.pack("<H", len(inner)) + entries + b"\0\0\0\0" + body
    exif = b"Exif\0\0" + tiff
    table = b"\xff\xdb\0\x43\0" + b"\1" * 64
    size = b"\xff\xc0\0\x0b\x08\0\x08\0\x08\1\1\x11\0"
    codes = b"\xff\xc4\0\x14\0\1" + b"\0" * 15 + b"\0" + b"\xff\xc4\0\x14\x10\1" + b"\0" * 15 + b"\0"
    scan = b"\xff\xda\0\x08\1\1\0\0\x3f\0\x3f" + struct.pack(">I", number)
    return (
        b"\xff\xd8\xff\xe1"
        + struct.pack(">H", len(exif) + 2)
        + exif
        + table
        + size
        + codes
        + scan
        + b"\xff\xd9"
    )


def stamps(kind, count):
    """Seconds from the first stamp of so many frames."""
    chance, out, at = random.Random(7), [], 0
    if kind == "steady":
        return [5 * n for n in range(count)]
    if kind == "pairs":
        return [n // 2 * 9999 + n % 2 for n in range(count)]
    if kind == "random":
        return [chance.randrange(20 * count) for _ in range(count)]
    if kind == "sorted":
        return sorted(chance.randrange(20 * count) for _ in range(count))
    if kind == "equal":
        return [0] * count
    if kind == "descending":
        return [5 * (count - n) for n in range(count)]
    if kind == "tens":
        return [n // 10 * 10_007 + n % 10 for n in range(count)]
    while len(out) < count:
        if kind == "bursts of three":
            at += 1 if len(out) % 3 else 20 + chance.randrange(3000)
        elif kind == "holes of 9,998 slots":
            at += 1 if chance.random() < 0.95 else 9999
        else:
            at += chance.choice([1, 2, 1, 3, 2, 1, 5, 1]) + (40 if len(out) % 97 == 0 else 0)
        out.append(at)
    return out


def card(folder, seconds):
    """A folder of frames with these stamps."""
    folder = pathlib.Path(folder)
    folder.mkdir(parents=True)
    for n, at in enumerate(seconds):
        (folder / f"TRAP{n + 1:06}.JPG").write_bytes(frame(at, n))
    return folder


def chunk(name, data):
    """A chunk of a PNG."""
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def png(folder, width, height, more=b""):
    """A grey PNG of zeros, with more chunks behind its header."""
    packer, out = zlib.compressobj(9), []
    row = b"\0" * (width + 1)
    for _ in range(height):
        out.append(packer.compress(row))
    data = b"".join(out) + packer.flush()
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    path = pathlib.Path(folder, f"png-{width}-by-{height}{'-profile' if more else ''}.png")
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + more + chunk(b"IDAT", data) + chunk(b"IEND", b"")
    )
    return path


def profile(gigabytes):
    """A profile that unpacks to so much."""
    packer, block = zlib.compressobj(9), b"\0" * (1 << 20)
    data = b"".join(packer.compress(block) for _ in range(gigabytes << 10)) + packer.flush()
    return chunk(b"iCCP", b"p\0\0" + data)


def tiff(folder, width, height):
    """A TIFF in one strip of PackBits: each two bytes are 128 zeros."""
    data = b"\x81\0" * (width * height * 3 // 128 + 1)
    entries = [(0x100, 4, 1, width), (0x101, 4, 1, height), (0x103, 3, 1, 32773), (0x106, 3, 1, 2)]
    entries += [(0x111, 4, 1, 200), (0x115, 3, 1, 3), (0x116, 4, 1, height), (0x117, 4, 1, len(data))]
    bits = 8 + 2 + 12 * 9 + 4
    entries = sorted(entries + [(0x102, 3, 3, bits)])
    head = (
        b"II*\0" + struct.pack("<IH", 8, len(entries)) + b"".join(struct.pack("<HHII", *e) for e in entries)
    )
    head += b"\0\0\0\0" + struct.pack("<HHH", 8, 8, 8)
    path = pathlib.Path(folder, f"tiff-{width}-by-{height}.tif")
    path.write_bytes(head.ljust(200, b"\0") + data)
    return path
