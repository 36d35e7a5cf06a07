"""Tokens of programs: a program that shows one may do what its account may, within its scopes."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from quietleaf.errors import Conflict, Invalid, NotFound
from quietleaf.planning.account import SCOPES, Account, Scope, scopes_for
from quietleaf.storage.tokens import Token, new_secret, sha256_of
from quietleaf.work.accounts import find_account
from quietleaf.work.tools import Tools

USUAL_DAYS, MOST_DAYS = 90, 366
LONGEST_NAME = 60
MOST_TOKENS = 20
"""Of one account at one time. Ours: more are never looked through."""
_USE_KEPT = timedelta(minutes=1)


def make_token(
    account: str, name: str, scopes: Sequence[str], days: int, tools: Tools
) -> tuple[Token, str]:
    """Let a program do what an account may; give what is kept of it, and its secret, this once.

    Raises
    ------
    NotFound
        If there is no such account.
    Invalid
        If it has no fit name, no scope, one that the account may not give, or an unfit number of
        days.
    Conflict
        If the account has a live token of that name, or too many.
    """
    owner = find_account(account, tools)
    name = " ".join(name.split())
    if not 0 < len(name) <= LONGEST_NAME or not name.isprintable():
        raise Invalid(
            "token/name",
            f"A token has a name of 1 to {LONGEST_NAME} letters that says which program has it; "
            f"this one has {len(name)}.",
        )
    if not 1 <= days <= MOST_DAYS:
        raise Invalid("token/days", f"A token is good for 1 to {MOST_DAYS} days; {days} came.")
    live = tuple(token for token in tokens_of(owner.name, tools) if token.is_live(tools.clock()))
    if any(token.name.casefold() == name.casefold() for token in live):
        raise Conflict(
            "token/taken",
            f"{owner.name} has a token {name} already. End that one first, or call this one "
            "otherwise.",
        )
    if len(live) >= MOST_TOKENS:
        raise Conflict(
            "token/many",
            f"An account has at most {MOST_TOKENS} tokens at one time. End one that is not used.",
        )
    secret, now = new_secret(), tools.clock()
    token = Token(
        sha256=sha256_of(secret),
        purpose="api",
        account=owner.name,
        name=name,
        scopes=_scopes(scopes, owner),
        made_at=now,
        expires_at=now + timedelta(days=days),
    )
    tools.database.add_token(token)
    return token, secret


def tokens_of(account: str, tools: Tools) -> tuple[Token, ...]:
    """Give an account's tokens, live and ended, the newest first.

    Raises
    ------
    NotFound
        If there is no such account.
    """
    name = find_account(account, tools).name
    return tuple(reversed(tools.database.tokens(purpose="api", account=name)))


def end_token(account: str, sha256: str, tools: Tools) -> None:
    """End a token: from now on it opens nothing.

    Raises
    ------
    NotFound
        If the account has no such token.
    """
    if sha256 not in {token.sha256 for token in tokens_of(account, tools)}:
        raise NotFound("token/none", f"{account} has no such token. Load the page again.")
    tools.database.end_token(sha256, tools.clock())


def holder_of(secret: str, tools: Tools) -> tuple[Account, Token] | None:
    """Give the account and the token of a secret that a program shows; None if it opens nothing."""
    try:
        token = tools.database.token(sha256_of(secret))
        now = tools.clock()
        if token.purpose != "api" or token.account is None or not token.is_live(now):
            return None
        account = find_account(token.account, tools)
    except NotFound:
        return None
    if token.used_at is None or now - token.used_at >= _USE_KEPT:
        tools.database.accounts.use_token(token.sha256, now)
    return account, token


def _scopes(names: Sequence[str], owner: Account) -> tuple[Scope, ...]:
    chosen = tuple(scope for scope in SCOPES if scope in names)
    if not chosen:
        raise Invalid(
            "token/scopes",
            f"A token may be used for one thing or more: {', '.join(SCOPES)}. None was chosen.",
        )
    beyond = [scope for scope in chosen if scope not in scopes_for(owner.roles)]
    if beyond:
        raise Invalid(
            "token/beyond",
            f"A token never may more than its account. {owner.name} may not give: "
            f"{', '.join(beyond)}. Leave that out.",
        )
    return chosen
