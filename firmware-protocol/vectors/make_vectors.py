#!/usr/bin/env python3
"""Writes valid.json and malformed.json. Not needed to build or test: run it by hand when the protocol changes, and read the
difference."""
import json
import pathlib

from frames import MAKERS, T1, TOKEN
from malformed import malformed

HERE = pathlib.Path(__file__).parent
U32, BIG = 2**32 - 1, 2**53 - 1
ONE = ((1, -2, 2048, 3, -4, 5),)
ROWS = ((0, 0, 2048, 0, 0, 0), (32767, -32768, 1, -1, 12345, -12345), (-100, 200, -300, 400, -500, 600))
MAGN_ROWS = ((1, -2, 2048, 3, -4, 5, 133, -7, -280), (2, -2, 2047, 3, -4, 4, 134, -7, -279))
EXTREMES = ((32767,) * 9, (-32768,) * 9, (0, 0, 0, 0, 0, 0, -32768, 32767, -1))

HELLO = dict(bootId=7, rateMilliHz=200_000, accelScale=4_788_550, gyroScale=1_065_297, magnScale=0)
STREAM = dict(bootId=7, firstSequence=40, oldestSequence=8, firstTickUs=1_200_000, intervalUs=5000)
STATUS = dict(bootId=7, tickUs=5_000_000, batteryPercent=81, temperatureCentiC=3150, bufferedSamples=16,
              bufferCapacity=24_000, droppedSamples=0)
TIMES = dict(exchangeId=3, serverUtcUs=T1, receiveTickUs=6_000_100, transmitTickUs=6_000_350)


def row(name, kind, **fields):
    """A vector: the frame, and what a decoder makes of it."""
    decoded = dict(type=kind, **fields)
    if kind == "hello":
        device, token = decoded.pop("deviceId", "pelvis-01"), decoded.pop("token", b"")
        frame = MAKERS[kind](device=device.encode(), token=token, **{k: v for k, v in decoded.items() if k != "type"})
        decoded.update(channels=7 if decoded["magnScale"] else 3, deviceId=device, token=token.hex())
    elif kind == "samples":
        counts = decoded["counts"]
        frame = MAKERS[kind](**fields)
        decoded.update(count=len(counts), channels=7 if len(counts[0]) == 9 else 3, counts=[list(each) for each in counts])
    elif kind == "error":
        frame = MAKERS[kind](fields["code"], fields["text"].encode())
    else:
        frame = MAKERS[kind](**fields)
    return dict(name=name, hex=frame.hex(), decoded=decoded)


