"""Masters: finished sound and its papers, written beside each other, whole or not at all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np
from numpy.typing import NDArray

from quietleaf.delivery.bext import BroadcastExtension


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """A file that is on disk under its own name."""

    path: Path
    size_bytes: int
    sha256: str


class WaveMaster:
    """A Broadcast Wave file being written: mono, 24-bit PCM.

    Leaving a ``with`` block without ``commit`` abandons the file.
    """

    def __init__(
        self, path: Path, sample_rate_hz: int, *, info: Mapping[str, str] | None = None
    ) -> None:
        raise NotImplementedError

    def write(self, samples: NDArray[np.float64]) -> None:
        """Append samples, shape (n,), full scale 1.0."""
        raise NotImplementedError

    def commit(self, extension: BroadcastExtension) -> Written:
        """Finish the file under its own name."""
        raise NotImplementedError

    def abandon(self) -> None:
        """Leave nothing behind."""
        raise NotImplementedError

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.abandon()


def write_text_file(path: Path, text: str) -> Written:
    """Write a report or a plan, UTF-8, whole or not at all; never over an existing file."""
    raise NotImplementedError
