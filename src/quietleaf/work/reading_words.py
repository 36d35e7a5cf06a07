"""What the blanks of a reading's opening and closing words are filled with."""

from __future__ import annotations

from quietleaf.booth.reading import ReadingFacts
from quietleaf.errors import Invalid
from quietleaf.planning.programme import Programme
from quietleaf.planning.station import Station
from quietleaf.planning.words import WordsFor, WordsPart, filled_parts
from quietleaf.work.check_words import NO_WORDS, SetWords


def words_for(facts: ReadingFacts, programme: str, station: Station) -> WordsFor:
    """Gather it.

    Parameters
    ----------
    programme : str
        Its title: as the plan has it now, or as the reading was opened.
    """
    return WordsFor(
        service=station.name,
        programme=programme,
        publication=facts.publication,
        issue_date=facts.issue_date,
        readers=facts.readers,
        part=facts.part,
    )


def set_words(
    facts: ReadingFacts, programme: Programme | None, station: Station | None
) -> SetWords:
    """Write out a reading's opening and closing words; empty where they are not to be had."""
    if programme is None or station is None:
        return NO_WORDS
    given = words_for(facts, programme.title, station)
    return SetWords(
        opening=_parts(programme.opening_words, given),
        closing=_parts(programme.closing_words, given),
    )


def _parts(words: str, given: WordsFor) -> tuple[WordsPart, ...]:
    try:
        return filled_parts(words, given)
    except Invalid:
        # It was brought in without what a blank wants, or the plan was changed meanwhile.
        return ()
