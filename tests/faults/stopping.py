"""A disk that stops at its n-th call, as when the power goes or the program is killed there.

From then on nothing reaches the disk, no tidying up either. A write may have got part of its way.
Two in-place writes are taken as all or nothing: a take's header of 80 bytes lies in one sector
and in one page, so neither a kill nor a power cut leaves half of it.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from quietleaf.storage import disk
from quietleaf.storage.take_header import HEADER_BYTES

CALLS = ("open_to_write", "write_at", "cut_to", "sync", "sync_folder", "move")


class Stopped(BaseException):
    """The power went."""


class StoppingDisk:
    """Lets calls through until the n-th.

    Parameters
    ----------
    at_call : int
        From 1; a number past the last call never stops.
    share : float
        How much of a write at that call gets through, 0 to 1; other calls come to pass if it
        is 0.5 or more.
    """

    def __init__(self, at_call: int, share: float) -> None:
        self.calls = 0
        self.stopped = False
        self._at_call = at_call
        self._share = share
        self.synced: dict[Path, bytes] = {}
        """What each file held when it was last synced."""

    def put_in(self, patch: pytest.MonkeyPatch) -> None:
        """Take the place of the real disk's calls."""
        for name in CALLS:
            patch.setattr(disk, name, self._stopping(name, getattr(disk, name)))
        real_rmtree = shutil.rmtree

        def rmtree(*args: Any, **options: Any) -> None:
            if self.stopped:
                raise Stopped
            real_rmtree(*args, **options)

        patch.setattr(shutil, "rmtree", rmtree)

    def _stopping(self, name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*args: Any) -> Any:
            if self.stopped:
                raise Stopped
            self.calls += 1
            if self.calls == self._at_call:
                self.stopped = True
                self._last(name, real, args)
                raise Stopped
            done = real(*args)
            if name == "sync":
                self.synced[args[1]] = args[1].read_bytes()
            return done

        return call

    def _last(self, name: str, real: Callable[..., Any], args: tuple[Any, ...]) -> None:
        if name == "write_at":
            file, data, offset, path = args
            whole = offset == 0 and len(data) == HEADER_BYTES
            kept = int(self._share + 0.5) * len(data) if whole else int(self._share * len(data))
            real(file, data[:kept], offset, path)
        elif self._share >= 0.5 and name != "open_to_write":
            real(*args)


def runs_until_it_succeeds(
    run: Callable[[StoppingDisk, Path], None],
    folder: Path,
    shares: tuple[float, ...] = (0.0, 0.3, 0.7, 1.0),
) -> list[tuple[StoppingDisk, Path]]:
    """Run the same thing with a stop at the first call, the second, and so on, until none comes.

    Returns
    -------
    list of (StoppingDisk, Path)
        Each stopped run's disk, and the folder that it left.
    """
    left: list[tuple[StoppingDisk, Path]] = []
    at_call = 0
    while True:
        at_call += 1
        for share in shares:
            stopping = StoppingDisk(at_call, share)
            place = folder / f"{at_call}-{share}"
            place.mkdir()
            with pytest.MonkeyPatch.context() as patch:
                stopping.put_in(patch)
                try:
                    run(stopping, place)
                except Stopped:
                    left.append((stopping, place))
                    continue
            assert not stopping.stopped
            assert len(left) == len(shares) * (at_call - 1)
            return left
