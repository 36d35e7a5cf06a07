"""The 80 bytes before a take's samples: a WAV header that can become an RF64 header in place."""

from __future__ import annotations

import struct

from quietleaf.delivery.riff import WaveLayout, header_bytes
from quietleaf.storage.pcm24 import BYTES_A_SAMPLE

HEADER_BYTES = 80
_RATE_AT = 60
_SIZES = (slice(0, 8), slice(12, 48), slice(76, 80))
"""Where a header differs as a take grows: all else stays from the first byte on the disk."""


def take_header(sample_rate_hz: int, samples: int) -> bytes:
    """Write the header of a 24-bit mono take of this length.

    Examples
    --------
    >>> take_header(48_000, 2)[:16]
    b'RIFFN\\x00\\x00\\x00WAVEJUNK'
    """
    layout = WaveLayout(sample_rate_hz=sample_rate_hz, bits=24)
    return header_bytes(layout, samples * BYTES_A_SAMPLE)


def padding(samples: int) -> int:
    """Count the zero bytes after the samples that make the chunk's size even: 0 or 1."""
    return samples * BYTES_A_SAMPLE % 2


def sample_rate_of_header(header: bytes) -> int | None:
    """Read the sampling rate of a header written here; None if it is not one."""
    if len(header) < HEADER_BYTES:
        return None
    sample_rate_hz = int(struct.unpack_from("<I", header, _RATE_AT)[0])
    # The header counts bytes a second too, and in 32 bits.
    if not 0 < sample_rate_hz * BYTES_A_SAMPLE < 1 << 32:
        return None
    written = bytearray(take_header(sample_rate_hz, 0))
    for sizes in _SIZES:
        written[sizes] = header[sizes]
    return sample_rate_hz if bytes(written) == header[:HEADER_BYTES] else None
