"""The 80 bytes before a take's samples: a WAV header that can become an RF64 header in place."""

from __future__ import annotations

import struct

from quietleaf.storage.pcm24 import BYTES_A_SAMPLE

HEADER_BYTES = 80
_PCM = 1
_DS64_BYTES = 28
_IN_DS64 = 0xFFFF_FFFF
"""What a 32-bit size says when the real one stands in ds64 (EBU Tech 3306)."""


def take_header(sample_rate_hz: int, samples: int) -> bytes:
    """Write the header of a 24-bit mono take of this length.

    Up to 4 GiB it is RIFF with a ``JUNK`` chunk; past that, RF64 with ``ds64`` in its place
    (EBU Tech 3306). Both have the same size, so a growing take goes from one to the other.

    Examples
    --------
    >>> take_header(48_000, 2)[:16]
    b'RIFFN\\x00\\x00\\x00WAVEJUNK'
    """
    data_bytes = samples * BYTES_A_SAMPLE
    riff_bytes = HEADER_BYTES - 8 + data_bytes + padding(samples)
    large = riff_bytes >= _IN_DS64
    size_chunk = (
        struct.pack("<4sIQQQI", b"ds64", _DS64_BYTES, riff_bytes, data_bytes, samples, 0)
        if large
        else struct.pack("<4sI28x", b"JUNK", _DS64_BYTES)
    )
    return (
        struct.pack("<4sI4s", b"RF64" if large else b"RIFF", min(riff_bytes, _IN_DS64), b"WAVE")
        + size_chunk
        + struct.pack(
            "<4sIHHIIHH",
            b"fmt ",
            16,
            _PCM,
            1,
            sample_rate_hz,
            sample_rate_hz * BYTES_A_SAMPLE,
            BYTES_A_SAMPLE,
            8 * BYTES_A_SAMPLE,
        )
        + struct.pack("<4sI", b"data", _IN_DS64 if large else data_bytes)
    )


def padding(samples: int) -> int:
    """Count the zero bytes after the samples that make the chunk's size even: 0 or 1."""
    return samples * BYTES_A_SAMPLE % 2


def sample_rate_of_header(header: bytes) -> int | None:
    """Read the sampling rate of a header written here; None if it is not one."""
    if len(header) < HEADER_BYTES:
        return None
    sample_rate_hz = int(struct.unpack_from("<I", header, 60)[0])
    # All but the sizes must be what would be written today.
    like = take_header(sample_rate_hz, 0)
    same = header[8:12] + header[48:76] == like[8:12] + like[48:76]
    return sample_rate_hz if same and sample_rate_hz else None
