"""Waiting for what goes on elsewhere: as short as it takes, and never without end."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import TypeVar

Found = TypeVar("Found")
LONGEST_S = 60.0
_STEP_S = 0.02


def wait_for(look: Callable[[], Found | None], longest_s: float = LONGEST_S) -> Found:
    """Look until there is something, and give it."""
    end = time.monotonic() + longest_s
    pausing = threading.Event()
    while True:
        found = look()
        if found:
            return found
        assert time.monotonic() < end, "it never came"
        pausing.wait(_STEP_S)
