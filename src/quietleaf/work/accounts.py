"""Accounts: the steward adds them, says what they may do, and ends them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from quietleaf.errors import Conflict, Invalid, NotFound
from quietleaf.planning.account import ROLES, Account, Role
from quietleaf.storage.passwords import kept_of
from quietleaf.work.tools import Tools

LONGEST_NAME = 80


def accounts_of(tools: Tools) -> tuple[Account, ...]:
    """Give all accounts that have not ended, by name."""
    return tuple(account for account in tools.database.accounts.all() if account.is_live)


def add_account(name: str, roles: Sequence[str], password: str, tools: Tools) -> Account:
    """Add an account; the first one is a steward's.

    Raises
    ------
    Invalid
        If the name is empty, too long or taken, no role was chosen, the password is too short, or
        the first account is no steward's.
    """
    name = " ".join(name.split())
    if not 0 < len(name) <= LONGEST_NAME:
        raise Invalid(
            "account/name", f"A name has 1 to {LONGEST_NAME} letters; this one has {len(name)}."
        )
    chosen, kept = _roles(roles), kept_of(password)

    def decide(there: tuple[Account, ...]) -> Account:
        if any(one.name.casefold() == name.casefold() for one in there):
            # One that has ended keeps its name too: the audit list must not speak of two.
            raise Invalid(
                "account/taken",
                f"There is, or was, an account {name}. Add what tells them apart.",
            )
        added = Account(name=name, roles=chosen, password=kept, made_at=tools.clock())
        _refuse_no_steward((*there, added))
        return added

    return tools.database.accounts.change(decide)


def change_roles(name: str, roles: Sequence[str], tools: Tools) -> Account:
    """Give an account other roles; whoever is signed in with it has them from now on.

    Raises
    ------
    NotFound
        If there is no such account.
    Invalid
        If no role was chosen.
    Conflict
        If nobody would be left who keeps accounts.
    """
    chosen = _roles(roles)
    return _changed(name, lambda account: replace(account, roles=chosen), tools)


def change_password(name: str, password: str, tools: Tools) -> Account:
    """Give an account another password; everybody who is signed in with it is signed out.

    Raises
    ------
    NotFound
        If there is no such account.
    Invalid
        If the password is too short or too long.
    """
    kept = kept_of(password)
    changed = _changed(name, lambda account: replace(account, password=kept), tools)
    tools.database.accounts.end_sessions(changed.name, tools.clock())
    return changed


def end_account(name: str, tools: Tools) -> None:
    """End an account and every session of it; its name stays in the audit list.

    Raises
    ------
    NotFound
        If there is no such account.
    Conflict
        If nobody would be left who keeps accounts.
    """
    ended = _changed(name, lambda account: replace(account, ended_at=tools.clock()), tools)
    tools.database.accounts.end_sessions(ended.name, tools.clock())


def find_account(name: str, tools: Tools) -> Account:
    """Give an account that has not ended.

    Raises
    ------
    NotFound
        If there is none of that name.
    """
    return _live(name, tools.database.accounts.all())


def _live(name: str, accounts: Sequence[Account]) -> Account:
    for account in accounts:
        if account.is_live and account.name.casefold() == name.casefold():
            return account
    raise NotFound("account/unknown", f"There is no account {name!r} at this station.")


def _changed(name: str, change: Callable[[Account], Account], tools: Tools) -> Account:
    def decide(there: tuple[Account, ...]) -> Account:
        account = _live(name, there)
        changed = change(account)
        _refuse_no_steward(tuple(changed if one.name == account.name else one for one in there))
        return changed

    return tools.database.accounts.change(decide)


def _roles(names: Sequence[str]) -> tuple[Role, ...]:
    chosen = tuple(role for role in ROLES if role in names)
    if not chosen:
        raise Invalid(
            "account/roles",
            "An account has one role or more; none was chosen. Choose what it may do.",
        )
    return chosen


def _refuse_no_steward(accounts: Sequence[Account]) -> None:
    if not any(account.is_live and "steward" in account.roles for account in accounts):
        raise Conflict(
            "account/no-steward",
            "Nobody would be left who keeps accounts. The first account is a steward's, and the "
            "last steward's stays until there is another.",
        )
