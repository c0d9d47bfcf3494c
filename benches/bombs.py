#!/usr/bin/env python3
"""Small files that claim or unfold to huge pictures, in every format: what the program says, its time and its peak memory.

usage: bombs.py [CATCHCUP]        (after cargo build --release; Linux or macOS, nothing beyond Python 3 needed)

Time is the processor's (both cores added), so that a busy machine does not change it; memory is the process's peak. Files
of HEVC data can't be written here: the HEIC files are the small one of the tests with other sizes in their headers, and one
of a black picture where heif-enc (libheif) is at hand. Fails when a file takes more than MOST_S or MOST_MB, or a crash.
"""
import json
import os
import shutil
import struct
import subprocess
import sys
import tempfile
import zlib
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
MOST_S = 20.0    # processor time; a true photo of 100 megapixels takes about as long as the worst of these
MOST_MB = 1500


# PNG (ISO/IEC 15948)

def chunk(name, content):
    return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))


def zeros_packed(count):
    packer = zlib.compressobj(9)
    block, parts = bytes(1 << 20), []
    while count:
        parts.append(packer.compress(block[: min(count, len(block))]))
        count -= min(count, len(block))
    return b"".join(parts) + packer.flush()


def png(width, height, bits=8, colour=2, data=None, extra=b""):
    channels = {2: 3, 6: 4, 0: 1}[colour]
    if data is None:
        data = zeros_packed(height * (1 + width * channels * bits // 8))
    head = struct.pack(">IIBBBBB", width, height, bits, colour, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + extra + chunk(b"IDAT", data) + chunk(b"IEND", b"")


# TIFF 6.0: every strip of the picture is the same few packed bytes.

def tiff(width, height, bits=8, strips=None, rows=None):
    rows = rows or max(1, (1 << 20) // (width * 3 * bits // 8))
    count = -(-height // rows) if strips is None else strips
    strip = zlib.compress(bytes(rows * width * 3 * bits // 8), 9)
    entries = [
        (256, 4, 1, width), (257, 4, 1, height), (258, 3, 3, None), (259, 3, 1, 8), (262, 3, 1, 2),
        (273, 4, count, None), (277, 3, 1, 3), (278, 4, 1, rows), (279, 4, count, None),
    ]
    if bits == 32:
        entries.append((339, 3, 3, None))
    at = 8 + 2 + 12 * len(entries) + 4
    behind = struct.pack("<3H", bits, bits, bits) + bytes(2) + struct.pack("<3H", 3, 3, 3) + bytes(2)
    place = at + len(behind) + 8 * count
    behind += struct.pack(f"<{count}I", *[place] * count) + struct.pack(f"<{count}I", *[len(strip)] * count)
    where = {258: at, 339: at + 8, 273: at + 16, 279: at + 16 + 4 * count}
    table = b"".join(struct.pack("<HHII", tag, kind, n, where.get(tag, 0) if value is None else value)
                     for tag, kind, n, value in entries)
    return b"II*\0\x08\0\0\0" + struct.pack("<H", len(entries)) + table + bytes(4) + behind + strip


def tiff_text(length):
    """A small TIFF file with a camera's name of that many zeros."""
    file = bytearray(tiff(300, 300))
    at = 10 + 12 * 4     # in place of the entry for the photometric meaning, which the decoder misses only later
    file[at:at + 12] = struct.pack("<HHII", 271, 2, length, len(file))
    return bytes(file) + bytes(length)


# WebP, lossless: five codes of one symbol each, so that pixels take no bits at all.

class Bits:
    def __init__(self):
        self.value, self.count = 0, 0

    def put(self, value, count):
        self.value |= value << self.count
        self.count += count

    def bytes(self):
        return self.value.to_bytes(-(-self.count // 8), "little")


def webp(width, height):
    bits = Bits()
    bits.put(0x2F, 8)
    bits.put(width - 1, 14)
    bits.put(height - 1, 14)
    bits.put(0, 4)           # no alpha, version 0
    bits.put(0, 3)           # no transform, no cache, one set of codes
    for symbol in (0x80, 0x80, 0x80, 0x80, 0):
        bits.put(1, 1)       # simple code
        bits.put(0, 1)       # of one symbol
        bits.put(1, 1)       # of eight bits
        bits.put(symbol, 8)
    data = bits.bytes() + bytes(8)
    data += bytes(len(data) % 2)
    body = b"WEBPVP8L" + struct.pack("<I", len(data)) + data
    return b"RIFF" + struct.pack("<I", len(body)) + body


# JPEG [ITU-T81]: a code of one bit each for "no change" and "nothing more in this block".

def segment(marker, content):
    return bytes([0xFF, marker]) + struct.pack(">H", len(content) + 2) + content


def jpeg_again(width, height, scans):
    """The same sequential scan of a grey picture `scans` times over."""
    file = jpeg(width, height)
    at = file.index(b"\xff\xda")
    return file[:at] + file[at:-2] * scans + file[-2:]


def jpeg(width, height, scans=0):
    """A grey picture in three components: one sequential scan, or a progressive one and `scans` that refine nothing."""
    table = bytes([1] + [0] * 15)
    units = -(-width // 16) * -(-height // 16)
    frame = struct.pack(">BHHB", 8, height, width, 3) + bytes([1, 0x22, 0, 2, 0x11, 0, 3, 0x11, 0])
    file = b"\xff\xd8" + segment(0xDB, bytes([0]) + bytes([1] * 64))
    file += segment(0xC2 if scans else 0xC0, frame)
    file += segment(0xC4, bytes([0]) + table + b"\0") + segment(0xC4, bytes([0x10]) + table + b"\0")
    if not scans:
        # Six blocks a unit, two bits a block.
        coded = bytes(-(-units * 12 // 8))
        return file + segment(0xDA, bytes([3, 1, 0, 2, 0, 3, 0, 0, 63, 0])) + coded + b"\xff\xd9"
    file += segment(0xDA, bytes([3, 1, 0, 2, 0, 3, 0, 0, 0, 0])) + bytes(-(-units * 6 // 8))
    blocks = {1: -(-width // 8) * -(-height // 8), 2: units, 3: units}
    for number in range(scans):
        component = number % 3 + 1
        coded = bytes(-(-blocks[component] // 8))
        file += segment(0xDA, bytes([1, component, 0, 1, 63, 0])) + coded
    return file + b"\xff\xd9"


# HEIC: sizes in the headers of a small file.

def heic(width, height):
    file = (ROOT / "tests/data/formats/small.heic").read_bytes()
    at = file.index(b"ispe") + 8
    return file[:at] + struct.pack(">II", width, height) + file[at + 8:]


def heic_black(side, folder):
    if not shutil.which("heif-enc"):
        return None
    source, out = folder / "black.png", folder / "black.heic"
    source.write_bytes(png(side, side))
    subprocess.run(["heif-enc", "-q", "10", str(source), "-o", str(out)], check=True, capture_output=True)
    return out.read_bytes()


def files(folder):
    text = chunk(b"zTXt", b"a\0\0" + zeros_packed(1 << 30))
    profile = chunk(b"iCCP", b"a\0\0" + zeros_packed(1 << 30))
    yield "PNG, header of 60000 x 60000", png(60000, 60000, data=b"")
    yield "PNG, 10000 x 10000, one colour", png(10000, 10000)
    yield "PNG, 10000 x 10000, 16 bits and alpha", png(10000, 10000, 16, 6)
    yield "PNG, 300 x 300, a text of 1 GB", png(300, 300, extra=text)
    yield "PNG, 300 x 300, a profile of 1 GB", png(300, 300, extra=profile)
    yield "TIFF, header of 60000 x 60000", tiff(60000, 60000, strips=1, rows=1)
    yield "TIFF, 10000 x 10000, each strip the same bytes", tiff(10000, 10000)
    yield "TIFF, 10000 x 10000, 32 bits", tiff(10000, 10000, 32)
    yield "TIFF, 300 x 300, four billion rows a strip", tiff(300, 300, rows=300).replace(
        struct.pack("<HHII", 278, 4, 1, 300), struct.pack("<HHII", 278, 4, 1, 2**32 - 1))
    yield "TIFF, a camera's name of 60 million zeros", tiff_text(60_000_000)
    yield "WebP, 16383 x 16383, no bits a pixel", webp(16383, 16383)
    yield "WebP, 10000 x 10000, no bits a pixel", webp(10000, 10000)
    yield "JPEG, header of 65535 x 65535", jpeg(320, 320).replace(
        struct.pack(">HH", 320, 320), struct.pack(">HH", 65535, 65535))
    yield "JPEG, 10000 x 10000, two bits a block", jpeg(10000, 10000)
    yield "JPEG, 4000 x 4000 in 61 scans", jpeg(4000, 4000, scans=60)
    yield "JPEG, 4000 x 4000 in 1001 scans", jpeg(4000, 4000, scans=1000)
    yield "JPEG, 10000 x 10000 in 12 scans", jpeg(10000, 10000, scans=11)
    yield "JPEG, 4000 x 4000, the same sequential scan 500 times", jpeg_again(4000, 4000, 500)
    yield "HEIC, header of 60000 x 60000", heic(60000, 60000)
    yield "HEIC, header of 10000 x 10000, data of 32 x 32", heic(10000, 10000)
    yield "HEIC, 6000 x 6000, one colour", heic_black(6000, folder)


def measured(program, path):
    """What the program answers, processor seconds, peak megabytes, and the exit code."""
    child = subprocess.Popen([program, "grade", "--json", str(path)], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    text = child.stdout.read()
    _, status, used = os.wait4(child.pid, 0)
    code = os.waitstatus_to_exitcode(status)
    answer = json.loads(text) if text.strip() else {}
    if "error" in answer:
        said = answer["error"]["code"]
    elif "verdict" in answer:
        said = "read, " + answer["verdict"]
    else:
        said = "nothing"
    peak = used.ru_maxrss / (1 << 20 if sys.platform == "darwin" else 1 << 10)
    return said, used.ru_utime + used.ru_stime, peak, code


def main():
    program = sys.argv[1] if len(sys.argv) > 1 else str(ROOT / "target/release/catchcup")
    failed = False
    print("| file | bytes | answer | s | MB |\n|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        for name, content in files(folder):
            if content is None:
                print(f"| {name} | | heif-enc is not installed | | |")
                continue
            path = folder / "bomb"
            path.write_bytes(content)
            # The peak of a child counts what its parent held when it was started.
            length = len(content)
            del content
            said, seconds, peak, code = measured(program, path)
            bad = seconds > MOST_S or peak > MOST_MB or code not in (0, 1) or said == "nothing"
            failed |= bad
            print(f"| {name} | {length} | {said}{' FAILED' if bad else ''} | {seconds:.2f} | {peak:.0f} |", flush=True)
    sys.exit(failed)


if __name__ == "__main__":
    main()
