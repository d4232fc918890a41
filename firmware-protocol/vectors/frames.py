"""Frames from SPEC.md with Python's struct module, independently of the code in ../src and ../c."""
import struct

HELLO, WELCOME, SAMPLES, ACKNOWLEDGEMENT, STATUS, TIME_REQUEST, TIME_RESPONSE, ERROR, GOODBYE = range(1, 10)
ACCEL_GYRO, WITH_MAGN = 3, 7
T1 = 1_780_000_000_123_456
TOKEN = bytes.fromhex("8f2d4c01a7b3596e10c4fe8837d2650b")


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


def hello(bootId=7, rateMilliHz=200_000, accelScale=4_788_550, gyroScale=1_065_297, magnScale=0, channels=None,
          device=b"pelvis-01", token=b"", reserved=0, deviceIdBytes=None, tokenBytes=None):
    if channels is None:
        channels = WITH_MAGN if magnScale else ACCEL_GYRO
    lengths = (len(device) if deviceIdBytes is None else deviceIdBytes, len(token) if tokenBytes is None else tokenBytes)
    return (head(HELLO) + struct.pack("<IIIIIBBBB", bootId, rateMilliHz, accelScale, gyroScale, magnScale, channels, *lengths,
                                      reserved) + device + token)


def welcome(bootId=7, nextSequence=0):
    return head(WELCOME) + struct.pack("<II", bootId, nextSequence)


def samples(bootId=7, firstSequence=40, oldestSequence=8, firstTickUs=1_200_000, intervalUs=5000,
            counts=((1, -2, 2048, 3, -4, 5),), count=None, channels=None, reserved=0):
    if channels is None:
        channels = WITH_MAGN if counts and len(counts[0]) == 9 else ACCEL_GYRO
    body = head(SAMPLES) + struct.pack("<IIIQIHBB", bootId, firstSequence, oldestSequence, firstTickUs, intervalUs,
                                       len(counts) if count is None else count, channels, reserved)
    body += b"".join(struct.pack(f"<{len(row)}h", *row) for row in counts)
    return body + struct.pack("<I", crc32c(body))


def acknowledgement(bootId=7, nextSequence=48):
    return head(ACKNOWLEDGEMENT) + struct.pack("<II", bootId, nextSequence)


def status(bootId=7, tickUs=5_000_000, batteryPercent=81, reserved=0, temperatureCentiC=3150, bufferedSamples=16,
           bufferCapacity=24_000, droppedSamples=0):
    return head(STATUS) + struct.pack("<IQBBhIII", bootId, tickUs, batteryPercent, reserved, temperatureCentiC,
                                      bufferedSamples, bufferCapacity, droppedSamples)


def time_request(exchangeId=3, serverUtcUs=T1):
    return head(TIME_REQUEST) + struct.pack("<IQ", exchangeId, serverUtcUs)


def time_response(exchangeId=3, serverUtcUs=T1, receiveTickUs=6_000_100, transmitTickUs=6_000_350):
    return head(TIME_RESPONSE) + struct.pack("<IQQQ", exchangeId, serverUtcUs, receiveTickUs, transmitTickUs)


def error(code=9, text=b"damaged", textBytes=None):
    return head(ERROR) + struct.pack("<HH", code, len(text) if textBytes is None else textBytes) + text


def goodbye(bootId=7, reason=1):
    return head(GOODBYE) + struct.pack("<IB", bootId, reason)


MAKERS = dict(hello=hello, welcome=welcome, samples=samples, acknowledgement=acknowledgement, status=status,
              timeRequest=time_request, timeResponse=time_response, error=error, goodbye=goodbye)
