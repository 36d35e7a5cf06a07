"""Tight loops: compiled once by numba, kept on disk, run without holding the interpreter's lock.

No fast-math: the same samples give the same bits on the same platform.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import ParamSpec, TypeVar, cast

from numba import njit

P = ParamSpec("P")
R = TypeVar("R")


def kernel(function: Callable[P, R]) -> Callable[P, R]:
    """Compile a loop over samples at its first call.

    The compiled code is kept beside the module, or in the user's cache folder where the package
    cannot be written to; where neither can, each process compiles anew.
    """
    try:
        compiled = njit(cache=True, nogil=True, error_model="numpy")(function)
    except RuntimeError:  # numba found no folder to keep compiled code in
        compiled = njit(nogil=True, error_model="numpy")(function)
    return cast(Callable[P, R], compiled)
