"""Sitting down: a browser becomes the place of one reader, and of nobody else."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from quietleaf.errors import NotAllowed, NotFound
from quietleaf.storage.reading_places import PRACTICE
from quietleaf.storage.tokens import Token, new_secret, sha256_of
from quietleaf.work.enrol_booth import booth_of
from quietleaf.work.tools import Tools


@dataclass(frozen=True, slots=True, kw_only=True)
class Sitting:
    """Who sits before a browser, and what they have open.

    Attributes
    ----------
    booth : str or None
        Key of the booth; None at home.
    reading : str or None
        ``readings:<id>`` or ``practice:<id>``; None until something was chosen.
    practice : bool
        What is open is only practice.
    token : str
        The checksum by which the sitting is kept.
    expires_at : datetime or None
        Of a sitting at home, which lasts about as long as its link.
    """

    reader: str
    booth: str | None
    reading: str | None
    practice: bool
    token: str
    expires_at: datetime | None = None


def sitting_of(secret: str | None, tools: Tools) -> Sitting:
    """Give who sits before the browser that has this secret.

    Raises
    ------
    NotAllowed
        If nobody does, or no longer.
    """
    token = _live_sitting(secret, tools)
    if token is None or token.reader is None:
        raise NotAllowed(
            "stand/no-sitting",
            "The stand opens when you have come in, and nobody has in this browser just now. "
            "At a booth, choose your name; at home, open the personal link that the desk sent you.",
        )
    return Sitting(
        reader=token.reader,
        booth=token.booth,
        reading=token.reading,
        practice=(token.reading or "").startswith(f"{PRACTICE}:"),
        token=token.sha256,
        expires_at=token.expires_at,
    )


def sit_at_booth(name: str, booth_secret: str | None, tools: Tools) -> str:
    """Let a reader sit down at a booth, in place of whoever sat there; give the new secret.

    Parameters
    ----------
    name : str
        As the station has it.

    Raises
    ------
    NotAllowed
        If the browser is no booth.
    NotFound
        If the station has no reader of that name.
    """
    booth = booth_of(booth_secret, tools)
    if name not in tools.database.load_station().readers:
        raise NotFound(
            "stand/no-reader",
            "A name is chosen from the list of this station's readers; "
            + (f"{name!r} is not on it. " if name else "none was chosen. ")
            + "Choose yours, or ask the desk to put it there.",
        )
    _end_sittings(tools, booth=booth.key)
    return new_sitting(name, tools, booth=booth.key)


def new_sitting(
    reader: str,
    tools: Tools,
    *,
    booth: str | None = None,
    reading: str | None = None,
    expires_at: datetime | None = None,
) -> str:
    """Begin a sitting and give its secret."""
    secret = new_secret()
    tools.database.add_token(
        Token(
            sha256=sha256_of(secret),
            purpose="sitting",
            booth=booth,
            reader=reader,
            reading=reading,
            made_at=tools.clock(),
            expires_at=expires_at,
        )
    )
    return secret


def take_up(place: str, sitting: Sitting, tools: Tools) -> str:
    """Go on sitting with a reading before one; give the secret that takes the old one's place."""
    secret = new_sitting(
        sitting.reader,
        tools,
        booth=sitting.booth,
        reading=place,
        expires_at=sitting.expires_at,
    )
    tools.database.end_token(sitting.token, tools.clock())
    return secret


def get_up(secret: str | None, tools: Tools) -> None:
    """End a sitting; one that has ended already, or never was, is well."""
    token = _live_sitting(secret, tools)
    if token is not None:
        tools.database.end_token(token.sha256, tools.clock())


def end_home_sittings(reader: str, tools: Tools) -> None:
    """End every sitting of a reader that is at no booth."""
    for token in tools.database.tokens(purpose="sitting", reader=reader):
        if token.booth is None and token.ended_at is None:
            tools.database.end_token(token.sha256, tools.clock())


def _end_sittings(tools: Tools, *, booth: str) -> None:
    for token in tools.database.tokens(purpose="sitting", booth=booth):
        if token.ended_at is None:
            tools.database.end_token(token.sha256, tools.clock())


def _live_sitting(secret: str | None, tools: Tools) -> Token | None:
    if not secret:
        return None
    try:
        token = tools.database.token(sha256_of(secret))
    except NotFound:
        return None
    return token if token.purpose == "sitting" and token.is_live(tools.clock()) else None
