"""What the blanks of a reading's opening and closing words are filled with."""

from __future__ import annotations

from quietleaf.booth.reading import ReadingFacts
from quietleaf.planning.station import Station
from quietleaf.planning.words import WordsFor


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
