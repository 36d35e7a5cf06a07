"""The kinds of sound that units are told apart as."""

from __future__ import annotations

KINDS: tuple[str, ...] = ("speech", "room", "breath", "cough", "rustle", "click", "noise")
"""``room`` is what is no more than the room's own noise or a tail of what was heard before."""
NOISE_KINDS: tuple[str, ...] = KINDS[2:]
"""Those that may be findings; all are kinds of findings too."""
