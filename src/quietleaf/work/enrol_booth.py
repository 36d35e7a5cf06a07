"""Enrol a booth: the desk makes an address, and the browser that opens it becomes the booth."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from quietleaf.errors import NotAllowed, NotFound
from quietleaf.planning.booth import Booth
from quietleaf.planning.station import booth_named
from quietleaf.storage.tokens import Token, new_secret, sha256_of
from quietleaf.work.tools import Tools

GOOD_FOR = timedelta(hours=1)
_Purpose = Literal["enrol", "booth"]
_PURPOSES: tuple[_Purpose, ...] = ("enrol", "booth")


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenEnrolment:
    """How a booth stands.

    Attributes
    ----------
    since : datetime or None
        When a browser became this booth, aware UTC; None while none is.
    """

    booth: Booth
    since: datetime | None


def see_enrolment(booth_key: str, tools: Tools) -> SeenEnrolment:
    """Say whether some browser is this booth.

    Raises
    ------
    NotFound
        If the station has no such booth.
    """
    booth = booth_named(tools.database.load_station(), booth_key)
    live = [
        token
        for token in tools.database.tokens(purpose="booth", booth=booth_key)
        if token.is_live(tools.clock())
    ]
    return SeenEnrolment(booth=booth, since=live[-1].made_at if live else None)


def make_enrolment(booth_key: str, tools: Tools) -> str:
    """Give the secret of an address that makes one browser this booth, once, within an hour.

    An earlier one that nobody has used opens nothing from now on.

    Raises
    ------
    NotFound
        If the station has no such booth.
    """
    booth_named(tools.database.load_station(), booth_key)
    _end_all("enrol", booth_key, tools)
    secret = new_secret()
    now = tools.clock()
    tools.database.add_token(
        Token(
            sha256=sha256_of(secret),
            purpose="enrol",
            booth=booth_key,
            made_at=now,
            expires_at=now + GOOD_FOR,
        )
    )
    return secret


def see_enrolment_address(secret: str, tools: Tools) -> Booth:
    """Say which booth an address would make of a browser.

    Raises
    ------
    NotAllowed
        If it was used, or is too old.
    NotFound
        If no such address was made, or the booth is not there any more.
    """
    return booth_named(tools.database.load_station(), _live_enrolment(secret, tools).booth or "")


def enrol_booth(secret: str, tools: Tools) -> tuple[Booth, str]:
    """Make a browser the booth that an address is for; give the secret that it keeps.

    The browser that was this booth is none from now on.

    Raises
    ------
    NotAllowed
        If the address was used, or is too old.
    NotFound
        If no such address was made, or the booth is not there any more.
    """
    booth = see_enrolment_address(secret, tools)
    # Of two who open it at one moment the database tells one that they came first.
    if not tools.database.end_token(sha256_of(secret), tools.clock()):
        raise _used()
    _end_all("booth", booth.key, tools)
    kept = new_secret()
    tools.database.add_token(
        Token(sha256=sha256_of(kept), purpose="booth", booth=booth.key, made_at=tools.clock())
    )
    return booth, kept


def end_booth(booth_key: str, tools: Tools) -> None:
    """Let no browser be this booth any more, nor become it by an address that is still about."""
    for purpose in _PURPOSES:
        _end_all(purpose, booth_key, tools)


def booth_of(secret: str | None, tools: Tools) -> Booth:
    """Give the booth that a browser is.

    Raises
    ------
    NotAllowed
        If it is none, or no longer.
    """
    try:
        token = tools.database.token(sha256_of(secret or ""))
        if token.purpose == "booth" and token.is_live(tools.clock()):
            return booth_named(tools.database.load_station(), token.booth or "")
    except NotFound:
        pass  # no such secret, or the booth has left the plan: either way this is none
    raise NotAllowed(
        "booth/not-enrolled",
        "This browser is not one of the station's booths. Ask the desk to make it one; it takes "
        "a minute.",
    )


def _live_enrolment(secret: str, tools: Tools) -> Token:
    token = tools.database.token(sha256_of(secret))
    if token.purpose != "enrol":
        raise NotFound("booth/no-enrolment", "This address makes no booth. Ask the desk for one.")
    if token.ended_at is not None:
        raise _used()
    if not token.is_live(tools.clock()):
        raise NotAllowed(
            "booth/enrolment-old",
            "An address that makes a booth is good for one hour, and this one is older. Ask the "
            "desk for a new one.",
        )
    return token


def _used() -> NotAllowed:
    return NotAllowed(
        "booth/enrolment-used",
        "An address that makes a booth works once, and this one was used or replaced by a newer "
        "one. Ask the desk for a new one.",
    )


def _end_all(purpose: _Purpose, booth_key: str, tools: Tools) -> None:
    for token in tools.database.tokens(purpose=purpose, booth=booth_key):
        if token.ended_at is None:
            tools.database.end_token(token.sha256, tools.clock())
