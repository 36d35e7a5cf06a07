"""A person as the station knows them, and the word that stands where somebody was erased."""

from __future__ import annotations

FORMER_READER = "a former reader"
"""As it is spoken: "read by a former reader"."""
