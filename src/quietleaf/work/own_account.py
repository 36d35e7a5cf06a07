"""What one does to one's own account, the password given again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from quietleaf.errors import NotAllowed
from quietleaf.planning.account import Account
from quietleaf.storage.passwords import is_password
from quietleaf.work.accounts import change_password, end_sessions
from quietleaf.work.second_factor import FACTOR_ROLES, SeenFactor, see_factor
from quietleaf.work.sign_in import Doorkeeper, is_open, keys_of
from quietleaf.work.tools import Tools


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenAccount:
    """One's own account.

    Attributes
    ----------
    sessions : tuple of datetime
        When each that has not ended began, the newest first.
    may_have_factor : bool
        It is the desk's or a steward's.
    """

    account: Account
    sessions: tuple[datetime, ...]
    factor: SeenFactor | None
    may_have_factor: bool


def see_own_account(account: Account, tools: Tools) -> SeenAccount:
    """Give what its owner is shown."""
    tokens = tools.database.tokens(purpose="session", account=account.name)
    now = tools.clock()
    return SeenAccount(
        account=account,
        sessions=tuple(token.made_at for token in reversed(tokens) if is_open(token, now)),
        factor=see_factor(account.name, tools),
        may_have_factor=not FACTOR_ROLES.isdisjoint(account.roles),
    )


def prove_owner(
    account: Account, password: str, address: str, doorkeeper: Doorkeeper, tools: Tools
) -> None:
    """Ask for the password again; wrong ones are counted as those at signing in.

    Raises
    ------
    NotAllowed
        If it is not the account's.
    Unavailable
        If there were too many wrong ones just now.
    """
    keys = keys_of(account.name, address)
    with doorkeeper.trying(keys, tools.clock()):
        fits = is_password(password, account.password)
        if not fits:
            doorkeeper.told_wrong(keys, tools.clock())
    if not fits:
        raise NotAllowed(
            "account/own-password",
            "This is not the password with which you sign in. Look whether capitals are locked, "
            "and type it again.",
        )
    doorkeeper.told_right(keys[0])


def change_own_password(
    account: Account,
    password: str,
    new_password: str,
    address: str,
    doorkeeper: Doorkeeper,
    tools: Tools,
) -> None:
    """Give one's account another password; every session ends, this one too.

    Raises
    ------
    NotAllowed, Unavailable
        As `prove_owner`.
    Invalid
        If the new password is too short or too long.
    """
    prove_owner(account, password, address, doorkeeper, tools)
    change_password(account.name, new_password, tools)


def end_own_sessions(account: Account, tools: Tools) -> None:
    """Sign out everywhere."""
    end_sessions(account, tools)
