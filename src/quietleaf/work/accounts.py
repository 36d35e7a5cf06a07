"""Accounts: the steward adds them, says what they may do, and ends them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from quietleaf.errors import Conflict, Invalid, NotFound
from quietleaf.planning.account import ROLES, Account, Role
from quietleaf.storage.passwords import kept_of
from quietleaf.work.plan_reader import refuse_erased
from quietleaf.work.sit_down import end_home_sittings
from quietleaf.work.tools import Tools

LONGEST_NAME = 80
_ADDRESSES = ("new", "deeds", ".", "..")


def accounts_of(tools: Tools) -> tuple[Account, ...]:
    """Give all accounts that have not ended, by name."""
    return tuple(account for account in tools.database.accounts.all() if account.is_live)


def add_account(name: str, roles: Sequence[str], password: str, tools: Tools) -> Account:
    """Add an account; the first one is a steward's.

    Raises
    ------
    Invalid
        If the name is empty, too long, unfit or taken, no role was chosen, or the password is too
        short or easily guessed.
    Conflict
        If the first account is no steward's.
    """
    name = " ".join(name.split())
    if not 0 < len(name) <= LONGEST_NAME:
        raise Invalid(
            "account/name", f"A name has 1 to {LONGEST_NAME} letters; this one has {len(name)}."
        )
    if "/" in name or name.casefold() in _ADDRESSES or not name.isprintable():
        raise Invalid(
            "account/name-unfit",
            f"{name!r} cannot be the name of an account: a name is in the address of its page. "
            "Write it without a slash, and otherwise than a page of accounts is named.",
        )
    refuse_erased(name, tools)
    chosen, kept = _roles(roles), kept_of(password, _known_here(name, tools))
    _refuse_no_reader(name, chosen, tools)

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
        If no role was chosen, or a reader's for whom the plan has no reader.
    Conflict
        If nobody would be left who keeps accounts.
    """
    chosen = _roles(roles)
    _refuse_no_reader(find_account(name, tools).name, chosen, tools)
    return _changed(name, lambda account: replace(account, roles=chosen), tools)


def change_password(name: str, password: str, tools: Tools) -> Account:
    """Give an account another password; everybody who is signed in with it is signed out.

    Raises
    ------
    NotFound
        If there is no such account.
    Invalid
        If the password is too short, too long or easily guessed.
    """
    kept = kept_of(password, _known_here(name, tools))
    changed = _changed(name, lambda account: replace(account, password=kept), tools)
    end_sessions(changed, tools)
    return changed


def end_account(name: str, tools: Tools) -> None:
    """End an account, its sessions and its tokens; its name stays in the audit list.

    Raises
    ------
    NotFound
        If there is no such account.
    Conflict
        If nobody would be left who keeps accounts.
    """
    ended = _changed(name, lambda account: replace(account, ended_at=tools.clock()), tools)
    end_sessions(ended, tools)
    tools.database.accounts.end_tokens(ended.name, "api", tools.clock())
    tools.database.factors.remove(ended.name)


def end_sessions(account: Account, tools: Tools) -> None:
    """End every session of an account, and what its reader sits at from home."""
    tools.database.accounts.end_tokens(account.name, "session", tools.clock())
    if "reader" in account.roles:
        end_home_sittings(account.name, tools)


def refuse_last_steward(name: str, tools: Tools) -> None:
    """Refuse to do without the account that alone keeps accounts.

    Raises
    ------
    Conflict
        If it is that one.
    """
    _refuse_no_steward([one for one in accounts_of(tools) if one.name != name])


def find_account(name: str, tools: Tools) -> Account:
    """Give an account that has not ended.

    Raises
    ------
    NotFound
        If there is none of that name.
    """
    return _live(name, [tools.database.accounts.find(name)])


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


def _refuse_no_reader(name: str, roles: Sequence[Role], tools: Tools) -> None:
    if "reader" in roles and name not in _readers(tools):
        raise Invalid(
            "account/no-reader",
            f"The plan has no reader {name}. A reader’s account has the name by which the plan "
            "knows them: add the reader there first, or leave that role away.",
        )


def _known_here(name: str, tools: Tools) -> tuple[str, ...]:
    """Give words of this station that are no part of a good password."""
    try:
        station = tools.database.load_station().name
    except NotFound:
        station = ""
    return ("quietleaf", name, *name.split(), station, *station.split())


def _readers(tools: Tools) -> tuple[str, ...]:
    try:
        return tools.database.load_station().readers
    except NotFound:
        return ()


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
