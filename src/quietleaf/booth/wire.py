"""Records on their way from a stand: the same bytes in the browser's journal and on the line.

A record is a header of 32 bytes, little-endian, and its payload: sound (24-bit mono) or an entry
(JSON). A journal numbers them 0, 1, 2; see docs/decisions/0006-a-journal-of-records.md.
"""

from __future__ import annotations

import json
import struct
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from quietleaf.errors import Invalid

MARK = b"leaf"
VERSION = 1
SOUND, ENTRY = 1, 2
HEADER_BYTES = 32
BYTES_A_SAMPLE = 3
LARGEST_SOUND_BYTES = 65_536 * BYTES_A_SAMPLE
LARGEST_ENTRY_BYTES = 16_384
LARGEST_MESSAGE_BYTES = 262_144
RATES_HZ = (8_000, 384_000)
LONGEST_TAKE_SAMPLES = 1 << 40
_FRONT = struct.Struct("<4sBBHIIQI")
_CRC = struct.Struct("<I")


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """One record.

    Attributes
    ----------
    kind : int
        `SOUND` or `ENTRY`.
    number : int
        Of the record in its journal, from 0.
    entries : int
        How many entries the journal has before it; of an entry, its own index.
    first : int
        Of sound: the index of its first sample in its take.
    payload : bytes
        As sent.
    whole : bool
        Whether it is as it was written, by its checksum.
    """

    kind: int
    number: int
    entries: int
    first: int
    payload: bytes
    whole: bool

    @property
    def samples(self) -> int:
        """How many samples of sound it has."""
        return len(self.payload) // BYTES_A_SAMPLE if self.kind == SOUND else 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How far a journal is on the station's disk.

    Attributes
    ----------
    entries : int
        So many of its entries are in the ledger.
    samples : int
        So many samples of the take that its last *rolled* began.
    """

    entries: int
    samples: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Rolled:
    """A take begins.

    Attributes
    ----------
    read_for : int or None
        The entry of the ledger that sent a sentence back, where it is read for that.
    fresh : bool
        Of such a take: a try begins with it; else it goes on with the take before it.
    """

    sample_rate_hz: int
    origin: str
    read_for: int | None = None
    fresh: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Sealed:
    """The take is complete, and has so many samples."""

    samples: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Article:
    """An article begins at a sample of the present take."""

    sample: int
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """Fixed words begin at a sample of the present take."""

    which: Literal["opening", "closing"]
    sample: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """Before a sample of the present take so many were never captured."""

    sample: int
    samples: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """The programme leaves off at an earlier place and goes on at a later one.

    Attributes
    ----------
    take, back_take : int
        Takes as the journal counts them: 1 is what its first *rolled* began.
    mark, back_sample, resume : int
        Samples of those takes; ``resume`` may be ahead of what was recorded.
    lead_in : int
        Samples that were played before ``resume``.
    instead : int or None
        The entry of this journal, by its index, that this one takes the place of.
    """

    take: int
    mark: int
    back_take: int
    back_sample: int
    resume: int
    lead_in: int
    instead: int | None


Entry = Rolled | Sealed | Article | Words | Missing | Again


def record_bytes(record: Record) -> bytes:
    """Write a record.

    Examples
    --------
    >>> sound = Record(kind=SOUND, number=7, entries=1, first=4, payload=bytes(6), whole=True)
    >>> records_of(record_bytes(sound)) == [sound]
    True
    """
    front = _FRONT.pack(
        MARK,
        VERSION,
        record.kind,
        0,
        record.number,
        record.entries,
        record.first,
        len(record.payload),
    )
    return front + _CRC.pack(zlib.crc32(record.payload, zlib.crc32(front))) + record.payload


def records_of(message: bytes) -> list[Record]:
    """Read the records of one message.

    Returns
    -------
    list of Record
        In order; one whose checksum does not agree says so in ``whole``, and is the last one read,
        since its own size cannot be believed.

    Raises
    ------
    Invalid
        If what comes is no record of this kind at all.
    """
    records: list[Record] = []
    at = 0
    while at < len(message):
        if len(message) - at < HEADER_BYTES:
            raise _no_record("a header has 32 bytes")
        mark, version, kind, spare, number, entries, first, size = _FRONT.unpack_from(message, at)
        if mark != MARK or version != VERSION or kind not in (SOUND, ENTRY) or spare:
            raise _no_record("it begins with other bytes")
        if size > (LARGEST_SOUND_BYTES if kind == SOUND else LARGEST_ENTRY_BYTES):
            raise _no_record(f"its payload is said to have {size} bytes")
        start = at + HEADER_BYTES
        payload = message[start : start + size]
        (crc,) = _CRC.unpack_from(message, at + _FRONT.size)
        whole = (
            len(payload) == size
            and zlib.crc32(payload, zlib.crc32(message[at : at + _FRONT.size])) == crc
        )
        records.append(
            Record(
                kind=kind,
                number=number,
                entries=entries,
                first=first,
                payload=payload,
                whole=whole,
            )
        )
        if not whole:
            break
        if kind == SOUND and (size % BYTES_A_SAMPLE or not size):
            raise _no_record(f"sound has 3 bytes a sample, and {size} came")
        at = start + size
    return records


def joined(records: Sequence[Record]) -> list[Record]:
    """Join sound that follows on itself: it is then written in one go.

    Examples
    --------
    >>> parts = [
    ...     Record(kind=SOUND, number=n, entries=1, first=n, payload=b"abc", whole=True)
    ...     for n in range(3)
    ... ]
    >>> [(record.first, record.samples) for record in joined(parts)]
    [(0, 3)]
    """
    runs: list[list[Record]] = []
    following, size = None, 0
    for record in records:
        place = (record.kind, record.entries, record.first)
        size += len(record.payload)
        if not record.whole or place != following or size > LARGEST_SOUND_BYTES:
            runs.append([])
            size = len(record.payload)
        runs[-1].append(record)
        is_sound = record.whole and record.kind == SOUND
        following = (SOUND, record.entries, record.first + record.samples) if is_sound else None
    return [
        run[0] if len(run) == 1 else replace(run[0], payload=b"".join(part.payload for part in run))
        for run in runs
    ]


def entry_bytes(entry: Entry) -> bytes:
    """Write an entry's payload.

    Examples
    --------
    >>> entry_bytes(Words(which="closing", sample=12))
    b'{"what":"words","which":"closing","sample":12}'
    """
    match entry:
        case Rolled():
            members: dict[str, Any] = {
                "what": "rolled",
                "rate": entry.sample_rate_hz,
                "origin": entry.origin,
            }
            if entry.read_for is not None:
                members |= {"readFor": entry.read_for, "fresh": entry.fresh}
        case Sealed():
            members = {"what": "sealed", "samples": entry.samples}
        case Article():
            members = {"what": "article", "sample": entry.sample, "title": entry.title}
        case Words():
            members = {"what": "words", "which": entry.which, "sample": entry.sample}
        case Missing():
            members = {
                "what": "missing",
                "sample": entry.sample,
                "samples": entry.samples,
                "reason": entry.reason,
            }
        case Again():
            members = {
                "what": "again",
                "take": entry.take,
                "mark": entry.mark,
                "backTake": entry.back_take,
                "backSample": entry.back_sample,
                "resume": entry.resume,
                "leadIn": entry.lead_in,
                "instead": entry.instead,
            }
    return json.dumps(members, ensure_ascii=False, separators=(",", ":")).encode()


def entry_of(payload: bytes) -> Entry:
    """Read an entry's payload.

    Raises
    ------
    Invalid
        If it is none that a stand makes.
    """
    try:
        members = json.loads(payload)
        what = members["what"]
        match what:
            case "rolled":
                rate = _whole(members["rate"], RATES_HZ[1])
                if rate < RATES_HZ[0]:
                    raise ValueError(rate)
                read_for = members.get("readFor")
                return Rolled(
                    sample_rate_hz=rate,
                    origin=_text(members["origin"]),
                    read_for=None if read_for is None else _whole(read_for),
                    fresh=members.get("fresh") is True,
                )
            case "sealed":
                return Sealed(samples=_whole(members["samples"]))
            case "article":
                return Article(sample=_whole(members["sample"]), title=_text(members["title"]))
            case "words":
                which = members["which"]
                if which not in ("opening", "closing"):
                    raise ValueError(which)
                return Words(which=which, sample=_whole(members["sample"]))
            case "missing":
                return Missing(
                    sample=_whole(members["sample"]),
                    samples=_whole(members["samples"]),
                    reason=_text(members["reason"]),
                )
            case "again":
                return _again(members)
            case _:
                raise ValueError(what)
    except (ValueError, KeyError, TypeError, RecursionError) as fault:
        raise _no_record("an entry is none that a stand makes") from fault


def _again(members: dict[str, Any]) -> Again:
    take, back_take = _whole(members["take"]), _whole(members["backTake"])
    mark, back, resume = (_whole(members[key]) for key in ("mark", "backSample", "resume"))
    instead = members["instead"]
    if not (1 <= back_take <= take and (back_take, back) <= (take, mark) <= (take, resume)):
        raise ValueError(members)
    return Again(
        take=take,
        mark=mark,
        back_take=back_take,
        back_sample=back,
        resume=resume,
        lead_in=_whole(members["leadIn"]),
        instead=None if instead is None else _whole(instead),
    )


def _whole(value: object, most: int = LONGEST_TAKE_SAMPLES) -> int:
    if type(value) is not int or not 0 <= value <= most:
        raise ValueError(value)
    return value


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError(value)
    value.encode()  # half a character cannot be kept
    return value


def _no_record(why: str) -> Invalid:
    return Invalid(
        "wire/record",
        f"What came from the stand is no record of sound or of an entry: {why}. Load the stand's "
        "page again; nothing that was recorded is lost by it.",
    )
