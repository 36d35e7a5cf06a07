"""An MP3 master being written: the encoder works in a process of its own."""

from __future__ import annotations

from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np
from numpy.typing import NDArray

from quietleaf.delivery.id3 import Tags
from quietleaf.storage.masters import Written


class Mp3Encoder:
    """An MP3 file being written: mono, at a constant bit rate.

    Leaving a ``with`` block without ``commit`` abandons the file and ends the process.
    """

    def __init__(self, path: Path, sample_rate_hz: int, *, kbps: int, quality: int = 7) -> None:
        raise NotImplementedError

    def write(self, samples: NDArray[np.float64]) -> None:
        """Append samples, shape (n,), full scale 1.0."""
        raise NotImplementedError

    def commit(self, tags: Tags) -> Written:
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
