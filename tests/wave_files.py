"""WAV, RF64 and AIFF files built byte by byte, so that a test can make them say anything."""

from __future__ import annotations

import struct

import numpy as np
from numpy.typing import NDArray

PCM, ADPCM, FLOAT, A_LAW, MU_LAW, EXTENSIBLE = 1, 2, 3, 6, 7, 0xFFFE
UNKNOWN = 0xFFFFFFFF
_GUID_TAIL = bytes.fromhex("000000001000800000aa00389b71")


def chunk(name: bytes, data: bytes, *, size: int | None = None, padded: bool = True) -> bytes:
    """Build a chunk; its size can be made to lie."""
    pad = b"\0" * (len(data) % 2 if padded else 0)
    return name + struct.pack("<I", len(data) if size is None else size) + data + pad


def fmt(
    *,
    tag: int = PCM,
    channels: int = 1,
    rate_hz: int = 48_000,
    bits: int = 16,
    room: int | None = None,
    extensible: bool = False,
) -> bytes:
    """Build the chunk that describes the sound; ``room`` is bytes a sample."""
    frame = channels * ((bits + 7) // 8 if room is None else room)
    outer_tag = EXTENSIBLE if extensible else tag
    data = struct.pack(
        "<HHIIHH", outer_tag, channels, rate_hz, rate_hz * frame & UNKNOWN, frame & 0xFFFF, bits
    )
    if extensible:
        data += struct.pack("<HHIH", 22, bits, 0, tag) + _GUID_TAIL
    return chunk(b"fmt ", data)


def wave(*chunks: bytes, outer: bytes = b"RIFF", size: int | None = None) -> bytes:
    """Put chunks into a file."""
    body = b"WAVE" + b"".join(chunks)
    return outer + struct.pack("<I", len(body) if size is None else size) + body


def plain(values: NDArray[np.int64], *, channels: int = 1, rate_hz: int = 48_000) -> bytes:
    """Build a 16-bit WAV as any program writes it."""
    samples = values.astype("<i2")
    return wave(fmt(channels=channels, rate_hz=rate_hz), chunk(b"data", samples.tobytes()))


def ds64(*, data: int, riff: int = 0, samples: int = 0) -> bytes:
    """Build the chunk of long sizes (EBU Tech 3306)."""
    return chunk(b"ds64", struct.pack("<QQQI", riff, data, samples, 0))


def aiff(*chunks: tuple[bytes, bytes], form: bytes = b"AIFF") -> bytes:
    """Put chunks into an AIFF file."""
    body = form
    for name, data in chunks:
        body += name + struct.pack(">I", len(data)) + data + b"\0" * (len(data) % 2)
    return b"FORM" + struct.pack(">I", len(body)) + body


def aiff_common(*, channels: int, frames: int, bits: int, rate_hz: int) -> bytes:
    """Build the description of an AIFF: its rate is an 80-bit float."""
    exponent = rate_hz.bit_length() - 1 if rate_hz else 0
    mantissa = rate_hz << (63 - exponent)
    wide = struct.pack(">HQ", 16383 + exponent if rate_hz else 0, mantissa)
    return struct.pack(">hIh", channels, frames, bits) + wide


def steps(count: int, bits: int, *, seed: int = 3) -> NDArray[np.int64]:
    """Make whole-number samples of so many bits, both ends of the scale among them."""
    top = 1 << (bits - 1)
    made = np.random.default_rng(seed).integers(-top, top, count)
    made[:3] = (-top, top - 1, 0)
    return made


def packed(values: NDArray[np.int64], room: int) -> bytes:
    """Write whole numbers little-endian, ``room`` bytes each."""
    wide = values.astype("<i8").view(np.uint8).reshape(-1, 8)
    return wide[:, :room].tobytes()
