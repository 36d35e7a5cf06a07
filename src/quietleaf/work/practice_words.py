"""What is read for practice: opening words, a short invented item with a page turn, closing words.

The Kettle Bridge, Marrowby and its Courier are invented, as all of the example's world is.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from quietleaf.booth.reading import ReadingFacts
from quietleaf.planning.words import WordsFor, fill_words

PracticeKind = Literal["practice", "try-out"]
KINDS: tuple[PracticeKind, ...] = ("practice", "try-out")
PROGRAMME_KEY = "practice"
VISITOR = "A visitor"
"""Stands for the reader where nobody said who it is."""
SAY_YOUR_NAME = "(say your name)"

TITLES: dict[PracticeKind, str] = {
    "practice": "A Practice Reading",
    "try-out": "Your Own Voice",
}
PUBLICATION = "The Marrowby Courier"
OPENING_WORDS = (
    "This is the {service}. You are listening to a practice reading from {publication} of "
    "{issue_date}. The reader is {reader}."
)
CLOSING_WORDS = (
    "That was a practice reading from {publication} of {issue_date}, read by {reader} for everyone "
    "who cannot read print."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticePage:
    """A page of the paper; where another follows, a sentence goes on over the turn."""

    heading: str
    paragraphs: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeWords:
    """What is to be read.

    Attributes
    ----------
    opening_words, closing_words : str
        Written out; empty in a try-out, where anything may be said.
    pages : tuple of PracticePage
        Empty in a try-out.
    """

    kind: PracticeKind
    title: str
    publication: str
    opening_words: str
    pages: tuple[PracticePage, ...]
    closing_words: str


PAGES = (
    PracticePage(
        heading="Kettle Bridge opens again",
        paragraphs=(
            "After eleven weeks behind a fence, the Kettle Bridge opened to walkers on Tuesday "
            "morning. The first to cross was Perrin Oakes, who is ninety-one and had waited by "
            "the fence since seven.",
            "“I was carried over it before I could walk,” he said, “and I mean to use it while I "
            "still can.” The town council says that carts and cars must go on using the ford at "
            "Sallow Lane until",
        ),
    ),
    PracticePage(
        heading="Kettle Bridge, continued from page one",
        paragraphs=(
            "the spring, when the last of the new stones is laid. They come from the quarry that "
            "gave the old ones, two hundred and six years ago.",
            "There will be tea on the bridge on Saturday from three o’clock. Bring your own cup: "
            "the council has forty, and expects more of you than that.",
        ),
    ),
)
"""About 140 words: a minute at the usual pace, with one turn in the middle of a sentence."""


def practice_of(facts: ReadingFacts, service: str = "") -> PracticeWords | None:
    """Give what is read for practice; None for a real reading.

    Parameters
    ----------
    service : str
        The station's name, as the opening words say it.
    """
    kind = practice_kind(facts)
    if kind is None:
        return None
    guided = kind == "practice"
    readers = tuple(SAY_YOUR_NAME if name == VISITOR else name for name in facts.readers)
    given = WordsFor(
        service=service or "reading service",
        programme=facts.programme_title,
        publication=facts.publication,
        issue_date=facts.issue_date,
        readers=readers,
    )
    return PracticeWords(
        kind=kind,
        title=facts.programme_title,
        publication=facts.publication if guided else "",
        opening_words=fill_words(OPENING_WORDS, given) if guided else "",
        pages=PAGES if guided else (),
        closing_words=fill_words(CLOSING_WORDS, given) if guided else "",
    )


def practice_kind(facts: ReadingFacts) -> PracticeKind | None:
    """Say which kind of practice a reading is; None for a real one."""
    if facts.programme_key != PROGRAMME_KEY:
        return None
    return next((kind for kind in KINDS if facts.reading_id.startswith(f"{kind}-")), None)
