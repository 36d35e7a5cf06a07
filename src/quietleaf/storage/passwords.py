"""Passwords, kept by a memory-hard hash with its salt and cost."""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Sequence

from quietleaf.errors import Invalid
from quietleaf.storage.hard_hash import SCRYPT_N, hard_hash

LETTERS_MIN, LETTERS_MAX = 12, 128
"""OWASP ASVS 5, 6.2.1 asks 8 and recommends 15; NIST SP 800-63B-4 asks 15 where there is no second
factor and 8 with one. Ours lies between. 6.2.9 asks that 64 letters are taken."""
EASY_GUESSES_LOG10 = 10.0
"""As many guesses as an estimate says must not be enough; what the library calls its highest score.
OWASP ASVS 5, 6.2.4 asks for the 3,000 most used to be refused: those fall far below."""
_LOOKED_AT = 72
"""So many letters of a password are looked at: the estimate takes longer with each."""
_NAME = "scrypt"


def kept_of(password: str, words: Sequence[str] = (), n: int | None = None) -> str:
    """Give what is kept of a password, with its salt and cost.

    Parameters
    ----------
    words : sequence of str
        What whoever knows the station would try first.

    Raises
    ------
    Invalid
        If it is too short or too long, or easily guessed.
    """
    if not LETTERS_MIN <= len(password) <= LETTERS_MAX:
        raise Invalid(
            "account/password",
            f"A password has {LETTERS_MIN} to {LETTERS_MAX} letters; this one has "
            f"{len(password)}. A few words that nobody would guess together are well.",
        )
    if _is_easy(password, words):
        raise Invalid(
            "account/password-easy",
            "This password is among the first that somebody would try: a common one, a row of keys "
            "or figures, or made of names from here. A few words that nobody would guess together "
            "are well.",
        )
    return _kept(password, n)


def _is_easy(password: str, words: Sequence[str]) -> bool:
    from zxcvbn import zxcvbn

    looked_at = password[:_LOOKED_AT]
    return bool(zxcvbn(looked_at, list(words))["guesses_log10"] < EASY_GUESSES_LOG10)


def take_as_long(password: str) -> None:
    """Hash a password for nobody: it takes as long as looking whether it is somebody's."""
    _kept(password[: LETTERS_MAX + 1], None)


def _kept(password: str, n: int | None) -> str:
    salt = secrets.token_bytes(16)
    cost = SCRYPT_N if n is None else n
    return f"{_NAME}${cost}${salt.hex()}${hard_hash(password, salt, cost).hex()}"


def is_password(password: str, kept: str) -> bool:
    """Say whether this is the password of which that was kept; it takes as long either way."""
    name, cost, salt, wanted = kept.split("$")
    assert name == _NAME, "no other way of keeping has been used"
    given = hard_hash(password[: LETTERS_MAX + 1], bytes.fromhex(salt), int(cost))
    return hmac.compare_digest(given.hex(), wanted)
