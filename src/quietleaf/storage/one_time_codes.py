"""Codes of a second factor: those a telephone makes of a shared secret and the time, and those on
paper for the day on which the telephone is gone.

What a telephone makes is HOTP (RFC 4226) of half minutes, that is TOTP (RFC 6238), with the values
that every such program takes for granted: SHA-1, six figures, thirty seconds.
"""

from __future__ import annotations

import base64
import hmac
import re
import secrets
import struct

FIGURES = 6
STEP_S = 30
STEPS_ASIDE = 1
"""A clock may be half a minute off either way (RFC 6238, 5.2)."""
RECOVERY_CODES = 10
_SECRET_BYTES = 20
"""RFC 4226, section 4, R6 recommends 160 bits."""
_RECOVERY_BYTES = 15
"""120 bits: nobody guesses them, and a plain checksum is kept (OWASP ASVS 5, 6.5.2 asks 112)."""


def new_factor_secret() -> str:
    """Make a secret of 160 random bits, in base32 as it is typed into a telephone."""
    return base64.b32encode(secrets.token_bytes(_SECRET_BYTES)).decode()


def step_at(seconds: float) -> int:
    """Give the number of the half minute that a moment lies in.

    Parameters
    ----------
    seconds : float
        Since the beginning of 1970, UTC.
    """
    return int(seconds // STEP_S)


def code_of_step(secret: str, step: int, figures: int = FIGURES) -> str:
    """Give the code of a half minute.

    Examples
    --------
    The first vector of RFC 4226, appendix D.

    >>> code_of_step(base64.b32encode(b"12345678901234567890").decode(), 0)
    '755224'
    """
    digest = hmac.digest(base64.b32decode(secret), struct.pack(">Q", step), "sha1")
    # RFC 4226, 5.3: the last four bits say where 31 bits are taken.
    at = digest[-1] & 15
    number = int.from_bytes(digest[at : at + 4], "big") & 0x7FFFFFFF
    return f"{number % 10**figures:0{figures}d}"


def step_of_code(secret: str, code: str, seconds: float) -> int | None:
    """Find the half minute about a moment that has this code; None where none has."""
    now = step_at(seconds)
    for step in range(now - STEPS_ASIDE, now + STEPS_ASIDE + 1):
        if hmac.compare_digest(code_of_step(secret, step).encode(), code.encode()):
            return step
    return None


def typed_code(text: str) -> str:
    """Give a code as it was meant: blanks and hyphens do not count, nor do capitals."""
    return re.sub(r"[\s-]", "", text).upper()


def new_recovery_codes() -> tuple[str, ...]:
    """Make codes that let in once each, in groups of four to be written down."""
    return tuple(_in_groups(secrets.token_bytes(_RECOVERY_BYTES)) for _ in range(RECOVERY_CODES))


def _in_groups(random: bytes) -> str:
    letters = base64.b32encode(random).decode()
    return "-".join(letters[at : at + 4] for at in range(0, len(letters), 4))
