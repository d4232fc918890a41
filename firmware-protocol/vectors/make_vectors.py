#!/usr/bin/env python3
"""Writes valid.json and malformed.json from SPEC.md with Python's struct module, independently of the code in ../src.

Not needed to build or test: run it by hand when the protocol changes, and read the difference.
"""
import json
import pathlib
import struct

HERE = pathlib.Path(__file__).parent


def crc32c(data):
    """Bit by bit, as the definition says; no table, so that it shares nothing with the code under test."""
    crc = 0xFFFFFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ (0x82F63B78 if crc & 1 else 0)
    return crc ^ 0xFFFFFFFF


assert crc32c(b"123456789") == 0xE3069283


def head(kind, magic=0x5041, version=1):
    return struct.pack("<HBB", magic, version, kind)


def hello(boot=7, rate=200_000, accel=4_788_550, gyro=1_065_297, channels=3, device=b"pelvis-01", token=b"", reserved=0,
          device_bytes=None):
    lengths = (channels, len(device) if device_bytes is None else device_bytes, len(token), reserved)
    return head(1) + struct.pack("<IIIIBBBB", boot, rate, accel, gyro, *lengths) + device + token


def samples(boot=7, first=40, oldest=8, tick=1_200_000, interval=5000, counts=((1, -2, 2048, 3, -4, 5),), count=None,
            reserved=0):
    body = head(3) + struct.pack("<IIIQIHH", boot, first, oldest, tick, interval, len(counts) if count is None else count,
                                 reserved)
    body += b"".join(struct.pack("<6h", *row) for row in counts)
    return body + struct.pack("<I", crc32c(body))


def status(boot=7, tick=5_000_000, battery=81, reserved=0, temperature=3150, held=16, capacity=24_000, dropped=0):
    return head(5) + struct.pack("<IQBBhIII", boot, tick, battery, reserved, temperature, held, capacity, dropped)


def error(code=9, text="damaged".encode(), text_bytes=None):
    return head(8) + struct.pack("<HH", code, len(text) if text_bytes is None else text_bytes) + text


T1 = 1_780_000_000_123_456
BIG = 2**53 - 1
ROWS = ((0, 0, 2048, 0, 0, 0), (32767, -32768, 1, -1, 12345, -12345), (-100, 200, -300, 400, -500, 600))

