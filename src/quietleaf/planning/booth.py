"""A booth: a place with a microphone where people read."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Booth:
    """A booth of the station; which browser stands in it is enrolled, not planned.

    Attributes
    ----------
    key : str
        Lower-case letters, digits and hyphens.
    name : str
        As people call it: ``Booth 2``.
    """

    key: str
    name: str
