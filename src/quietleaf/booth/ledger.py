"""The ledger's lines: one entry each, as JSON that carries its own checksum.

A line is ``{"crc32":"89abcdef",`` (20 bytes), the other members, and ``}``. The checksum is the
CRC-32 of all bytes after those 20, up to the line's end, which does not count.
"""

from __future__ import annotations

import json
import math
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from quietleaf.booth.edits import (
    DECISIONS,
    REMARK_KINDS,
    WANTED,
    Again,
    ArticleStarted,
    Cut,
    Decided,
    Edit,
    HandedIn,
    Happening,
    Opened,
    Patch,
    PlanDecided,
    Remarked,
    RoomChecked,
    SoundMissing,
    StateSet,
    TakeRolled,
    TakeSealed,
    Undo,
    WordsBegun,
)
from quietleaf.booth.reading import READING_STATES, HandIn, ReadingFacts
from quietleaf.booth.shapes import check_shape
from quietleaf.booth.timeline import Place
from quietleaf.errors import Damaged, Invalid

FORMAT = "quietleaf/ledger/1"
_HEAD = b'{"crc32":"'
HEAD_BYTES = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class LedgerText:
    """What a ledger's bytes say.

    Attributes
    ----------
    whole_bytes : int
        How far the whole lines reach; what follows was being written when something stopped.
    """

    edits: tuple[Edit, ...]
    whole_bytes: int