valid = [
    row("hello with a token", "hello", **HELLO, token=TOKEN),
    row("hello without a token", "hello", **HELLO),
    row("hello with a magnetometer", "hello", **{**HELLO, "magnScale": 150}, token=TOKEN),
    row("hello after a reboot", "hello", **{**HELLO, "bootId": 8}, token=TOKEN),
    row("hello of a sternum sensor with a 32-byte token", "hello", **HELLO, deviceId="sternum-01", token=TOKEN * 2),
    row("hello at every upper limit", "hello", bootId=U32, rateMilliHz=2_000_000, accelScale=100_000_000,
        gyroScale=20_000_000, magnScale=1000, deviceId="Z" * 64, token=bytes(range(64))),
    row("hello at every lower limit", "hello", bootId=0, rateMilliHz=1000, accelScale=4_788_550, gyroScale=1_065_297,
        magnScale=13, deviceId="a"),
    row("hello with a token of zeros, the shortest that is given out", "hello", **HELLO, token=bytes(16)),
    row("hello with every character of an id", "hello", **HELLO,
        deviceId="ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789._"),
    row("hello with a hyphen for an id", "hello", **HELLO, deviceId="-"),
    row("welcome to a new stream", "welcome", bootId=7, nextSequence=0),
    row("welcome in the middle", "welcome", bootId=7, nextSequence=123_456),
    row("welcome after a reboot", "welcome", bootId=8, nextSequence=0),
    row("welcome at the upper limits", "welcome", bootId=U32, nextSequence=U32),
    row("welcome to boot 0", "welcome", bootId=0, nextSequence=1),
    row("one sample", "samples", **STREAM, counts=ONE),
    row("three samples with the extremes of int16", "samples", bootId=1, firstSequence=0, oldestSequence=0,
        firstTickUs=2**32 + 5, intervalUs=10_000, counts=ROWS),
    row("as many samples as fit", "samples", bootId=1, firstSequence=200, oldestSequence=200, firstTickUs=1_000_000,
        intervalUs=500, counts=((1, 2, 3, 4, 5, 6),) * 200),
    row("the last sequence and the last tick", "samples", bootId=1, firstSequence=U32 - 1, oldestSequence=U32 - 1,
        firstTickUs=BIG, intervalUs=1_000_000, counts=ONE),
    row("the first sample of boot 0 at tick 0", "samples", bootId=0, firstSequence=0, oldestSequence=0, firstTickUs=0,
        intervalUs=5000, counts=ONE),
    row("a frame that ends at the last sequence", "samples", bootId=U32, firstSequence=U32 - 3, oldestSequence=0,
        firstTickUs=1, intervalUs=5000, counts=ROWS),
    row("samples after the oldest gave way", "samples", bootId=7, firstSequence=130_000, oldestSequence=130_000,
        firstTickUs=651_000_000, intervalUs=5000, counts=ONE),
    row("two samples with a magnetometer", "samples", **STREAM, counts=MAGN_ROWS),
    row("samples with a magnetometer and the extremes of int16", "samples", bootId=7, firstSequence=0, oldestSequence=0,
        firstTickUs=2**32 - 1, intervalUs=9615, counts=EXTREMES),
    row("as many samples with a magnetometer as fit", "samples", bootId=1, firstSequence=0, oldestSequence=0,
        firstTickUs=1_000_000, intervalUs=5000, counts=(tuple(range(1, 10)),) * 200),
    row("acknowledgement", "acknowledgement", bootId=7, nextSequence=48),
    row("acknowledgement of nothing yet", "acknowledgement", bootId=0, nextSequence=0),
    row("acknowledgement of all that a boot can hold", "acknowledgement", bootId=U32, nextSequence=U32),
    row("status", "status", **STATUS),
    row("status of a device that knows little", "status", **{**STATUS, "batteryPercent": 255, "temperatureCentiC": -32768,
        "bufferedSamples": 0, "bufferCapacity": 1, "droppedSamples": U32}),
    row("status in the cold", "status", **{**STATUS, "batteryPercent": 0, "temperatureCentiC": -4000}),
    row("status of a full buffer", "status", **{**STATUS, "bufferedSamples": 24_000, "droppedSamples": 6544}),
    row("status at the upper limits", "status", bootId=U32, tickUs=BIG, batteryPercent=100, temperatureCentiC=12500,
        bufferedSamples=U32, bufferCapacity=U32, droppedSamples=U32),
    row("status at boot", "status", bootId=0, tickUs=0, batteryPercent=50, temperatureCentiC=-1, bufferedSamples=0,
        bufferCapacity=24_000, droppedSamples=0),
    row("time request", "timeRequest", exchangeId=3, serverUtcUs=T1),
    row("time request at the lower limits", "timeRequest", exchangeId=0, serverUtcUs=0),
    row("time request at the upper limits", "timeRequest", exchangeId=U32, serverUtcUs=BIG),
    row("time response", "timeResponse", **TIMES),
    row("time response at the lower limits", "timeResponse", exchangeId=0, serverUtcUs=0, receiveTickUs=0, transmitTickUs=0),
    row("time response at the upper limits", "timeResponse", exchangeId=U32, serverUtcUs=BIG, receiveTickUs=BIG,
        transmitTickUs=BIG),
    row("error", "error", code=9, text="damaged"),
    row("error with the longest text, in two-byte letters", "error", code=999, text="ä" * 256),
    row("error without text", "error", code=1, text=""),
    row("error with letters of one to four bytes", "error", code=41, text="a\u00e4\u20ac\U0001f9ed\ud7ff\ue000\U0010ffff"),
    row("error of a device that is not enrolled", "error", code=41, text="Enrol sternum-01 at the server first."),
    row("goodbye", "goodbye", bootId=7, reason=1),
    row("goodbye without a reason", "goodbye", bootId=0, reason=0),
    row("goodbye with an empty battery", "goodbye", bootId=7, reason=2),
    row("goodbye before an update", "goodbye", bootId=U32, reason=3),
]


def write(name, rows):
    lines = ",\n".join("  " + json.dumps(each, ensure_ascii=False) for each in rows)
    (HERE / name).write_text(f"[\n{lines}\n]\n", encoding="utf-8")


for rows in (valid, malformed):
    assert len({each["name"] for each in rows}) == len(rows), "a name twice"
write("valid.json", valid)
write("malformed.json", malformed)
