"""Sitting down to practise, and getting up again."""

from __future__ import annotations

from dataclasses import dataclass

from quietleaf.errors import NotFound
from quietleaf.storage.reading_places import PRACTICE, place_of
from quietleaf.storage.tokens import Token, TokenPurpose, sha256_of
from quietleaf.work.practice import begin_practice, leave_practice
from quietleaf.work.practice_words import VISITOR, PracticeKind
from quietleaf.work.sit_down import new_sitting
from quietleaf.work.tools import Tools


@dataclass(frozen=True, slots=True, kw_only=True)
class Practising:
    """Somebody who sat down to practise.

    Attributes
    ----------
    secret : str
        Of the sitting.
    before : str
        The secret of the sitting that they come back to afterwards; empty where there is none.
    """

    secret: str
    before: str


def sit_to_practise(kind: PracticeKind, sitting: str, booth: str, tools: Tools) -> Practising:
    """Begin a practice for whoever sits in a browser; a reader of the station goes by their name.

    Parameters
    ----------
    sitting, booth : str
        Secrets that the browser has, live or not; empty where it has none.

    Raises
    ------
    Unavailable
        If too many practise already.
    """
    sat = live_token(sitting, "sitting", tools)
    at_booth = live_token(booth, "booth", tools)
    if sat is not None and _is_practice(sat):
        # Begun anew: of one browser one practice is open at most.
        leave_practice(sat.reading or "", tools)
        sat = None
    reader = sat.reader if sat is not None and sat.reader else VISITOR
    booth_key = at_booth.booth if at_booth is not None else sat.booth if sat is not None else None
    folder = begin_practice(kind, tools, reader)
    secret = new_sitting(
        reader, tools, booth=booth_key, reading=place_of(PRACTICE, folder.facts.reading_id)
    )
    return Practising(secret=secret, before=sitting if sat is not None else "")


def practice_of_sitting(sitting: str, tools: Tools) -> str | None:
    """Give the place of the practice that a browser sits before; None where it does not."""
    sat = live_token(sitting, "sitting", tools)
    return sat.reading if sat is not None and _is_practice(sat) else None


def live_token(secret: str, purpose: TokenPurpose, tools: Tools) -> Token | None:
    """Find what a secret opens; None where it opens nothing of this purpose (any more)."""
    try:
        token = tools.database.token(sha256_of(secret))
    except NotFound:
        return None
    return token if token.purpose == purpose and token.is_live(tools.clock()) else None


def _is_practice(sat: Token) -> bool:
    return (sat.reading or "").startswith(f"{PRACTICE}:")
