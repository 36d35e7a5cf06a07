"""The memory-hard hash of what people choose as secrets: scrypt (RFC 7914)."""

from __future__ import annotations

import hashlib

SCRYPT_N = 1 << 17
_R, _P = 8, 1
"""128 MB and a few tenths of a second for each try: OWASP, Password Storage Cheat Sheet."""
HASH_BYTES = 32


def hard_hash(secret: str, salt: bytes, n: int) -> bytes:
    """Hash a secret, `HASH_BYTES` long.

    Parameters
    ----------
    n : int
        The cost, a power of two: `SCRYPT_N`, or what was kept with an older hash.
    """
    return hashlib.scrypt(
        secret.encode(),
        salt=salt,
        n=n,
        r=_R,
        p=_P,
        # What it needs, and as much again: the library refuses otherwise.
        maxmem=2 * 128 * n * _R,
        dklen=HASH_BYTES,
    )
