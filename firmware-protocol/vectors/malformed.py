"""One frame for every rule of SPEC.md that a single frame can break, each with the error it deserves."""
import zlib

from frames import MAKERS, acknowledgement, crc32c, error, head, hello, samples, status

ROWS = ((0, 0, 2048, 0, 0, 0), (32767, -32768, 1, -1, 12345, -12345), (-100, 200, -300, 400, -500, 600))
MAGN_ROWS = ((1, -2, 2048, 3, -4, 5, 133, -7, -280),)
TICK_TOO_FAR = 2**53

malformed = []


def bad(name, frame, code):
    malformed.append(dict(name=name, hex=frame.hex(), error=code))


def flipped(frame, byte, mask=0x01):
    changed = bytearray(frame)
    changed[byte] ^= mask
    return bytes(changed)


# Header.
bad("nothing at all", b"", "too-short")
bad("one byte", head(4)[:1], "too-short")
bad("half a header", head(1)[:3], "too-short")
bad("other bytes in front", head(4, magic=0x4150) + acknowledgement()[4:], "bad-magic")
bad("a wrong first byte", flipped(acknowledgement(), 0), "bad-magic")
bad("a wrong second byte", flipped(acknowledgement(), 1), "bad-magic")
bad("the version after this one", head(4, version=2) + acknowledgement()[4:], "unsupported-version")
bad("version 0", head(4, version=0) + acknowledgement()[4:], "unsupported-version")
bad("version 255", head(4, version=255) + acknowledgement()[4:], "unsupported-version")
bad("type 0", head(0), "unknown-type")
bad("the first type not given out", head(10), "unknown-type")
bad("type 255", head(255) + bytes(8), "unknown-type")
bad("a frame beyond the limit", head(4) + bytes(4093), "too-long")
bad("samples beyond the limit of any frame", samples(counts=((0,) * 9,) * 226), "too-long")

# Every frame: nothing but its header, cut at the end of its fixed part, and a byte too many.
FIXED_BYTES = dict(hello=28, welcome=12, samples=32, acknowledgement=12, status=32, timeRequest=16, timeResponse=32, error=8,
                   goodbye=9)
for kind, maker in MAKERS.items():
    frame = maker()
    bad(f"{kind} with nothing but its header", frame[:4], "too-short")
    bad(f"{kind} cut in its fixed part", frame[:FIXED_BYTES[kind] - 1], "too-short")
    bad(f"{kind} with a byte too many", frame + b"\0", "wrong-length")

# Lengths and counts that do not fit the bytes.
bad("hello cut in the device id", hello()[:-1], "wrong-length")
bad("hello cut in the token", hello(token=bytes(16))[:-1], "wrong-length")
bad("hello that promises a longer token", hello(token=bytes(16), tokenBytes=17), "wrong-length")
bad("hello that promises a shorter token", hello(token=bytes(16), tokenBytes=15), "wrong-length")
bad("samples cut in the payload", samples(counts=ROWS)[:-7], "wrong-length")
bad("samples without the check", samples()[:-4], "wrong-length")
bad("samples that promise one more", samples(count=2), "wrong-length")
bad("samples that promise one less", samples(counts=ROWS, count=2), "wrong-length")
bad("samples that promise a magnetometer", samples(channels=7), "wrong-length")
bad("samples with a magnetometer nobody promised", samples(counts=MAGN_ROWS, channels=3), "wrong-length")
bad("samples with a magnetometer cut in the payload", samples(counts=MAGN_ROWS)[:-6], "wrong-length")
bad("error that promises more text", error(textBytes=8), "wrong-length")
bad("error that promises less text", error(textBytes=6), "wrong-length")

# Every field with a range narrower than its type, one step outside on each side.
RANGES = [
    ("hello", "rateMilliHz", 1000, 2_000_000),
    ("hello", "accelScale", 4_788_550, 100_000_000),
    ("hello", "gyroScale", 1_065_297, 20_000_000),
    ("samples", "intervalUs", 500, 1_000_000),
    ("status", "batteryPercent", 0, 100),
    ("status", "temperatureCentiC", -4000, 12500),
    ("status", "bufferCapacity", 1, None),
    ("error", "code", 1, 999),
    ("goodbye", "reason", 0, 3),
]
for kind, field, least, most in RANGES:
    if least != 0:
        bad(f"{kind} with {field} just below its range", MAKERS[kind](**{field: least - 1}), "out-of-range")
    if most is not None:
        bad(f"{kind} with {field} just above its range", MAKERS[kind](**{field: most + 1}), "out-of-range")