def line_of_edit(edit: Edit) -> bytes:
    r"""Write an entry as one line, its end included.

    Raises
    ------
    Invalid
        If a text in it cannot be written as UTF-8.

    Examples
    --------
    >>> line_of_edit(Edit(
    ...     number=4, edit_id="k7", author="Desk", at=datetime(2026, 11, 25, tzinfo=UTC),
    ...     revision=3, what=Undo(of=3)))[20:]
    b'"number":4,"id":"k7","author":"Desk","at":"2026-11-25T00:00:00Z","revision":3,"kind":"undo","of":3}\n'
    """
    members = {
        "number": edit.number,
        "id": edit.edit_id,
        "author": edit.author,
        "at": edit.at.isoformat().replace("+00:00", "Z"),
        "revision": edit.revision,
        **_members(edit.what),
    }
    text = json.dumps(members, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    try:
        rest = text[1:].encode()
    except UnicodeEncodeError:
        raise Invalid(
            "ledger/text", "A text in this entry has half a character in it; type it again."
        ) from None
    return b'{"crc32":"%08x",%s\n' % (zlib.crc32(rest), rest)


def read_ledger(data: bytes, name: str) -> LedgerText:
    """Read a ledger.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        What to call it in a refusal.

    Returns
    -------
    LedgerText
        A torn or damaged end is left out: such a line was never acknowledged.

    Raises
    ------
    Damaged
        If a damaged line has whole ones after it, or a number is missing.
    Invalid
        If a newer Quietleaf wrote it.
    """
    edits: list[Edit] = []
    reached = whole = 0
    bad_line = 0
    for line_number, line in enumerate(data.split(b"\n")[:-1], start=1):
        reached += len(line) + 1
        members = _checked(line)
        if members is None:
            bad_line = bad_line or line_number
            continue
        if bad_line or members.get("number") != len(edits) + 1:
            raise _damaged(bad_line or line_number, name)
        try:
            edit = _edit(members, name)
            check_shape(edit)
            edits.append(edit)
        except (KeyError, TypeError, ValueError, OverflowError) as fault:
            raise Damaged(
                "ledger/shape",
                f"Line {line_number} of {name} is whole, but is no entry of a ledger. "
                "Bring this reading's folder back from a backup.",
            ) from fault
        whole = reached
    if _holds_an_entry(data[whole:]):
        raise _damaged(len(edits) + 1, name)
    return LedgerText(edits=tuple(edits), whole_bytes=whole)


def number_of_line(line: bytes) -> int | None:
    """Give the number of a line without its end; None where it is not whole."""
    members = _checked(line)
    return None if members is None else members.get("number")


def _holds_an_entry(end: bytes) -> bool:
    """Tell whether a whole entry stands behind a line whose own end was damaged."""
    return any(
        _checked(_HEAD + piece.partition(b"\n")[0]) is not None
        for piece in end.split(_HEAD)[1:]
        if b"\n" in piece
    )


def _damaged(line_number: int, name: str) -> Damaged:
    return Damaged(
        "ledger/damaged",
        f"Line {line_number} of {name} is not as it was written, and there "
        "are entries after it. Bring this reading's folder back from a backup.",
    )


def _checked(line: bytes) -> dict[str, Any] | None:
    rest = line[HEAD_BYTES:]
    if line[:HEAD_BYTES] != b'{"crc32":"%08x",' % zlib.crc32(rest):
        return None
    try:
        members: dict[str, Any] = json.loads(b"{" + rest)
    except (ValueError, RecursionError):
        return None
    return members


def _members(what: Happening) -> dict[str, Any]:
    match what:
        case Opened(facts=facts):
            return {
                "kind": "opened",
                "format": FORMAT,
                "reading_id": facts.reading_id,
                "programme_key": facts.programme_key,
                "programme_title": facts.programme_title,
                "publication": facts.publication,
                "issue_date": facts.issue_date.isoformat(),
                "readers": list(facts.readers),
                "air_date": None if facts.air_date is None else facts.air_date.isoformat(),
                "assignment_key": facts.assignment_key,
                "part": facts.part,
            }
        case TakeRolled():
            rolled = {
                "kind": "roll",
                "take": what.take,
                "sample_rate_hz": what.sample_rate_hz,
                "origin": what.origin,
            }
            if what.read_for is None:
                return rolled
            return {**rolled, "read_for": what.read_for, "first_take": what.first_take}
        case TakeSealed():
            return {
                "kind": "take",
                "take": what.take,
                "sample_rate_hz": what.sample_rate_hz,
                "samples": what.samples,
                "sha256": what.sha256,
                "origin": what.origin,
            }
        case Again():
            return {
                "kind": "again",
                "take": what.take,
                "mark": what.mark,
                "back_take": what.back_take,
                "back_sample": what.back_sample,
                "resume": what.resume,
                "lead_in": what.lead_in,
            }
        case Patch():
            return {
                "kind": "patch",
                "read_for": what.read_for,
                "begin": list(what.begin),
                "until": list(what.until),
                "start": list(what.start),
                "stop": list(what.stop),
            }
        case Cut():
            return {"kind": "cut", "take": what.take, "start": what.start, "stop": what.stop}
        case ArticleStarted():
            return {
                "kind": "article",
                "take": what.take,
                "sample": what.sample,
                "title": what.title,
            }
        case WordsBegun():
            return {
                "kind": "words",
                "which": what.which,
                "take": what.take,
                "sample": what.sample,
            }
        case SoundMissing():
            return {
                "kind": "missing",
                "take": what.take,
                "sample": what.sample,
                "samples": what.samples,
                "reason": what.reason,
            }
        case RoomChecked():
            return {
                "kind": "room",
                "file": what.file,
                "sha256": what.sha256,
                "facts": dict(what.facts),
            }
        case HandedIn(hand_in=hand_in):
            return {
                "kind": "hand-in",
                "place_page": hand_in.place_page,
                "place_headline": hand_in.place_headline,
                "recap": hand_in.recap,
                "remark": hand_in.remark,
                "tidied": list(hand_in.tidied),
            }
        case Decided():
            return {
                "kind": "decision",
                "start": list(what.start),
                "stop": list(what.stop),
                "finding": what.finding,
                "decision": what.decision,
                "remark": what.remark,
                "note": what.note,
            }
        case Remarked():
            return {"kind": "observation", "place": list(what.place), "text": what.text}
        case PlanDecided():
            return {
                "kind": "plan",
                "of": what.of,
                "what": what.what,
                "start": None if what.start is None else list(what.start),
                "stop": None if what.stop is None else list(what.stop),
                "wanted": what.wanted,
                "value": what.value,
            }
        case Undo():
            return {"kind": "undo", "of": what.of}
        case StateSet():
            return {"kind": "state", "state": what.state, "note": what.note}


def _edit(members: dict[str, Any], name: str) -> Edit:
    kind = members["kind"]
    if kind not in _READ or members.get("format", FORMAT) != FORMAT:
        raise Invalid(
            "ledger/newer",
            f"Entry {members['number']} of {name} was written by a newer Quietleaf "
            f"({kind!r}). Open this reading with that one.",
        )
    return Edit(
        number=members["number"],
        edit_id=members["id"],
        author=members["author"],
        at=datetime.fromisoformat(members["at"]).astimezone(UTC),
        revision=members["revision"],
        what=_READ[kind](members),
    )


def _opened(members: dict[str, Any]) -> Opened:
    air_date = members["air_date"]
    return Opened(
        facts=ReadingFacts(
            reading_id=members["reading_id"],
            programme_key=members["programme_key"],
            programme_title=members["programme_title"],
            publication=members["publication"],
            issue_date=date.fromisoformat(members["issue_date"]),
            readers=tuple(members["readers"]),
            air_date=None if air_date is None else date.fromisoformat(air_date),
            # Ledgers from before assignments had keys lack both.
            assignment_key=members.get("assignment_key"),
            part=members.get("part"),
        )
    )


def _words_begun(members: dict[str, Any]) -> WordsBegun:
    which = members["which"]
    if which not in ("opening", "closing"):
        raise ValueError(which)
    return WordsBegun(which=which, take=members["take"], sample=members["sample"])


def _handed_in(members: dict[str, Any]) -> HandedIn:
    return HandedIn(
        hand_in=HandIn(
            place_page=members["place_page"],
            place_headline=members["place_headline"],
            recap=members["recap"],
            remark=members["remark"],
            tidied=tuple(members["tidied"]),
        )
    )


def _decided(members: dict[str, Any]) -> Decided:
    (decision,) = (known for known in DECISIONS if known == members["decision"])
    (remark,) = (known for known in REMARK_KINDS if known == members["remark"])
    return Decided(
        start=_place(members["start"]),
        stop=_place(members["stop"]),
        finding=members["finding"],
        decision=decision,
        remark=remark,
        note=members["note"],
    )


def _place(pair: list[int]) -> Place:
    take, sample = pair
    return take, sample


def _plan_decided(members: dict[str, Any]) -> PlanDecided:
    (wanted,) = (known for known in WANTED if known == members["wanted"])
    start, stop, value = members["start"], members["stop"], members["value"]
    if value is not None and not math.isfinite(value):
        raise ValueError(value)
    return PlanDecided(
        of=members["of"],
        what=members["what"],
        start=None if start is None else _place(start),
        stop=None if stop is None else _place(stop),
        wanted=wanted,
        value=None if value is None else float(value),
    )


def _state_set(members: dict[str, Any]) -> StateSet:
    (state,) = (known for known in READING_STATES if known == members["state"])
    return StateSet(state=state, note=members["note"])


_READ: dict[str, Callable[[dict[str, Any]], Happening]] = {
    "opened": _opened,
    "roll": lambda line: TakeRolled(
        take=line["take"],
        sample_rate_hz=line["sample_rate_hz"],
        # Ledgers from before recording at the stand lack it.
        origin=line.get("origin", ""),
        # Those that join the programme have neither.
        read_for=line.get("read_for"),
        first_take=line.get("first_take"),
    ),
    "take": lambda line: TakeSealed(
        take=line["take"],
        sample_rate_hz=line["sample_rate_hz"],
        samples=line["samples"],
        sha256=line["sha256"],
        origin=line["origin"],
    ),
    "again": lambda line: Again(
        take=line["take"],
        mark=line["mark"],
        back_take=line["back_take"],
        back_sample=line["back_sample"],
        resume=line["resume"],
        # Ledgers from before lead-ins were kept lack it.
        lead_in=line.get("lead_in", 0),
    ),
    "patch": lambda line: Patch(
        read_for=line["read_for"],
        begin=_place(line["begin"]),
        until=_place(line["until"]),
        start=_place(line["start"]),
        stop=_place(line["stop"]),
    ),
    "cut": lambda line: Cut(take=line["take"], start=line["start"], stop=line["stop"]),
    "article": lambda line: ArticleStarted(
        take=line["take"], sample=line["sample"], title=line["title"]
    ),
    "words": _words_begun,
    "missing": lambda line: SoundMissing(
        take=line["take"],
        sample=line["sample"],
        samples=line["samples"],
        reason=line["reason"],
    ),
    "room": lambda line: RoomChecked(
        file=line["file"], sha256=line["sha256"], facts=dict(line["facts"])
    ),
    "hand-in": _handed_in,
    "decision": _decided,
    "observation": lambda line: Remarked(place=_place(line["place"]), text=line["text"]),
    "plan": _plan_decided,
    "undo": lambda line: Undo(of=line["of"]),
    "state": _state_set,
}
