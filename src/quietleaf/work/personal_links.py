"""Personal links: an address by which one reader comes in from home, for a while."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from quietleaf.errors import Invalid, NotAllowed, NotFound
from quietleaf.planning.words import written_date
from quietleaf.storage.tokens import Token, new_secret, sha256_of
from quietleaf.storage.zones import zone_named
from quietleaf.work.sit_down import end_home_sittings, new_sitting
from quietleaf.work.tools import Tools

USUAL_DAYS, MOST_DAYS = 14, 366
_AT_LEAST = timedelta(hours=12)
"""Who came in while the link was good is not put out in the middle of an hour."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonalLink:
    """A link as the desk sees it.

    Attributes
    ----------
    sha256 : str
        Names it; its secret is known to nobody but the reader.
    made_at, expires_at : datetime
        Aware UTC.
    ended_at : datetime or None
        When it was revoked.
    is_live : bool
        It lets the reader in at this moment.
    """

    sha256: str
    made_at: datetime
    expires_at: datetime
    ended_at: datetime | None
    is_live: bool


def make_link(reader: str, days: int, tools: Tools) -> str:
    """Give the secret of a link that lets a reader in from home for so many days.

    Raises
    ------
    NotFound
        If the station has no such reader.
    Invalid
        If it is no sensible number of days.
    """
    _refuse_unknown(reader, tools)
    if not 1 <= days <= MOST_DAYS:
        raise Invalid(
            "link/days", f"A personal link is good for 1 to {MOST_DAYS} days; {days} came."
        )
    secret = new_secret()
    now = tools.clock()
    tools.database.add_token(
        Token(
            sha256=sha256_of(secret),
            purpose="link",
            reader=reader,
            made_at=now,
            expires_at=now + timedelta(days=days),
        )
    )
    return secret


def links_of(reader: str, tools: Tools) -> tuple[PersonalLink, ...]:
    """Give a reader's links, the newest first.

    Raises
    ------
    NotFound
        If the station has no such reader.
    """
    _refuse_unknown(reader, tools)
    now = tools.clock()
    return tuple(
        PersonalLink(
            sha256=token.sha256,
            made_at=token.made_at,
            expires_at=token.expires_at or token.made_at,
            ended_at=token.ended_at,
            is_live=token.is_live(now),
        )
        for token in reversed(tools.database.tokens(purpose="link", reader=reader))
    )


def revoke_link(reader: str, sha256: str, tools: Tools) -> None:
    """Let nobody in by a link any more, and end what it opened.

    What a page at home has recorded and not sent yet still arrives: it goes by a pass of its own.

    Raises
    ------
    NotFound
        If the reader has no such link.
    """
    if sha256 not in {link.sha256 for link in links_of(reader, tools)}:
        raise NotFound("link/unknown", f"{reader} has no such link. Load the page again.")
    tools.database.end_token(sha256, tools.clock())
    # A sitting does not say which link it came by, so that all of this reader's at home end.
    end_home_sittings(reader, tools)


def see_link(secret: str, tools: Tools) -> Token:
    """Give what a link opens, without opening it.

    Raises
    ------
    NotFound
        If no such link was made, or its reader has left the plan.
    NotAllowed
        If it was revoked, or its days are over.
    """
    token = tools.database.token(sha256_of(secret))
    if token.purpose != "link" or token.reader is None:
        raise NotFound("link/unknown", "This is no personal link. Ask the desk for one.")
    _refuse_unknown(token.reader, tools)
    if token.ended_at is not None:
        raise NotAllowed(
            "link/revoked",
            "The desk has closed this personal link. If you read from home, ask for a new one; it "
            "takes a minute.",
        )
    if not token.is_live(tools.clock()):
        zone = zone_named(tools.database.load_station().zone)
        ended = token.expires_at or token.made_at
        raise NotAllowed(
            "link/expired",
            f"This personal link was good until {written_date(ended.astimezone(zone).date())}. Ask "
            "the desk for a new one; what you have recorded is kept.",
        )
    return token


def open_link(secret: str, tools: Tools) -> str:
    """Let a reader sit down at home; give the secret of the sitting.

    Raises
    ------
    NotFound, NotAllowed
        As in `see_link`.
    """
    link = see_link(secret, tools)
    assert link.reader is not None, "a link without a reader was refused"
    at_least = tools.clock() + _AT_LEAST
    return new_sitting(
        link.reader,
        tools,
        expires_at=at_least if link.expires_at is None else max(link.expires_at, at_least),
    )


def _refuse_unknown(reader: str, tools: Tools) -> None:
    if reader not in tools.database.load_station().readers:
        raise NotFound(
            "link/no-reader",
            f"A personal link is for one of this station's readers, and {reader!r} is none of "
            "them. Ask the desk.",
        )
