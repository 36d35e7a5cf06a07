"""Accounts: who may do what at the desk."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, get_args

Role = Literal["reader", "reviewer", "desk", "steward"]
ROLES: tuple[Role, ...] = get_args(Role)

Scope = Literal["see", "plan", "clear", "accounts"]
"""What a token may be used for: to look, to plan, to decide about readings, to keep accounts."""
SCOPES: tuple[Scope, ...] = get_args(Scope)
SCOPE_ROLES: dict[Scope, frozenset[Role]] = {
    "see": frozenset({"reviewer", "desk", "steward"}),
    "plan": frozenset({"desk", "steward"}),
    "clear": frozenset({"reviewer", "desk"}),
    "accounts": frozenset({"steward"}),
}
"""An account with one of these roles may give a token this scope; what the token then reaches is
still asked of the account's roles, as they are at that moment."""


def scopes_for(roles: Collection[Role]) -> tuple[Scope, ...]:
    """Give the scopes that an account of these roles may give.

    Examples
    --------
    >>> scopes_for(["reviewer"])
    ('see', 'clear')
    """
    return tuple(scope for scope in SCOPES if not SCOPE_ROLES[scope].isdisjoint(roles))


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """Somebody who can sign in.

    Attributes
    ----------
    name : str
        By which they sign in; capitals do not matter.
    roles : tuple of Role
        At least one, in the order of `ROLES`.
    password : str
        What is kept of it; never the password itself.
    made_at, ended_at : datetime
        Aware UTC; None while it has not ended.
    """

    name: str
    roles: tuple[Role, ...]
    password: str
    made_at: datetime
    ended_at: datetime | None = None

    @property
    def is_live(self) -> bool:
        """It lets somebody in."""
        return self.ended_at is None


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """A line of the audit list: who changed what, and when.

    Attributes
    ----------
    at : datetime
        Aware UTC.
    who : str
        The account; empty for the station's own machine before there are accounts.
    what : str
        The request that was answered, as its role row names it.
    about : str
        The address it was made to.
    token : str
        Name of the token that it was done by; empty where somebody did it by the pages.
    """

    at: datetime
    who: str
    what: str
    about: str
    token: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Factor:
    """What an account is asked for beside its password.

    Attributes
    ----------
    account : str
        Its name.
    secret : str
        Which the telephone shares, in base32. Codes are made of it, so that it is kept as it is.
    begun_at, confirmed_at : datetime
        Aware UTC; it counts once a code of it was seen.
    last_step : int
        The last half minute whose code was used; none counts twice.
    """

    account: str
    secret: str
    begun_at: datetime
    confirmed_at: datetime | None = None
    last_step: int = 0
