"""The words of programs' tokens."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from quietleaf.delivery.report_words import moment_words
from quietleaf.planning.account import Scope
from quietleaf.storage.tokens import Token

TOKENS = "Tokens for programs"
LEAD = (
    "A program that shows a token may do what this account may, within what you choose here. It "
    "asks at /api; what there is to ask stands in /api/openapi.json."
)
NEW = "A new token"
SECRET = "The token"
SHOWN_ONCE = "It is shown here this once. Give it to the program now, and to nobody else."
NAME = "Which program has it"
SCOPES = "What it may be used for"
SCOPE_WORDS: dict[Scope, str] = {
    "see": "See: days, readings and their files, messages",
    "plan": "Plan: programmes, readers, booths, assignments, and ways in for readers",
    "clear": "Clear: decide about readings, return and clear them",
    "accounts": "Accounts: add, change and end them, and see what was changed",
}
DAYS = "Days that it is good for"
AGAIN = "Your password, once more"
MAKE = "Make it"
THERE = "Tokens that were made"
NONE = "No program has one."
END = "End it"
TO_OWN = "Your account"
NO_SCOPES = "This account may give none: there is nothing in it for programs."
NEEDED_DAYS = "A token is good for some days, such as 90. Write a whole number."


def tokens_of(name: str, is_own: bool) -> str:
    """Title the page of an account's tokens."""
    return TOKENS if is_own else f"{TOKENS}: {name}"


def token_words(token: Token, now: datetime, zone: ZoneInfo) -> str:
    """Say what a token is for, and how it stands."""
    parts = [f"for {', '.join(token.scopes)}", f"made {_moment(token.made_at, zone)}"]
    if token.ended_at is not None:
        parts.append(f"ended {_moment(token.ended_at, zone)}")
    elif token.expires_at is not None:
        word = "good until" if token.is_live(now) else "ran out"
        parts.append(f"{word} {_moment(token.expires_at, zone)}")
    used = "never used" if token.used_at is None else f"last used {_moment(token.used_at, zone)}"
    return ", ".join([*parts, used])


def _moment(at: datetime, zone: ZoneInfo) -> str:
    return moment_words(at.astimezone(zone))
