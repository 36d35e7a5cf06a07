"""See the authority that a station's computers are to trust."""

from __future__ import annotations

from pathlib import Path

from quietleaf.storage.authority import authority_file, fingerprint_of
from quietleaf.work.tools import Tools


def see_authority(tools: Tools) -> str:
    """Give its fingerprint, SHA-256 in pairs.

    Raises
    ------
    NotFound
        If this station has made none.
    """
    return fingerprint_of(authority_file(tools.data))


def find_authority(tools: Tools) -> Path:
    """Give its certificate's file.

    Raises
    ------
    NotFound
        If this station has made none.
    """
    return authority_file(tools.data)
