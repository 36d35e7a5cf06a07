"""How pieces of a backup are named and, if asked, sealed with a passphrase.

AES-256 in Galois/counter mode (NIST SP 800-38D), the key wrapped under one that scrypt (RFC 7914)
makes of the passphrase. Names are keyed too, so that they tell nothing of what is in a piece.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

from quietleaf.errors import Damaged, Invalid
from quietleaf.storage.hard_hash import HASH_BYTES, SCRYPT_N, hard_hash

PASSPHRASE_LETTERS = 12
"""The least. NIST SP 800-63B asks 8 of a secret that is tried against a server that can refuse;
a backup that was carried away can be tried for years. Ours."""
_NONCE_BYTES = 12
_WRAPPING = b"quietleaf backup key"


class Sealing(Protocol):
    """Names pieces and seals them."""

    def name(self, piece: bytes) -> str:
        """Name a piece by what is in it: 64 hexadecimal digits."""

    def seal(self, piece: bytes, name: str, /) -> bytes:
        """Give what is put on the disk."""

    def unseal(self, sealed: bytes, name: str, /) -> bytes:
        """Give the piece again.

        Raises
        ------
        Damaged
            If it is not what was sealed under this name, where that can be told.
        """


class Open:
    """Pieces lie as they are, named by their SHA-256; other things by any name."""

    def name(self, piece: bytes) -> str:
        """See `Sealing.name`."""
        return hashlib.sha256(piece).hexdigest()

    def seal(self, piece: bytes, _name: str, /) -> bytes:
        """See `Sealing.seal`."""
        return piece

    def unseal(self, sealed: bytes, _name: str, /) -> bytes:
        """See `Sealing.unseal`."""
        return sealed


@dataclass(frozen=True, slots=True)
class Sealed:
    """Pieces are sealed under a key of 32 bytes."""

    key: bytes = field(repr=False)

    def name(self, piece: bytes) -> str:
        """See `Sealing.name`."""
        return hmac.digest(_derived(self.key, b"names"), piece, "sha256").hex()

    def seal(self, piece: bytes, name: str, /) -> bytes:
        """See `Sealing.seal`."""
        return _encrypted(_derived(self.key, b"pieces"), piece, name.encode())

    def unseal(self, sealed: bytes, name: str, /) -> bytes:
        """See `Sealing.unseal`."""
        piece = _decrypted(_derived(self.key, b"pieces"), sealed, name.encode())
        if piece is None:
            raise _damaged(name)
        return piece


def new_key(passphrase: str) -> tuple[Sealed, dict[str, str | int]]:
    """Draw a key; give it with what is kept of it: it is wrapped under the passphrase.

    Raises
    ------
    Invalid
        If the passphrase is shorter than `PASSPHRASE_LETTERS`.
    """
    if len(passphrase) < PASSPHRASE_LETTERS:
        raise Invalid(
            "backup/passphrase-short",
            f"A passphrase for a backup has {PASSPHRASE_LETTERS} letters or more; this one has "
            f"{len(passphrase)}. Take a few words that nobody would guess together.",
        )
    key, salt = secrets.token_bytes(HASH_BYTES), secrets.token_bytes(16)
    wrapped = _encrypted(hard_hash(passphrase, salt, SCRYPT_N), key, _WRAPPING)
    return Sealed(key), {"salt": salt.hex(), "wrapped_key": wrapped.hex()}


def known_key(kept: Mapping[str, object], passphrase: str) -> Sealed:
    """Unwrap a key from what `new_key` kept of it.

    Raises
    ------
    Invalid
        If the passphrase is another.
    Damaged
        If what was kept is nothing of the kind.
    """
    try:
        salt, wrapped = bytes.fromhex(str(kept["salt"])), bytes.fromhex(str(kept["wrapped_key"]))
    except (KeyError, ValueError) as fault:
        raise Damaged("backup/key", "The key of this backup cannot be read.") from fault
    key = _decrypted(hard_hash(passphrase, salt, SCRYPT_N), wrapped, _WRAPPING)
    if key is None:
        raise Invalid(
            "backup/passphrase",
            "This is not the passphrase with which this backup was begun. Try the one before, "
            "or begin a backup in another folder.",
        )
    return Sealed(key)


def _derived(key: bytes, use: bytes) -> bytes:
    """Give a key for one use: HMAC of a random key is one that tells nothing of it."""
    return hmac.digest(key, b"quietleaf backup " + use, "sha256")


def _encrypted(key: bytes, data: bytes, bound_to: bytes) -> bytes:
    from cryptography.hazmat.primitives.ciphers.aead import AESGCM

    nonce = secrets.token_bytes(_NONCE_BYTES)
    return nonce + AESGCM(key).encrypt(nonce, data, bound_to)


def _decrypted(key: bytes, data: bytes, bound_to: bytes) -> bytes | None:
    from cryptography.exceptions import InvalidTag
    from cryptography.hazmat.primitives.ciphers.aead import AESGCM

    try:
        return AESGCM(key).decrypt(data[:_NONCE_BYTES], data[_NONCE_BYTES:], bound_to)
    except (InvalidTag, ValueError):
        return None


def _damaged(name: str) -> Damaged:
    return Damaged(
        "backup/piece",
        f"Piece {name[:12]} of this backup is not what was put there. Take another backup, "
        "or another copy of this folder.",
    )
