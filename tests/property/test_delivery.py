"""Whatever is written into a field, the structure around it stays whole."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal

from hypothesis import given
from hypothesis import strategies as st

from quietleaf.delivery.ascii_text import ascii_of_text
from quietleaf.delivery.bext import (
    BroadcastExtension,
    BroadcastLoudness,
    CodingStep,
    bext_bytes,
    hundredths,
)
from quietleaf.delivery.id3 import Chapter, Tags, id3_bytes
from quietleaf.delivery.riff import INFO_NAMES, WaveLayout, chunk_bytes, header_bytes, info_bytes

ANY_TEXT = st.text(st.characters(), max_size=400)
LEVELS = st.none() | st.floats()


def walked(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Walk chunks as a reader does that trusts nothing but names and sizes."""
    place = 0
    while place < len(data):
        name, size = struct.unpack_from("<4sI", data, place)
        assert place + 8 + size <= len(data)
        yield name, data[place + 8 : place + 8 + size]
        place += 8 + size + size % 2
    assert place == len(data)


@given(ANY_TEXT)
def test_ascii_is_printable_and_stays_as_it_is(text: str) -> None:
    spelt = ascii_of_text(text)
    assert all(0x20 <= octet < 0x7F for octet in spelt)
    assert ascii_of_text(spelt.decode("ascii")) == spelt


@given(st.dictionaries(st.sampled_from(sorted(INFO_NAMES)), ANY_TEXT))
def test_info_walks(info: dict[str, str]) -> None:
    data = info_bytes(info)
    found = dict(walked(data[4:]))
    assert data[:4] == b"INFO"
    for key, text in info.items():
        spelt = ascii_of_text(text)
        assert found.get(INFO_NAMES[key].encode()) == (spelt + b"\0" if spelt else None)


@given(ANY_TEXT, ANY_TEXT, ANY_TEXT, st.datetimes(), LEVELS, ANY_TEXT)
def test_extension_keeps_its_layout(
    description: str,
    originator: str,
    reference: str,
    at: datetime,
    level: float | None,
    done: str,
) -> None:
    loudness = BroadcastLoudness(
        integrated_lufs=level,
        range_lu=level,
        true_peak_dbtp=level,
        momentary_max_lufs=level,
        short_term_max_lufs=level,
    )
    step = CodingStep(coding="PCM", sample_rate_hz=48_000, bits=24, mode="mono", text=done)
    data = bext_bytes(
        BroadcastExtension(
            description=description,
            originator=originator,
            originator_reference=reference,
            recorded_at=at,
            sample_rate_hz=96_000,
            loudness=loudness,
            coding_history=(step, step),
        )
    )
    assert data[:256].rstrip(b"\0") == ascii_of_text(description)[:256]
    assert data[256:288].rstrip(b"\0") == ascii_of_text(originator)[:32]
    assert data[288:320].rstrip(b"\0") == ascii_of_text(reference)[:32]
    assert data[320:338].decode() == at.isoformat(timespec="seconds").replace("T", "")
    assert struct.unpack_from("<H", data, 346) == (2,)
    assert struct.unpack_from("<5h", data, 412) == 5 * (hundredths(level),)
    history = data[602:].rstrip(b"\0").decode("ascii")
    lines = history.split("\r\n")
    assert len(lines) == 3
    assert lines[2] == ""
    assert all(line.count(",") == (4 if ascii_of_text(done).strip() else 3) for line in lines[:2])
    assert len(data) % 2 == 0


@given(st.integers(-32_768, 32_766))
def test_hundredths_are_what_was_given(stored: int) -> None:
    assert hundredths(stored / 100) == stored


@given(st.decimals(-300, 300, places=3))
def test_halves_go_away_from_zero(value: Decimal) -> None:
    away = (abs(value) * 100 + Decimal("0.5")).to_integral_value(rounding="ROUND_FLOOR")
    assert hundredths(float(value)) == int(away.copy_sign(value))
    assert away == (abs(value) * 100).quantize(Decimal(1), rounding=ROUND_HALF_UP)


@given(
    st.sampled_from([16, 24]),
    st.integers(1, 8),
    st.integers(0, 2**36),
    st.integers(0, 100),
    st.integers(1_000, 2**33),
)
def test_header_keeps_its_length_and_its_sizes_agree(
    bits: int, channels: int, frames: int, extra: int, riff_limit: int
) -> None:
    layout = WaveLayout(
        sample_rate_hz=48_000,
        bits=16 if bits == 16 else 24,
        channels=channels,
        chunks=((b"note", bytes(extra)),),
    )
    data_bytes = frames * layout.frame_bytes
    header = header_bytes(layout, data_bytes, riff_limit=min(riff_limit, 0xFFFF_FFFF))
    assert len(header) == len(header_bytes(layout, 0))
    file_bytes = len(header) + data_bytes + data_bytes % 2
    outer, outer_bytes = struct.unpack_from("<4sI", header)
    first, first_bytes, riff_bytes, samples_bytes, count = struct.unpack_from("<4sIQQQ", header, 12)
    assert first_bytes == 28
    assert list(walked(header[48:-8])) == [(b"fmt ", header[56:72]), (b"note", bytes(extra))]
    if outer == b"RF64":
        assert (first, outer_bytes, header[-4:]) == (b"ds64", 0xFFFF_FFFF, b"\xff\xff\xff\xff")
        assert (riff_bytes, samples_bytes, count) == (file_bytes - 8, data_bytes, frames)
    else:
        assert (outer, first, outer_bytes) == (b"RIFF", b"JUNK", file_bytes - 8)
        assert struct.unpack("<I", header[-4:]) == (data_bytes,)


@given(st.binary(max_size=50))
def test_chunk_walks(data: bytes) -> None:
    assert list(walked(chunk_bytes(b"note", data))) == [(b"note", data)]


@given(
    ANY_TEXT,
    ANY_TEXT,
    st.none() | st.dates(),
    st.lists(ANY_TEXT, max_size=3),
    st.lists(ANY_TEXT, max_size=5),
)
def test_tag_walks(
    title: str, publication: str, issue: date | None, readers: list[str], chapters: list[str]
) -> None:
    tags = Tags(
        title=title,
        publication=publication,
        issue_date=issue,
        readers=tuple(readers),
        chapters=tuple(
            Chapter(title=chapter, start_s=float(number), end_s=number + 1.0)
            for number, chapter in enumerate(chapters)
        ),
    )
    data = id3_bytes(tags, 60.0)
    size = sum(octet << shift for octet, shift in zip(data[6:10], (21, 14, 7, 0), strict=True))
    assert data[:6] == b"ID3\x03\0\0"
    assert len(data) == 10 + size
    names, place = [], 10
    while place < len(data):
        name, body = data[place : place + 4], int.from_bytes(data[place + 4 : place + 8], "big")
        assert name.isalnum()
        assert data[place + 8 : place + 10] == b"\0\0"
        assert body > 1
        if name == b"TIT2":
            text = data[place + 10 : place + 10 + body]
            read = text[1:].decode("latin-1") if text[0] == 0 else text[1:].decode("utf-16")
            assert read == " ".join("".join(c if c.isprintable() else " " for c in title).split())
        names.append(name)
        place += 10 + body
    assert place == len(data)
    assert names.count(b"CHAP") == len(chapters)
    assert names.count(b"CTOC") == bool(chapters)
