"""The words of one's own account."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from quietleaf.delivery.report_words import moment_words
from quietleaf.web.account_texts import (  # noqa: F401  # one word a thing
    FACTOR,
    NEW_PASSWORD,
    PASSWORD_HINT,
    TO_DAY,
    WAYS,
)
from quietleaf.work.own_account import SeenAccount

OWN_ACCOUNT = "Your account"
LEAD = "You are signed in as"
TO_STAND = "What you read today"
PASSWORD_TITLE = "Your password"
PASSWORD_LEAD = "Then you are signed out everywhere, here too; sign in with the new one."
PRESENT_PASSWORD = "Your present password"
CHANGE = "Change it"
FACTOR_WHY = (
    "With one, nobody comes in with your password alone: a program on your telephone shows six "
    "figures that change each half minute, and they are asked for too."
)
FACTOR_NONE = "You have none."
SET_UP = "Set one up"
REMOVE = "Remove it"
REMOVE_LEAD = "Then the password is enough again, and the recovery codes are worth nothing."
SETTING_UP = "Setting up a second factor"
SCAN = (
    "Let a program for one-time codes on your telephone look at this picture, or type the letters "
    "under it into the program."
)
PICTURE = "A picture for the telephone; the letters below say the same"
LETTERS = "The letters"
CODE = "The six figures that the telephone shows now"
CONFIRM = "Confirm"
CODES_TITLE = "Your recovery codes"
CODES_LEAD = (
    "Your second factor is set up. On the day when the telephone is gone, each of these lets you "
    "in once instead of the six figures. They are shown this once: write them down or print them, "
    "and keep them away from the telephone."
)
CODES = "Recovery codes"
DONE = "I have kept them"
BACK = "Leave it"
TOKENS = "Programs"
TO_TOKENS = "Tokens by which programs do what you may"
SESSIONS = "Where you are signed in"
END_SESSIONS = "Sign out everywhere"
FACTOR_REMOVED = "Your second factor is removed."


def sessions_words(seen: SeenAccount) -> str:
    """Say how many browsers are signed in."""
    count = len(seen.sessions)
    return "In this browser alone." if count == 1 else f"In {count} browsers."


def since_words(moment: datetime, zone: ZoneInfo) -> str:
    """Say since when a browser is signed in."""
    return f"since {moment_words(moment.astimezone(zone))}"


def factor_words(seen: SeenAccount, zone: ZoneInfo) -> str:
    """Say what second factor there is."""
    if seen.factor is None:
        return FACTOR_NONE
    left = seen.factor.recovery_codes_left
    codes = {0: "no recovery code is left", 1: "one recovery code is left"}.get(
        left, f"{left} recovery codes are left"
    )
    return f"You have one since {moment_words(seen.factor.since.astimezone(zone))}; {codes}."


def grouped(secret: str) -> str:
    """Set a secret in groups of four letters."""
    return " ".join(secret[at : at + 4] for at in range(0, len(secret), 4))
