"""A second factor: who has the password of a desk's account alone does not come in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from quietleaf.errors import Conflict, Invalid, NotAllowed, NotFound
from quietleaf.planning.account import Account, Factor, Role
from quietleaf.storage.one_time_codes import (
    FIGURES,
    new_factor_secret,
    new_recovery_codes,
    step_of_code,
    typed_code,
)
from quietleaf.storage.tokens import sha256_of
from quietleaf.work.accounts import end_sessions, find_account
from quietleaf.work.tools import Tools

FACTOR_ROLES: frozenset[Role] = frozenset({"desk", "steward"})
BEGUN = timedelta(minutes=15)
"""So long a secret that was shown can be confirmed. Ours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenFactor:
    """The second factor of an account, as its owner sees it."""

    since: datetime
    recovery_codes_left: int


def see_factor(name: str, tools: Tools) -> SeenFactor | None:
    """Give the second factor of an account; None where none counts."""
    factor = tools.database.factors.find(name)
    if factor is None or factor.confirmed_at is None:
        return None
    left = tools.database.factors.count_recovery_codes(name)
    return SeenFactor(since=factor.confirmed_at, recovery_codes_left=left)


def begin_factor(account: Account, tools: Tools) -> str:
    """Make a secret for the telephone, and give it; it counts after `confirm_factor`.

    Raises
    ------
    NotAllowed
        If the account is neither the desk's nor a steward's.
    Conflict
        If it has a second factor.
    """
    if FACTOR_ROLES.isdisjoint(account.roles):
        raise NotAllowed(
            "factor/role",
            "A second factor is for accounts of the desk and of stewards; this one is neither.",
        )
    secret, at = new_factor_secret(), tools.clock()
    tools.database.factors.begin(Factor(account=account.name, secret=secret, begun_at=at))
    return secret


def begun_secret(name: str, tools: Tools) -> str:
    """Give the secret that was begun a short while ago.

    Raises
    ------
    Conflict
        If none was, or it is too long ago, or it was confirmed.
    """
    return _begun(name, tools).secret


def confirm_factor(name: str, code: str, tools: Tools) -> tuple[str, ...]:
    """Let the secret that was begun count from now on; give the recovery codes, this once.

    Raises
    ------
    Conflict
        If none was begun, or it is too long ago.
    Invalid
        If the code is not the telephone's.
    """
    factor = _begun(name, tools)
    step = step_of_code(factor.secret, typed_code(code), tools.clock().timestamp())
    if step is None:
        raise Invalid(
            "factor/code",
            f"The code has {FIGURES} figures and changes each half minute; this one is not the "
            "present one. Look whether the telephone's clock is right, and type the next.",
        )
    codes = new_recovery_codes()
    sums = [sha256_of(typed_code(one)) for one in codes]
    if not tools.database.factors.confirm(factor, step, sums, tools.clock()):
        raise _gone()
    return codes


def remove_factor(name: str, tools: Tools) -> None:
    """Take a second factor away; from then on the password is enough.

    Raises
    ------
    NotFound
        If the account has none.
    """
    if not tools.database.factors.remove(name):
        raise NotFound("factor/none", f"The account {name} has no second factor.")


def remove_factor_of(name: str, tools: Tools) -> None:
    """Take the second factor of somebody else away, who lost it; they are signed out everywhere.

    Raises
    ------
    NotFound
        If there is no such account, or it has none.
    """
    account = find_account(name, tools)
    remove_factor(account.name, tools)
    end_sessions(account, tools)


def factor_fits(name: str, code: str, tools: Tools) -> bool:
    """Say whether a code lets an account in, and use it up; any does where there is no factor."""
    factor = tools.database.factors.find(name)
    if factor is None or factor.confirmed_at is None:
        return True
    typed = typed_code(code)
    step = step_of_code(factor.secret, typed, tools.clock().timestamp())
    if step is not None:
        return tools.database.factors.use_step(name, step)
    return tools.database.factors.use_recovery_code(name, sha256_of(typed), tools.clock())


def _begun(name: str, tools: Tools) -> Factor:
    factor = tools.database.factors.find(name)
    if (
        factor is None
        or factor.confirmed_at is not None
        or tools.clock() >= factor.begun_at + BEGUN
    ):
        raise _gone()
    return factor


def _gone() -> Conflict:
    return Conflict(
        "factor/not-begun",
        "No second factor is being set up just now, or it was begun too long ago. Begin again.",
    )
