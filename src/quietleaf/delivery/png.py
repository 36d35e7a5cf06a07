"""A small picture in one ink as the bytes of a PNG: sixteen strengths over whatever lies below."""

from __future__ import annotations

import struct
import zlib

import numpy as np
from numpy.typing import NDArray

STRENGTHS = 16
_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_BITS, _PALETTE = 4, 3


def png_of_ink(ink: NDArray[np.uint8]) -> bytes:
    """Write a picture whose ink is black, and whose paper can be seen through.

    Parameters
    ----------
    ink : ndarray, shape (h, w), uint8
        0, none, to 15, all of it; the first row is the upper one. ``w`` is even.

    Notes
    -----
    PNG (W3C Recommendation, third edition, 2025), colour type 3 at 4 bits: 11.2.2 (PLTE), 11.3.1.1
    (tRNS), 10.1 (zlib). Rows are not filtered, as 12.7 advises for palettes.

    Examples
    --------
    >>> png_of_ink(np.array([[0, 15]], dtype=np.uint8))[:8]
    b'\\x89PNG\\r\\n\\x1a\\n'
    """
    height, width = ink.shape
    rows = np.zeros((height, 1 + width // 2), dtype=np.uint8)
    rows[:, 1:] = ink[:, 0::2] << _BITS | ink[:, 1::2]
    return b"".join(
        (
            _SIGNATURE,
            _chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, _BITS, _PALETTE, 0, 0, 0)),
            _chunk(b"PLTE", bytes(3 * STRENGTHS)),
            _chunk(b"tRNS", bytes(255 * ink // (STRENGTHS - 1) for ink in range(STRENGTHS))),
            _chunk(b"IDAT", zlib.compress(rows.tobytes())),
            _chunk(b"IEND", b""),
        )
    )


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
