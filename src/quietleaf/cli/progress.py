"""A line that says how far long work has got; only where somebody watches."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from quietleaf.work.tools import Progress


@contextmanager
def progress_line() -> Iterator[Progress]:
    """Give somebody to tell; the line is gone when the work ends.

    Written to standard error, so that what a command prints can be passed on. A line only for
    each whole hundredth: a terminal is slower than the work.
    """
    shown = ""

    def tell(step: str, done: float) -> None:
        nonlocal shown
        line = f"{step}: {100.0 * min(max(done, 0.0), 1.0):.0f} %"
        if line != shown:
            sys.stderr.write(f"\r{line:<{len(shown)}}")
            sys.stderr.flush()
            shown = line

    def say_nothing(step: str, done: float) -> None:
        """Keep quiet: nobody watches a file or a pipe."""

    if not sys.stderr.isatty():
        yield say_nothing
        return
    try:
        yield tell
    finally:
        sys.stderr.write(f"\r{'':<{len(shown)}}\r")
        sys.stderr.flush()
