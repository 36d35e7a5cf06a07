"""Whether opening and closing words were read: in order, with the right date, number and names."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from quietleaf.listening.expected_words import DatePieces, Piece, PieceKind, pieces_of
from quietleaf.listening.findings import Severity
from quietleaf.listening.speech_graph import SpokenWord
from quietleaf.listening.verdict import Ground

WordsState = Literal["read", "differs", "not read", "not checked"]

READ_SHARE = 0.5
"""With less of the words than this found, they count as not read. Ours."""
SLOWEST_WORD_S = 0.65
"""A word of a slow reader, pauses counted; with `AROUND_S` of anything before the words or after
them. Ours."""
AROUND_S = 8.0
WRONG_NAME_SHARE = 0.3
"""So much of a name must be missing: of two or three words one, of four to six two. Ours."""
FEWEST_MISSING = 3
"""So many fixed words in a row that are left out are a finding: fewer are a slip. Ours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WordsFinding:
    """A place where something else was heard than is written.

    Attributes
    ----------
    kind : PieceKind
        What the written words are: ``word`` for fixed ones.
    start_s, end_s : float
        Seconds from the start of what was heard.
    expected, heard : str
        As it is written; as it was heard, lower-case but for weekdays and months, empty where that
        cannot be told.
    """

    kind: PieceKind
    start_s: float
    end_s: float
    severity: Severity
    expected: str
    heard: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PartCheck:
    """What was found of the opening or the closing words.

    Attributes
    ----------
    start_s, end_s : float or None
        Where they were read; None where they were not, or nobody checked.
    why_not : str
        A sentence, where they were not checked; else empty.
    """

    state: WordsState
    start_s: float | None = None
    end_s: float | None = None
    findings: tuple[WordsFinding, ...] = ()
    why_not: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WordsCheck:
    """What was found of both; None for a part that has no words."""

    opening: PartCheck | None
    closing: PartCheck | None


def not_checked(why_not: str) -> PartCheck:
    """Say that some words were not checked, and why."""
    return PartCheck(state="not checked", why_not=why_not)


def grounds_of_words(check: WordsCheck) -> tuple[Ground, ...]:
    """Say what in the words speaks against sending a programme out.

    Notes
    -----
    Words that are missing and a wrong date or number stop it at any review depth, a wrong name asks
    for an ear: names are told less surely. Common practice, no source.
    """
    grounds: list[Ground] = []
    for name, part in (("opening", check.opening), ("closing", check.closing)):
        if part is None:
            continue
        if part.state == "not read":
            grounds.append(Ground(text=f"The {name} words were not heard.", weight="stop"))
            continue
        differing = [finding for finding in part.findings if finding.severity == "hear"]
        stops = any(words_stop(part, finding) for finding in differing)
        if differing:
            places = "places" if len(differing) > 1 else "place"
            text = f"The {name} words differ from what is written, in {len(differing)} {places}."
            grounds.append(Ground(text=text, weight="stop" if stops else "ear"))
    return tuple(grounds)


def words_stop(part: PartCheck, finding: WordsFinding) -> bool:
    """Say whether a place in the words keeps a reading from going out at any review depth."""
    return part.state == "not read" or finding.kind not in ("word", "name")


def words_to_hear(check: WordsCheck) -> int:
    """Count the places in the words that ask for a person; words that were not heard are one."""
    return sum(
        finding.severity == "hear"
        for part in (check.opening, check.closing)
        if part is not None
        for finding in part.findings
    )


def listened_s(words: Sequence[Piece | DatePieces]) -> float:
    """Say how much of a recording is listened to for some words: a slow reading of them."""
    spoken = sum(len(piece.ways[0]) for piece in pieces_of(words))
    return AROUND_S + SLOWEST_WORD_S * spoken


