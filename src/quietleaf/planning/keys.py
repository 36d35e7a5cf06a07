"""Keys: what names a thing for good, made from its title."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection

_LONGEST = 48
"""Leaves room for the day that an assignment's key adds."""


def key_of(title: str, taken: Collection[str], otherwise: str) -> str:
    """Make a key of a title: lower-case letters, digits and hyphens, not taken yet.

    Parameters
    ----------
    otherwise : str
        What to begin with where the title has no letter that a key can hold.

    Examples
    --------
    >>> key_of("Café & Thé", (), "programme"), key_of("The Hour", ("the-hour",), "programme")
    ('cafe-the', 'the-hour-2')
    """
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    first = re.sub(r"[^a-z0-9]+", "-", plain)[:_LONGEST].strip("-") or otherwise
    key, number = first, 1
    while key in taken:
        number += 1
        key = f"{first}-{number}"
    return key
