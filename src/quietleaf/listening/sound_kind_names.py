"""The kinds of sound that units are told apart as."""

from __future__ import annotations

from quietleaf.listening.findings import FindingKind

NOISE_KINDS: tuple[FindingKind, ...] = ("breath", "cough", "rustle", "click", "noise")
"""Those that may be findings."""
KINDS: tuple[str, ...] = ("speech", "room", *NOISE_KINDS)
"""``room`` is what is no more than the room's own noise or a tail of what was heard before."""