def compared(
    words: Sequence[Piece | DatePieces],
    said: Sequence[SpokenWord],
    start_s: float,
    end_s: float,
) -> PartCheck:
    """Hold what was said against what was written.

    Parameters
    ----------
    said : sequence of SpokenWord
        The way through the graph of these words that lies best on the sound.
    start_s, end_s : float
        The range in which they were listened for.
    """
    pieces = pieces_of(words)
    places = _places(said)
    found = sum(_is_right(piece, places.get(index)) for index, piece in enumerate(pieces))
    if found < READ_SHARE * len(pieces):
        missing = WordsFinding(
            kind="word",
            start_s=start_s,
            end_s=end_s,
            severity="hear",
            expected=" ".join(piece.text for piece in pieces),
            heard="",
        )
        return PartCheck(state="not read", findings=(missing,))
    findings = tuple(
        _finding(pieces, group, places, start_s, end_s) for group in _groups(pieces, places)
    )
    heard = list(places.values())
    wanted = any(finding.severity == "hear" for finding in findings)
    return PartCheck(
        state="differs" if wanted else "read",
        start_s=min(place[0].start_s for place in heard),
        end_s=max(place[-1].end_s for place in heard),
        findings=findings,
    )


def _places(said: Sequence[SpokenWord]) -> dict[int, list[SpokenWord]]:
    """Give the words that were said for each piece; what was said again counts."""
    places: dict[int, list[SpokenWord]] = {}
    before: int | None = None
    for one in said:
        if one.piece is not None:
            if one.piece != before:
                places[one.piece] = []
            places[one.piece].append(one)
        before = one.piece
    return places


def _is_right(piece: Piece, place: list[SpokenWord] | None) -> bool:
    return place is not None and tuple(one.word for one in place) in piece.ways


def _groups(pieces: Sequence[Piece], places: dict[int, list[SpokenWord]]) -> list[range]:
    """Give the ranges of pieces that make one finding each."""
    groups: list[range] = []
    at = 0
    while at < len(pieces):
        stop = _end_of_group(pieces, places, at)
        named = [one for one in range(at, stop) if pieces[one].kind == pieces[at].kind]
        wrong = sum(not _is_right(pieces[one], places.get(one)) for one in named)
        least = {"word": FEWEST_MISSING, "name": WRONG_NAME_SHARE * len(named)}
        if wrong and wrong >= least.get(pieces[at].kind, 1):
            groups.append(range(at, stop))
        at = stop
    return groups


def _end_of_group(pieces: Sequence[Piece], places: dict[int, list[SpokenWord]], start: int) -> int:
    """Say where the group ends that begins here: a whole name, or fixed words not heard."""
    piece = pieces[start]
    if piece.kind == "name":
        return 1 + max(one for one, other in enumerate(pieces) if other.name == piece.name)
    stop = start + 1
    if piece.kind == "word" and start not in places:
        while stop < len(pieces) and pieces[stop].kind == "word" and stop not in places:
            stop += 1
    return stop


def _heard(kind: PieceKind, said: Sequence[SpokenWord]) -> str:
    if kind in ("name", "word"):
        return ""
    heard = " ".join(one.word for one in said)
    return heard.capitalize() if kind in ("weekday", "month") else heard


def _finding(
    pieces: Sequence[Piece],
    group: range,
    places: dict[int, list[SpokenWord]],
    start_s: float,
    end_s: float,
) -> WordsFinding:
    said = [one for index in group for one in places.get(index, [])]
    kind = pieces[group[0]].kind
    before = [place[-1].end_s for index, place in places.items() if index < group.start]
    after = [place[0].start_s for index, place in places.items() if index >= group.stop]
    first_s = max(before, default=start_s)
    last_s = max(min(after, default=end_s), first_s)
    if said and kind != "name":
        first_s, last_s = said[0].start_s, said[-1].end_s
    return WordsFinding(
        kind=kind,
        start_s=first_s,
        end_s=last_s,
        severity="note" if kind == "year" and not said else "hear",
        expected=" ".join(pieces[index].text for index in group),
        heard=_heard(kind, said),
    )
