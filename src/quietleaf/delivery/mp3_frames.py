"""The frames of an MP3 stream: counted, and headed by one that says how long the sound is.

An encoder works in whole frames and starts late, so that a stream is longer than what went in.
The frame written here tells a player what to leave out, and the length comes out exact.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from quietleaf.errors import Damaged

FRAME_SAMPLES = 1152
KBPS = (32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320)
SAMPLE_RATES_HZ = (44_100, 48_000, 32_000)
"""Of MPEG-1, layer III; in the order of their numbers in a frame's head."""

ENCODER_DELAY_SAMPLES = 576
"""What the encoder puts before the first sample. A decoder adds 529 of its own, and knows it."""

_SIDE_BYTES = 17
"""Side information of a frame of one channel."""
_ABOUT_BYTES = 156
_ENCODER = b"LAME4.0"
_FRAMES_BYTES_PLACES_QUALITY = 0x0F
_CONSTANT_RATE = 0x01
_POLYNOMIAL = 0xA001


@dataclass(frozen=True, slots=True, kw_only=True)
class Stream:
    """What a stream of one channel and one bit rate holds."""

    sample_rate_hz: int
    kbps: int
    frames: int
    size_bytes: int


def stream_of_bytes(stream: bytes | memoryview) -> Stream:
    """Walk a whole stream from head to head.

    Parameters
    ----------
    stream : bytes
        Frames of MPEG-1 layer III, mono, all of one bit rate and sampling rate; nothing else.

    Raises
    ------
    Damaged
        If it is anything else, or ends within a frame.
    """
    place, frames, first = 0, 0, b""
    while place < len(stream):
        head = bytes(stream[place : place + 4])
        if not frames:
            first = head
        # Apart from the padding bit, all heads are the same.
        if len(head) < 4 or head[:2] != b"\xff\xfb" or (head[2] ^ first[2]) & 0xFD:
            break
        number, rate = head[2] >> 4, head[2] >> 2 & 3
        if not 1 <= number <= len(KBPS) or rate == 3 or head[3] >> 6 != 3:
            break
        place += _frame_bytes(KBPS[number - 1], SAMPLE_RATES_HZ[rate]) + (head[2] >> 1 & 1)
        frames += 1
    if not frames or place != len(stream):
        raise Damaged(
            "mp3/stream",
            f"The MP3 encoder's stream breaks off at byte {min(place, len(stream))} of "
            f"{len(stream)}. Finish the reading again.",
        )
    return Stream(
        sample_rate_hz=SAMPLE_RATES_HZ[first[2] >> 2 & 3],
        kbps=KBPS[(first[2] >> 4) - 1],
        frames=frames,
        size_bytes=len(stream),
    )


def length_frame(stream: Stream, samples: int) -> bytes:
    """Write the frame that goes before a stream and says how long its sound is.

    Parameters
    ----------
    stream : Stream
        What follows.
    samples : int
        Samples that went into the encoder.

    Returns
    -------
    frame : bytes
        A whole frame of silence to whoever does not know it. Its checksum over the sound is 0,
        not known: no player asks for it.

    Notes
    -----
    The layout is the one that encoders and players of MP3 have agreed on (no standard holds it):
    "Info" for a constant bit rate, then frames, bytes, a hundred places, quality; then the
    encoder's own part with its delay and padding, 12 bits each, and a CRC-16.
    """
    kbps = next(
        kbps
        for kbps in KBPS
        if kbps >= stream.kbps
        and _frame_bytes(kbps, stream.sample_rate_hz) >= 4 + _SIDE_BYTES + _ABOUT_BYTES
    )
    frame_bytes = _frame_bytes(kbps, stream.sample_rate_hz)
    size_bytes = frame_bytes + stream.size_bytes
    padding_samples = stream.frames * FRAME_SAMPLES - ENCODER_DELAY_SAMPLES - samples
    head = bytes(
        (
            0xFF,
            0xFB,
            (KBPS.index(kbps) + 1) << 4 | SAMPLE_RATES_HZ.index(stream.sample_rate_hz) << 2,
            0xC4,
        )
    )
    about = struct.pack(
        ">4sIII100sI9sBB8xBB3s4xIH",
        b"Info",
        _FRAMES_BYTES_PLACES_QUALITY,
        stream.frames,
        size_bytes,
        bytes(place * 256 // 100 for place in range(100)),
        0,
        _ENCODER,
        _CONSTANT_RATE,
        0,
        0,
        min(stream.kbps, 255),
        (ENCODER_DELAY_SAMPLES << 12 | padding_samples).to_bytes(3, "big"),
        size_bytes,
        0,
    )
    told = head + bytes(_SIDE_BYTES) + about
    return (told + struct.pack(">H", crc16(told))).ljust(frame_bytes, b"\0")


def crc16(data: bytes) -> int:
    """Give the CRC-16 with the polynomial 0x8005, reflected, from 0.

    Examples
    --------
    >>> hex(crc16(b"123456789"))
    '0xbb3d'
    """
    rest = 0
    for octet in data:
        rest ^= octet
        for _ in range(8):
            rest = rest >> 1 ^ (_POLYNOMIAL if rest & 1 else 0)
    return rest


def _frame_bytes(kbps: int, sample_rate_hz: int) -> int:
    return FRAME_SAMPLES // 8 * kbps * 1000 // sample_rate_hz