bad("hello without a device id", hello(device=b""), "out-of-range")
bad("hello with too long a device id", hello(device=b"a" * 65), "out-of-range")
bad("hello with too long a token", hello(token=bytes(65)), "out-of-range")
bad("hello with a rate of 0", hello(rateMilliHz=0), "out-of-range")
bad("hello with a scale that reads as negative", hello(accelScale=2**32 - 1), "out-of-range")
bad("no samples", samples(counts=()), "out-of-range")
bad("one sample too many", samples(counts=((0,) * 6,) * 201), "out-of-range")
bad("one sample with a magnetometer too many", samples(counts=((0,) * 9,) * 201), "out-of-range")
bad("status of 254 percent", status(batteryPercent=254), "out-of-range")
bad("status just above the least temperature of all", status(temperatureCentiC=-32767), "out-of-range")
bad("error with too long a text", error(text=b"x" * 513), "out-of-range")
bad("error that promises the longest text there is", error(textBytes=65535), "out-of-range")
for kind in ("hello", "samples", "status"):
    bad(f"{kind} with the reserved field set", MAKERS[kind](reserved=1), "out-of-range")
    bad(f"{kind} with the reserved field full", MAKERS[kind](reserved=255), "out-of-range")

# Channels, and the scale that goes with them.
for channels in (0, 1, 2, 4, 5, 6, 8, 11, 15, 255):
    bad(f"hello with channels {channels}", hello(channels=channels, magnScale=150 if channels & 4 else 0), "out-of-range")
    bad(f"samples with channels {channels}", samples(channels=channels), "out-of-range")
bad("hello with magnScale just below its range", hello(magnScale=12), "out-of-range")
bad("hello with magnScale just above its range", hello(magnScale=1001), "out-of-range")
bad("hello with a magnetometer without a scale", hello(channels=7, magnScale=0), "out-of-range")
bad("hello with a scale without a magnetometer", hello(channels=3, magnScale=150), "out-of-range")

# Every u64 beyond 2^53 - 1.
for kind, field in (("samples", "firstTickUs"), ("status", "tickUs"), ("timeRequest", "serverUtcUs"),
                    ("timeResponse", "serverUtcUs"), ("timeResponse", "receiveTickUs"), ("timeResponse", "transmitTickUs")):
    for value, words in ((TICK_TOO_FAR, "just beyond 2^53 - 1"), (2**64 - 1, "at 2^64 - 1")):
        bad(f"{kind} with {field} {words}", MAKERS[kind](**{field: value}), "out-of-range")

# Rules between fields.
bad("samples that reach the last number", samples(firstSequence=2**32 - 1, oldestSequence=0), "out-of-range")
bad("samples whose last reaches the last number", samples(firstSequence=2**32 - 3, counts=ROWS), "out-of-range")
bad("the oldest sample after the first", samples(firstSequence=40, oldestSequence=41), "out-of-range")

# Characters of the device id.
for name, device in (("a space", b"pelvis 01"), ("a slash", b"pelvis/01"), ("a zero byte", b"pelvis\0"),
                     ("a line feed at its end", b"pelvis\n"), ("a letter beyond ASCII", "pélvis".encode()),
                     ("bytes that are no text", b"\xff\xfe"), ("a colon", b"a:b"), ("a grave accent", b"a`b"), ("an at", b"a@b"),
                     ("a bracket", b"a[b"), ("a brace", b"a{b"), ("a comma", b"a,b")):
    bad(f"hello with {name} in the id", hello(device=device), "bad-device-id")

# The check, with damage in each part of the frame that leaves the frame otherwise good.
GOOD = samples(counts=ROWS)
for name, byte in (("boot", 4), ("sequence", 8), ("oldest sequence", 12), ("tick", 16), ("interval", 24), ("payload", 33),
                   ("last value", len(GOOD) - 5), ("check", len(GOOD) - 1)):
    bad(f"samples with a damaged {name}", flipped(GOOD, byte), "crc-mismatch")
bad("samples with a damaged magnetometer", flipped(samples(counts=MAGN_ROWS), 32 + 12), "crc-mismatch")
bad("samples with the check of plain CRC-32", GOOD[:-4] + zlib.crc32(GOOD[:-4]).to_bytes(4, "little"),
    "crc-mismatch")
bad("samples with the check the other way round", GOOD[:-4] + crc32c(GOOD[:-4]).to_bytes(4, "big"), "crc-mismatch")
bad("samples with a check of the payload alone", GOOD[:-4] + crc32c(GOOD[32:-4]).to_bytes(4, "little"), "crc-mismatch")

# Text that is not UTF-8 (RFC 3629: no overlong forms, no surrogates, nothing beyond U+10FFFF).
for name, text in (("half a letter", b"\xc3"), ("half a letter in the middle", b"a\xc3b"), ("a lone continuation", b"\x80"),
                   ("two thirds of a letter", b"\xe2\x82"), ("three quarters of a letter", b"\xf0\x9f\xa7"),
                   ("an overlong form of two bytes", b"\xc0\xaf"), ("an overlong form of three bytes", b"\xe0\x9f\xbf"),
                   ("an overlong form of four bytes", b"\xf0\x8f\xbf\xbf"), ("a surrogate", b"\xed\xa0\x80"),
                   ("a letter beyond the last", b"\xf4\x90\x80\x80"), ("a first byte there is not", b"\xff"),
                   ("Latin-1", "ä".encode("latin-1"))):
    bad(f"error with {name}", error(text=text), "bad-text")
