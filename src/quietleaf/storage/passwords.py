"""Passwords, kept by a memory-hard hash: scrypt (RFC 7914)."""

from __future__ import annotations

import hashlib
import hmac
import secrets

from quietleaf.errors import Invalid

LETTERS_MIN, LETTERS_MAX = 12, 128
"""OWASP ASVS 5, 6.2.1 asks 8 and recommends 15; NIST SP 800-63B-4 asks 15 where there is no second
factor and 8 with one. Ours lies between. 6.2.9 asks that 64 letters are taken."""
SCRYPT_N, SCRYPT_R, SCRYPT_P = 1 << 17, 8, 1
"""128 MB and a few tenths of a second for each try: OWASP, Password Storage Cheat Sheet."""
_NAME = "scrypt"


def kept_of(password: str, n: int | None = None) -> str:
    """Give what is kept of a password, with its salt and cost.

    Raises
    ------
    Invalid
        If it is too short or too long.
    """
    if not LETTERS_MIN <= len(password) <= LETTERS_MAX:
        raise Invalid(
            "account/password",
            f"A password has {LETTERS_MIN} to {LETTERS_MAX} letters; this one has "
            f"{len(password)}. A few words that nobody would guess together are well.",
        )
    salt = secrets.token_bytes(16)
    cost = SCRYPT_N if n is None else n
    return f"{_NAME}${cost}${salt.hex()}${_hash(password, salt, cost).hex()}"


def is_password(password: str, kept: str) -> bool:
    """Say whether this is the password of which that was kept; it takes as long either way."""
    name, cost, salt, wanted = kept.split("$")
    assert name == _NAME, "no other way of keeping has been used"
    given = _hash(password[: LETTERS_MAX + 1], bytes.fromhex(salt), int(cost))
    return hmac.compare_digest(given.hex(), wanted)


def _hash(password: str, salt: bytes, n: int) -> bytes:
    return hashlib.scrypt(
        password.encode(),
        salt=salt,
        n=n,
        r=SCRYPT_R,
        p=SCRYPT_P,
        # What it needs, and as much again: the library refuses otherwise.
        maxmem=2 * 128 * n * SCRYPT_R,
        dklen=32,
    )
