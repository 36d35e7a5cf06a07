"""The skeleton of a WAVE file: chunks, a header made from sizes alone, RF64 when it is long."""

from __future__ import annotations

import struct
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from quietleaf.delivery.ascii_text import ascii_of_text
from quietleaf.errors import Invalid

RIFF_LIMIT = 0xFFFF_FFFF
"""The largest size that a 32-bit field holds; beyond it a file is RF64."""

INFO_NAMES = {
    "title": "INAM",
    "artist": "IART",
    "comment": "ICMT",
    "date": "ICRD",
    "copyright": "ICOP",
    "product": "IPRD",
    "software": "ISFT",
    "source": "ISRC",
    "subject": "ISBJ",
    "commissioned_by": "ICMS",
}
"""What may be said in a LIST INFO chunk, and under which name."""

_DS64_BYTES = 28
Coding = Literal["PCM", "A-law", "mu-law"]
_TAGS: dict[Coding, int] = {"PCM": 1, "A-law": 6, "mu-law": 7}


@dataclass(frozen=True, slots=True, kw_only=True)
class WaveLayout:
    """What a header holds besides sizes.

    Attributes
    ----------
    chunks : tuple of (bytes, bytes)
        Name and data of each chunk that stands between the format and the samples.
    """

    sample_rate_hz: int
    bits: Literal[8, 16, 24]
    coding: Coding = "PCM"
    channels: int = 1
    chunks: tuple[tuple[bytes, bytes], ...] = ()

    @property
    def frame_bytes(self) -> int:
        """Bytes of one sample of every channel."""
        return self.channels * self.bits // 8


def chunk_bytes(name: bytes, data: bytes) -> bytes:
    """Write one chunk: name, size, data, and a pad byte after an odd size.

    The pad byte is not counted in the size.

    Examples
    --------
    >>> chunk_bytes(b"note", b"abc")
    b'note\\x03\\x00\\x00\\x00abc\\x00'
    """
    if len(name) != 4:
        raise Invalid("riff/name", f"A chunk's name has four letters; this one is {name!r}.")
    return name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)


def info_bytes(info: Mapping[str, str]) -> bytes:
    """Write the data of a LIST chunk that holds INFO texts.

    Parameters
    ----------
    info : mapping
        Keys are those of ``INFO_NAMES``; an empty text is left out. No character set is ever
        declared for these texts and readers guess differently, so they are spelt in ASCII.

    Raises
    ------
    Invalid
        For a key that is not in ``INFO_NAMES``.

    Examples
    --------
    >>> info_bytes({"title": "Tea"})
    b'INFOINAM\\x04\\x00\\x00\\x00Tea\\x00'
    """
    parts = [b"INFO"]
    for key, text in info.items():
        if key not in INFO_NAMES:
            raise Invalid(
                "riff/info",
                f"INFO texts are {', '.join(sorted(INFO_NAMES))}; {key!r} is none of them.",
            )
        spelt = ascii_of_text(text)
        if spelt:
            parts.append(chunk_bytes(INFO_NAMES[key].encode("ascii"), spelt + b"\0"))
    return b"".join(parts)


def header_bytes(layout: WaveLayout, data_bytes: int, *, riff_limit: int = RIFF_LIMIT) -> bytes:
    """Write everything that stands before the samples, for a given number of sample bytes.

    The length of the header depends on the layout alone, so a file that grows gets its sizes
    patched by writing the header again over itself. The place for 64-bit sizes is kept from the
    start: a JUNK chunk that becomes ds64 when the file passes the limit.

    Parameters
    ----------
    layout : WaveLayout
    data_bytes : int
        Bytes of samples, a whole number of frames; an odd number needs one more zero byte after
        the samples in the file, which is counted here.
    riff_limit : int
        Smaller in tests.

    Returns
    -------
    header : bytes
        RIFF (or RF64), JUNK (or ds64), fmt, the layout's chunks, and the head of the data chunk.

    References
    ----------
    .. [1] EBU Tech 3306: RF64, and the upgrade in place.

    Examples
    --------
    >>> layout = WaveLayout(sample_rate_hz=48_000, bits=24)
    >>> header_bytes(layout, 0)[:4], header_bytes(layout, 3_000_000_000 * 3)[:4]
    (b'RIFF', b'RF64')
    >>> len(header_bytes(layout, 0)) == len(header_bytes(layout, 3_000_000_000 * 3))
    True
    """
    if data_bytes < 0 or data_bytes % layout.frame_bytes:
        raise Invalid(
            "riff/frames",
            f"Samples come in whole frames of {layout.frame_bytes} bytes; "
            f"{data_bytes} bytes are not that.",
        )
    form = struct.pack(
        "<HHIIHH",
        _TAGS[layout.coding],
        layout.channels,
        layout.sample_rate_hz,
        layout.sample_rate_hz * layout.frame_bytes,
        layout.frame_bytes,
        layout.bits,
    )
    chunks = list(layout.chunks)
    if layout.coding != "PCM":
        # What is no PCM says how much its format goes on (by nothing), and counts its samples.
        form += struct.pack("<H", 0)
        frames = min(data_bytes // layout.frame_bytes, RIFF_LIMIT)
        chunks.insert(0, (b"fact", struct.pack("<I", frames)))
    middle = chunk_bytes(b"fmt ", form) + b"".join(chunk_bytes(name, data) for name, data in chunks)
    before_data = 12 + 8 + _DS64_BYTES + len(middle) + 8
    riff_bytes = before_data - 8 + data_bytes + data_bytes % 2
    if riff_bytes > riff_limit:
        sizes = struct.pack("<QQQI", riff_bytes, data_bytes, data_bytes // layout.frame_bytes, 0)
        outer, data_field = struct.pack("<4sI", b"RF64", 0xFFFF_FFFF), 0xFFFF_FFFF
        first = chunk_bytes(b"ds64", sizes)
    else:
        outer, data_field = struct.pack("<4sI", b"RIFF", riff_bytes), data_bytes
        first = chunk_bytes(b"JUNK", bytes(_DS64_BYTES))
    return outer + b"WAVE" + first + middle + struct.pack("<4sI", b"data", data_field)
