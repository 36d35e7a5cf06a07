"""What every entry of a plan that somebody may decide on says of itself."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

State = Literal["made", "left", "refused"]
"""``made``: it is carried out. ``left``: it was thought of, and is not; the reason says why.
``refused``: somebody does not want it."""
STATES: tuple[State, ...] = ("made", "left", "refused")
Author = Literal["plan", "desk"]
"""Who decided: what the desk decided is kept when the rest is planned again."""
AUTHORS: tuple[Author, ...] = ("plan", "desk")
Measured = Mapping[str, float]
"""Measured values by name; the unit comes last in the name."""
