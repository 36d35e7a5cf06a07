"""Tokens: what lets a browser in, each for one purpose. Only the checksum of a secret is kept."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from quietleaf.planning.account import Scope

TokenPurpose = Literal["enrol", "booth", "link", "sitting", "pass", "session", "api"]
_SECRET_BYTES = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class Token:
    """What is kept of a secret.

    Attributes
    ----------
    purpose : str
        ``enrol`` makes a browser a booth, once; ``booth`` is that browser; ``link`` lets a reader
        in from home; ``sitting`` is one reader at the stand; ``pass`` lets a page send sound for
        one reading; ``session`` is an account that has signed in; ``api`` lets a program do what
        an account may.
    account : str or None
        Its name.
    reading : str or None
        ``readings:<id>`` or ``practice:<id>``.
    name : str
        What a person calls it; of ``api`` alone, as are the next two.
    scopes : tuple of Scope
        What it may be used for.
    used_at : datetime or None
        When it was last used, to the minute; None where it never was.
    made_at, expires_at, ended_at : datetime
        Aware UTC. One that never expires has None; so has one that was not ended.
    """

    sha256: str
    purpose: TokenPurpose
    made_at: datetime
    booth: str | None = None
    reader: str | None = None
    reading: str | None = None
    account: str | None = None
    expires_at: datetime | None = None
    ended_at: datetime | None = None
    name: str = ""
    scopes: tuple[Scope, ...] = ()
    used_at: datetime | None = None

    def is_live(self, now: datetime) -> bool:
        """Say whether it opens anything at this moment."""
        return self.ended_at is None and (self.expires_at is None or now < self.expires_at)


def new_secret() -> str:
    """Make a secret of 256 random bits, as it stands in an address or a cookie."""
    return secrets.token_urlsafe(_SECRET_BYTES)


def sha256_of(secret: str) -> str:
    """Give what is kept of a secret.

    A plain checksum is enough: nobody guesses 256 random bits, so none needs slowing down.
    """
    return hashlib.sha256(secret.encode()).hexdigest()