valid = [
    ("hello without a token", hello(), dict(type="hello", bootId=7, rateMilliHz=200_000, accelScale=4_788_550,
                                            gyroScale=1_065_297, deviceId="pelvis-01", token="")),
    ("hello at every upper limit", hello(2**32 - 1, 2_000_000, 100_000_000, 20_000_000, 3, b"Z" * 64, bytes(range(64))),
     dict(type="hello", bootId=2**32 - 1, rateMilliHz=2_000_000, accelScale=100_000_000, gyroScale=20_000_000,
          deviceId="Z" * 64, token=bytes(range(64)).hex())),
    ("hello at every lower limit", hello(0, 1000, 4_788_550, 1_065_297, 3, b"a"),
     dict(type="hello", bootId=0, rateMilliHz=1000, accelScale=4_788_550, gyroScale=1_065_297, deviceId="a", token="")),
    ("welcome to a new stream", head(2) + struct.pack("<II", 7, 0), dict(type="welcome", bootId=7, nextSequence=0)),
    ("welcome in the middle", head(2) + struct.pack("<II", 7, 123_456), dict(type="welcome", bootId=7, nextSequence=123_456)),
    ("one sample", samples(), dict(type="samples", bootId=7, firstSequence=40, oldestSequence=8, firstTickUs=1_200_000,
                                   intervalUs=5000, count=1, counts=[[1, -2, 2048, 3, -4, 5]])),
    ("three samples with the extremes of int16", samples(1, 0, 0, 2**32 + 5, 10_000, ROWS),
     dict(type="samples", bootId=1, firstSequence=0, oldestSequence=0, firstTickUs=2**32 + 5, intervalUs=10_000, count=3,
          counts=[list(row) for row in ROWS])),
    ("as many samples as fit", samples(1, 200, 200, 1_000_000, 500, ((1, 2, 3, 4, 5, 6),) * 200),
     dict(type="samples", bootId=1, firstSequence=200, oldestSequence=200, firstTickUs=1_000_000, intervalUs=500, count=200,
          counts=[[1, 2, 3, 4, 5, 6]] * 200)),
    ("the last sequence and the last tick", samples(1, 2**32 - 2, 2**32 - 2, BIG, 1_000_000),
     dict(type="samples", bootId=1, firstSequence=2**32 - 2, oldestSequence=2**32 - 2, firstTickUs=BIG, intervalUs=1_000_000,
          count=1, counts=[[1, -2, 2048, 3, -4, 5]])),
    ("acknowledgement", head(4) + struct.pack("<II", 7, 48), dict(type="acknowledgement", bootId=7, nextSequence=48)),
    ("status", status(), dict(type="status", bootId=7, tickUs=5_000_000, batteryPercent=81, temperatureCentiC=3150,
                              bufferedSamples=16, bufferCapacity=24_000, droppedSamples=0)),
    ("status of a device that knows little", status(battery=255, temperature=-32768, held=0, capacity=1, dropped=2**32 - 1),
     dict(type="status", bootId=7, tickUs=5_000_000, batteryPercent=255, temperatureCentiC=-32768, bufferedSamples=0,
          bufferCapacity=1, droppedSamples=2**32 - 1)),
    ("status in the cold", status(battery=0, temperature=-4000),
     dict(type="status", bootId=7, tickUs=5_000_000, batteryPercent=0, temperatureCentiC=-4000, bufferedSamples=16,
          bufferCapacity=24_000, droppedSamples=0)),
    ("time request", head(6) + struct.pack("<IQ", 3, T1), dict(type="timeRequest", exchangeId=3, serverUtcUs=T1)),
    ("time response", head(7) + struct.pack("<IQQQ", 3, T1, 6_000_100, 6_000_350),
     dict(type="timeResponse", exchangeId=3, serverUtcUs=T1, receiveTickUs=6_000_100, transmitTickUs=6_000_350)),
    ("error", error(), dict(type="error", code=9, text="damaged")),
    ("error with the longest text, in two-byte letters", error(999, ("ä" * 256).encode()),
     dict(type="error", code=999, text="ä" * 256)),
    ("error without text", error(1, b""), dict(type="error", code=1, text="")),
    ("goodbye", head(9) + struct.pack("<IB", 7, 1), dict(type="goodbye", bootId=7, reason=1)),
]

