"""Invented news texts, whose words come back as those of real ones do, and stay no false starts.

Headlines whose words open the next sentence, lists, refrains, speech that is quoted twice,
sentences that begin alike: what the ear knows for a text, and what a comparison of sounds may take
for a sentence that was read again.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

_PLACES = (
    "Mill Lane", "Copper Street", "the harbour", "the old market", "Station Road", "the reservoir",
    "the town hall", "Chapel Hill", "the swimming pool", "the north bridge", "the library",
    "Orchard Square", "the hospital", "the bus depot", "River Walk", "the castle park",
)  # fmt: skip
_THINGS = (
    "bench", "footbridge", "night bus", "fish market", "fountain", "clock tower", "ferry",
    "playground", "tram stop", "notice board", "bakery", "car park", "cycle path", "museum",
    "choir", "water main", "film club", "post office", "lighthouse", "allotment",
)  # fmt: skip
_WHO = (
    "the mayor", "the council", "a neighbour", "the police", "the harbour master", "the school",
    "a spokeswoman", "the fire brigade", "the parish", "the water company", "two students",
    "the head teacher", "a visitor from the coast", "the gardeners",
)  # fmt: skip
_DID = (
    "is back", "is closed", "opens again on Monday", "moves to the west side", "needs money",
    "has a new roof", "loses its licence", "stays where it is", "turns a hundred years old",
    "will be repaired", "was stolen overnight", "is to be sold", "gets a second chance",
)  # fmt: skip
_MORE = (
    "after eleven months of work", "although nobody had asked for it", "because the pipes froze",
    "which surprised everyone who lives there", "with forty guests and a brass band",
    "for the third time since the spring", "and the neighbours brought cake",
    "as soon as the weather allows", "in spite of the heavy rain", "before the end of the year",
    "at a cost of nine thousand pounds", "while the traffic waited", "and will be heard in court",
    "so the children have to walk", "if enough people sign the letter",
)  # fmt: skip
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_NUMBERS = ("first", "second", "third", "fourth", "fifth")
_HOURS = ("eight", "nine", "ten", "noon", "three", "five", "half past six", "seven")
_SAID = ("said", "told us", "wrote", "believes", "made it clear")

Texts = tuple[str, ...]


def made_texts(draw: np.random.Generator) -> Texts:
    """Invent a few sentences that belong together, in order."""
    return _SORTS[int(draw.integers(len(_SORTS)))](draw)


def begun_alike(text: str, draw: np.random.Generator) -> str:
    """Begin as a text does, by its first 2 to 5 words, and go on otherwise."""
    words = text.rstrip(".").split()
    kept = words[: min(len(words) - 1, int(draw.integers(2, 6)))]
    return f"{' '.join(kept)} {_one(draw, _DID)} {_one(draw, _MORE)}."


def _one(draw: np.random.Generator, of: tuple[str, ...]) -> str:
    return of[int(draw.integers(len(of)))]


def _plain(draw: np.random.Generator) -> Texts:
    thing, place = _one(draw, _THINGS), _one(draw, _PLACES)
    return tuple(
        text[0].upper() + text[1:]
        for text in (
            f"{_one(draw, _WHO)} {_one(draw, _SAID)} that the {thing} near {place}"
            f" {_one(draw, _DID)} {_one(draw, _MORE)}.",
            f"on {_one(draw, _DAYS)} the {_one(draw, _THINGS)} was full {_one(draw, _MORE)}.",
            f"nobody at {_one(draw, _PLACES)} {_one(draw, _SAID)} why, {_one(draw, _MORE)}.",
        )[: int(draw.integers(1, 4))]
    )


def _headline(draw: np.random.Generator) -> Texts:
    thing, place, did = _one(draw, _THINGS), _one(draw, _PLACES), _one(draw, _DID)
    head = f"The {thing} at {place} {did}."
    leads = (
        f"The {thing} at the far end of {place}, {_one(draw, _MORE)}, {did}.",
        f"The {thing} at {place}, {_one(draw, _MORE)}, {_one(draw, _DID)}.",
        f"The {thing} {did} {_one(draw, _MORE)}.",
        f"The {thing} at {place} {_one(draw, _DID)} {_one(draw, _MORE)}.",
        f"The {_one(draw, _THINGS)} at {place} {did} {_one(draw, _MORE)}.",
    )
    heads = (head, f"Correction: the {thing}.", f"{place[0].upper() + place[1:]} {did}.",
             f"The {thing} {did}.", f"The {thing} at {place}.")  # fmt: skip
    return (_one(draw, heads), _one(draw, leads), *_plain(draw)[:1])


def _list(draw: np.random.Generator) -> Texts:
    thing = _one(draw, _THINGS)
    some = draw.permutation(len(_PLACES))[:4]
    numbered = zip(_NUMBERS[:4], some, strict=True)
    openings = (
        [f"The {number} {thing} is at {_PLACES[at]}." for number, at in numbered],
        [f"{day}, from {_one(draw, _HOURS)} to {_one(draw, _HOURS)}." for day in _DAYS[:4]],
        [f"The {thing} at {_PLACES[at]} {_one(draw, _DID)}." for at in some[:3]],
        [f"At {_one(draw, _HOURS)} the {thing} {_one(draw, _DID)}." for _ in range(3)],
    )  # fmt: skip
    return tuple(openings[int(draw.integers(len(openings)))])


def _quoted(draw: np.random.Generator) -> Texts:
    who, said = _one(draw, _WHO), _one(draw, _SAID)
    who = who[0].upper() + who[1:]
    place = _one(draw, _PLACES)
    return (
        f"{who} {said} that the {_one(draw, _THINGS)} {_one(draw, _DID)} {_one(draw, _MORE)}.",
        f"{who} {said} that {place} {_one(draw, _DID)}.",
        f"{who} also {said} that the {_one(draw, _THINGS)} {_one(draw, _DID)}.",
    )


def _verse(draw: np.random.Generator) -> Texts:
    refrain = f"And the wind went over {_one(draw, _PLACES)}."
    lines = [
        f"The {_one(draw, _THINGS)} {_one(draw, _DID)}, {_one(draw, _MORE)}." for _ in range(3)
    ]
    same = _one(draw, _THINGS)
    return (
        lines[0], refrain, f"O {same}, {_one(draw, _MORE)},", f"O {same}, {_one(draw, _DID)},",
        lines[1], refrain.replace("And", "But"),
    )  # fmt: skip


def _alike(draw: np.random.Generator) -> Texts:
    (first, *_) = _plain(draw)
    return (first, begun_alike(first, draw))


_SORTS: tuple[Callable[[np.random.Generator], Texts], ...] = (
    _plain, _plain, _headline, _headline, _headline, _list, _quoted, _verse, _alike,
)  # fmt: skip
