"""A reading set as a page of type: runs of ink a sentence, lines of about a minute, articles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from quietleaf.delivery.id3 import Chapter
from quietleaf.listening.findings import Severity
from quietleaf.work.heard_sound import HeardSound
from quietleaf.work.kept_hearing import KeptSentence
from quietleaf.work.things_to_decide import Thing

LINE_S = 60.0
PART_S = 4_000.0
"""A part of a page: an hour's programme fits one."""
THINGS_MOST, NOTES_MOST = 40, 200
"""More things to hear, or notes, begin another part."""
_NARROWEST = 0.8
"""Of a line, in percent: less of a mark would not be seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A stretch of a reading that is one page."""

    number: int
    start_s: float
    stop_s: float

    def holds(self, at_s: float) -> bool:
        """Say whether a time lies in it."""
        return self.start_s <= at_s < self.stop_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """The ink of a sentence, or what of it lies in one line.

    Attributes
    ----------
    left, width : float
        In percent of the line.
    start_s : float
        Where its sentence is played from.
    from_s, to_s : float
        What of the sound it stands for, the pause after it included.
    """

    left: float
    width: float
    start_s: float
    from_s: float
    to_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """What stands under a line where a thing to hear is."""

    left: float
    width: float
    severity: Severity
    key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line."""

    runs: tuple[Run, ...]
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Article:
    """What stands under one heading.

    Attributes
    ----------
    title : str
        Empty for what comes before the first article.
    goes_on : bool
        It began in the part before.
    """

    title: str
    start_s: float
    stop_s: float
    goes_on: bool
    sentences: int
    lines: tuple[Line, ...]
    things: tuple[Thing, ...]


def parts_of(heard: HeardSound, things: Sequence[Thing]) -> tuple[Part, ...]:
    """Cut a reading into pages, at sentences: one for an hour in which little was found."""
    starts = [0.0]
    for sentence in heard.sentences:
        found = [one for one in things if starts[-1] <= one.start_s < sentence.start_s]
        notes = sum(one.severity == "note" for one in found)
        is_long = sentence.start_s - starts[-1] >= PART_S
        if is_long or len(found) - notes > THINGS_MOST or notes > NOTES_MOST:
            starts.append(sentence.start_s)
    # What lies at the very end belongs to the last.
    stops = [*starts[1:], float("inf")]
    return tuple(
        Part(number=number, start_s=start_s, stop_s=stop_s)
        for number, (start_s, stop_s) in enumerate(zip(starts, stops, strict=True), start=1)
    )


def set_articles(heard: HeardSound, things: Sequence[Thing], part: Part) -> tuple[Article, ...]:
    """Set one part of a reading."""
    stop_s = min(part.stop_s, heard.duration_s)
    set_articles = []
    for chapter in _chapters(heard):
        first_s, last_s = max(chapter.start_s, part.start_s), min(chapter.end_s, stop_s)
        if first_s >= last_s:
            continue
        is_last = last_s >= heard.duration_s
        # An article may be marked a moment after its first word was begun.
        here = [one for one in heard.sentences if first_s <= (one.voice_s + one.end_s) / 2 < last_s]
        found = tuple(
            thing
            for thing in things
            if first_s <= thing.start_s and (thing.start_s < last_s or is_last)
        )
        set_articles.append(
            Article(
                title=chapter.title,
                start_s=first_s,
                stop_s=last_s,
                goes_on=chapter.start_s < part.start_s,
                sentences=len(here),
                lines=_lines(here, found, last_s),
                things=found,
            )
        )
    return tuple(set_articles)


def _chapters(heard: HeardSound) -> tuple[Chapter, ...]:
    """Give the articles, and what lies before the first as one without a title."""
    first_s = heard.articles[0].start_s if heard.articles else heard.duration_s
    before = Chapter(title="", start_s=0.0, end_s=first_s)
    return (before, *heard.articles) if first_s > 0.0 else heard.articles


def _lines(
    sentences: Sequence[KeptSentence], things: Sequence[Thing], stop_s: float
) -> tuple[Line, ...]:
    """Break sentences into lines, as type is broken; one that fills a line goes on in the next."""
    rows: list[list[tuple[KeptSentence, float, float]]] = []
    begin_s = 0.0
    for sentence in sentences:
        from_s = sentence.voice_s
        if not rows or sentence.end_s - begin_s > LINE_S:
            rows.append([])
            begin_s = from_s
        while sentence.end_s - from_s > LINE_S:
            rows[-1].append((sentence, from_s, from_s + LINE_S))
            from_s += LINE_S
            rows.append([])
            begin_s = from_s
        rows[-1].append((sentence, from_s, sentence.end_s))
    starts = [row[0][1] for row in rows]
    return tuple(
        _line(row, things, starts[index + 1] if index + 1 < len(rows) else stop_s, index == 0)
        for index, row in enumerate(rows)
    )


def _line(
    row: Sequence[tuple[KeptSentence, float, float]],
    things: Sequence[Thing],
    stop_s: float,
    is_first: bool,
) -> Line:
    begin_s = row[0][1]

    def percent(at_s: float) -> float:
        return round(min(max(100.0 * (at_s - begin_s) / LINE_S, 0.0), 100.0), 2)

    ends = [*(from_s for _, from_s, _ in row[1:]), stop_s]
    runs = tuple(
        Run(
            left=percent(from_s),
            width=round(percent(to_s) - percent(from_s), 2),
            start_s=sentence.start_s if from_s == sentence.voice_s else from_s,
            from_s=from_s,
            to_s=end_s,
        )
        for (sentence, from_s, to_s), end_s in zip(row, ends, strict=True)
    )
    marks = []
    for thing in things:
        # What lies before the first word of an article is marked under that.
        is_here = thing.start_s < stop_s and (thing.end_s > begin_s or thing.start_s >= begin_s)
        if not (is_here or (is_first and thing.start_s < begin_s)):
            continue
        left = min(percent(thing.start_s), 100.0 - _NARROWEST)
        width = max(_NARROWEST, percent(min(thing.end_s, stop_s)) - left)
        marks.append(Mark(left=left, width=round(width, 2), severity=thing.severity, key=thing.key))
    return Line(runs=runs, marks=tuple(marks))
