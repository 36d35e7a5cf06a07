"""How fast a reader reads, from the opening words: their text is known, and where they end."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from quietleaf.booth.edits import ArticleStarted, WordsBegun
from quietleaf.booth.replay import counting
from quietleaf.booth.timeline import Span
from quietleaf.errors import Invalid, NotFound
from quietleaf.planning.station import programme_named
from quietleaf.planning.words import fill_words
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.work.check_room import PACE_WPM
from quietleaf.work.reading_words import words_for
from quietleaf.work.tools import Tools

_NEW_SHARE = 0.5
"""What was measured last counts as much as all before it."""


def keep_pace_of(folder: ReadingFolder, reader: str, tools: Tools) -> None:
    """Keep a reader's pace, as the opening words of a reading show it.

    They last from where they were begun to the first article after them, less what has left the
    programme. Nothing is kept where either mark is missing, the programme has no such words, or
    what comes out is no pace that anybody reads at.
    """
    spoken_s = _opening_s(folder)
    words = _opening_words(folder, tools)
    if spoken_s is None or words == 0:
        return
    words_per_min = 60.0 * words / spoken_s
    if not PACE_WPM[0] <= words_per_min <= PACE_WPM[1]:
        return
    before = tools.database.pace(reader)
    mixed = (
        words_per_min
        if before is None
        else _NEW_SHARE * words_per_min + (1.0 - _NEW_SHARE) * before
    )
    tools.database.keep_pace(reader, mixed, tools.clock())


def _opening_s(folder: ReadingFolder) -> float | None:
    """Give how long the opening words last in the programme; None where they are not marked."""
    happened = [edit.what for edit in counting(folder.standing)]
    begun = [what for what in happened if isinstance(what, WordsBegun) and what.which == "opening"]
    if not begun:
        return None
    whole = folder.timeline()
    start = (begun[-1].take, begun[-1].sample)
    articles = ((what.take, what.sample) for what in happened if isinstance(what, ArticleStarted))
    after = [place for place in articles if whole.rank(place) > whole.rank(start)]
    if not after:
        return None
    rates = {take.take: take.sample_rate_hz for take in folder.takes()}
    upto = whole.spans_before(min(after, key=whole.rank))
    before = whole.spans_before(start)
    return _length_s(upto, rates) - _length_s(before, rates) or None


def _length_s(spans: Sequence[Span], rates: Mapping[int, int]) -> float:
    return sum((span.stop - span.start) / rates[span.take] for span in spans)


def _opening_words(folder: ReadingFolder, tools: Tools) -> int:
    facts = folder.facts
    station = tools.database.load_station()
    try:
        programme = programme_named(station, facts.programme_key)
        given = words_for(facts, programme.title, station)
        return len(fill_words(programme.opening_words, given).split())
    except (NotFound, Invalid):
        # It was taken out of the plan, or its words were changed, while it was being read.
        return 0