damaged = bytearray(samples())
damaged[33] ^= 0x01
wrong_sequence = bytearray(samples())
wrong_sequence[8] ^= 0x80
malformed = [
    ("nothing at all", b"", "too-short"),
    ("half a header", head(1)[:3], "too-short"),
    ("other bytes in front", head(4, magic=0x4150) + struct.pack("<II", 7, 48), "bad-magic"),
    ("the version after this one", head(4, version=2) + struct.pack("<II", 7, 48), "unsupported-version"),
    ("version 0", head(4, version=0) + struct.pack("<II", 7, 48), "unsupported-version"),
    ("type 0", head(0), "unknown-type"),
    ("the first type not given out", head(10), "unknown-type"),
    ("type 255", head(255) + bytes(8), "unknown-type"),
    ("hello cut in its fixed part", hello()[:20], "too-short"),
    ("hello cut in the device id", hello()[:-1], "wrong-length"),
    ("hello with a byte too many", hello() + b"\0", "wrong-length"),
    ("hello without a device id", hello(device=b""), "out-of-range"),
    ("hello that promises a longer id", hello(device_bytes=65), "out-of-range"),
    ("hello with a space in the id", hello(device=b"pelvis 01"), "bad-device-id"),
    ("hello with a letter beyond ASCII", hello(device="pélvis".encode()), "bad-device-id"),
    ("hello with bytes that are no text", hello(device=b"\xff\xfe"), "bad-device-id"),
    ("hello with a rate of 0", hello(rate=0), "out-of-range"),
    ("hello just below the lowest rate", hello(rate=999), "out-of-range"),
    ("hello just above the highest rate", hello(rate=2_000_001), "out-of-range"),
    ("hello of an accelerometer just short of 16 g", hello(accel=4_788_549), "out-of-range"),
    ("hello of too coarse an accelerometer", hello(accel=100_000_001), "out-of-range"),
    ("hello of a gyroscope just short of 2000 deg/s", hello(gyro=1_065_296), "out-of-range"),
    ("hello of too coarse a gyroscope", hello(gyro=20_000_001), "out-of-range"),
    ("hello without a gyroscope", hello(channels=1), "out-of-range"),
    ("hello with a channel of the future", hello(channels=7), "out-of-range"),
    ("hello with a reserved bit", hello(reserved=1), "out-of-range"),
    ("welcome cut short", (head(2) + struct.pack("<II", 7, 0))[:-1], "too-short"),
    ("welcome with a byte too many", head(2) + struct.pack("<II", 7, 0) + b"\0", "wrong-length"),
    ("samples cut in the payload", samples(counts=ROWS)[:-7], "wrong-length"),
    ("samples without the check", samples()[:-4], "wrong-length"),
    ("samples with a damaged payload", bytes(damaged), "crc-mismatch"),
    ("samples with a damaged sequence", bytes(wrong_sequence), "crc-mismatch"),
    ("no samples", samples(counts=()), "out-of-range"),
    ("one sample too many", samples(counts=((0,) * 6,) * 201), "out-of-range"),
    ("samples closer than 0.5 ms", samples(interval=499), "out-of-range"),
    ("samples more than a second apart", samples(interval=1_000_001), "out-of-range"),
    ("samples at a tick beyond 2^53 - 1", samples(tick=2**53), "out-of-range"),
    ("samples with the reserved field set", samples(reserved=1), "out-of-range"),
    ("samples that reach the last number", samples(first=2**32 - 1, oldest=0), "out-of-range"),
    ("the oldest sample after the first", samples(first=40, oldest=41), "out-of-range"),
    ("acknowledgement cut short", (head(4) + struct.pack("<II", 7, 48))[:9], "too-short"),
    ("status cut short", status()[:-1], "too-short"),
    ("status of 101 percent", status(battery=101), "out-of-range"),
    ("status of 254 percent", status(battery=254), "out-of-range"),
    ("status colder than the sensor can be", status(temperature=-4001), "out-of-range"),
    ("status hotter than the sensor can be", status(temperature=12501), "out-of-range"),
    ("status without a buffer", status(capacity=0), "out-of-range"),
    ("status with the reserved field set", status(reserved=255), "out-of-range"),
    ("time request cut short", (head(6) + struct.pack("<IQ", 3, T1))[:-8], "too-short"),
    ("time response with a tick beyond 2^53 - 1", head(7) + struct.pack("<IQQQ", 3, T1, 2**64 - 1, 0), "out-of-range"),
    ("error 0", error(0), "out-of-range"),
    ("error 1000", error(1000), "out-of-range"),
    ("error that promises more text", error(text_bytes=8), "wrong-length"),
    ("error with half a letter", error(text="ä".encode()[:1]), "bad-text"),
    ("error with too long a text", error(text=b"x" * 513), "out-of-range"),
    ("goodbye for a reason not given out", head(9) + struct.pack("<IB", 7, 4), "out-of-range"),
    ("a frame beyond the limit", head(4) + bytes(4093), "too-long"),
]


def write(name, rows):
    lines = ",\n".join("  " + json.dumps(row, ensure_ascii=False) for row in rows)
    (HERE / name).write_text(f"[\n{lines}\n]\n", encoding="utf-8")


write("valid.json", [dict(name=name, hex=frame.hex(), decoded=decoded) for name, frame, decoded in valid])
write("malformed.json", [dict(name=name, hex=frame.hex(), error=code) for name, frame, code in malformed])
