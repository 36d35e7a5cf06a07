"""Masters whose maker is interrupted or killed."""

from __future__ import annotations

import errno
import os
import select
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest

from quietleaf.delivery.bext import BroadcastExtension
from quietleaf.delivery.id3 import Tags
from quietleaf.errors import Unavailable
from quietleaf.storage.masters import WaveMaster
from quietleaf.storage.mp3_encoder import Mp3Encoder

MAKER = """
import sys
from pathlib import Path
import numpy as np
from quietleaf.storage.masters import WaveMaster
from quietleaf.storage.mp3_encoder import Mp3Encoder

folder = Path(sys.argv[1])
with (
    WaveMaster(folder / "m.wav", 48_000) as wave,
    Mp3Encoder(folder / "m.mp3", 48_000, kbps=64) as mp3,
):
    wave.write(np.zeros(100_000))
    mp3.write(np.zeros(100_000))
    print(mp3._process.pid, flush=True)
    while True:
        wave.write(np.zeros(1000))
        mp3.write(np.zeros(1000))
"""


@contextmanager
def maker(folder: Path) -> Iterator[tuple[subprocess.Popen[bytes], int]]:
    """A process that writes masters for ever, and a handle on its encoder."""
    with subprocess.Popen(
        [sys.executable, "-c", MAKER, folder],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
    ) as process:
        assert process.stdout is not None
        encoder = os.pidfd_open(int(process.stdout.readline()))
        try:
            yield process, encoder
        finally:
            os.close(encoder)
            process.kill()


def has_ended(process: int) -> bool:
    """Wait for the end of a process that is not our child, at most half a minute."""
    poll = select.poll()
    poll.register(process, select.POLLIN)
    return bool(poll.poll(30_000))


def test_ctrl_c_leaves_nothing_half_written(tmp_path: Path) -> None:
    with maker(tmp_path) as (process, encoder):
        # As a terminal does: to the whole group.
        os.killpg(process.pid, signal.SIGINT)
        _, told = process.communicate(timeout=60)
        assert has_ended(encoder)
    assert b"KeyboardInterrupt" in told
    assert b"masters/" not in told
    assert not any(tmp_path.iterdir())


def test_encoder_ends_with_its_maker_and_the_next_clears_up(tmp_path: Path) -> None:
    with maker(tmp_path) as (process, encoder):
        process.kill()
        process.wait()
        assert has_ended(encoder)
    assert all(path.name.startswith(".m.") for path in tmp_path.iterdir())
    with WaveMaster(tmp_path / "m.wav", 48_000) as wave:
        wave.write(np.zeros(10))
        wave.commit(BroadcastExtension(description="", originator=""))
    with Mp3Encoder(tmp_path / "m.mp3", 48_000, kbps=64) as mp3:
        mp3.write(np.zeros(10))
        mp3.commit(Tags(title="m"))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["m.mp3", "m.wav"]


@pytest.mark.parametrize("failing", range(4))
def test_a_sync_or_a_link_that_fails_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: int
) -> None:
    """Of what a commit asks of the disk, one thing fails at a time."""
    calls = 0

    def counted(name: str) -> None:
        nonlocal calls
        calls += 1
        if calls == failing + 1:
            raise OSError(errno.EIO, f"{name} failed")

    sync, link = os.fsync, Path.hardlink_to

    def failing_sync(file: int) -> None:
        counted("sync")
        sync(file)

    def failing_link(path: Path, target: Path) -> None:
        counted("link")
        link(path, target)

    monkeypatch.setattr(os, "fsync", failing_sync)
    monkeypatch.setattr(Path, "hardlink_to", failing_link)
    with WaveMaster(tmp_path / "m.wav", 48_000) as wave:
        wave.write(np.zeros(10))
        if failing < 3:
            with pytest.raises(Unavailable, match="failed"):
                wave.commit(BroadcastExtension(description="", originator=""))
        else:
            wave.commit(BroadcastExtension(description="", originator=""))
    # The third is the folder's own sync: the file is whole by then, though not yet safe.
    assert [path.name for path in tmp_path.iterdir()] == ([] if failing < 2 else ["m.wav"])
