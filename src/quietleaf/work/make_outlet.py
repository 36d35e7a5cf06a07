"""A file for one outlet, made from the master, decoded again and measured until it is right."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from quietleaf.delivery.bext import BroadcastExtension
from quietleaf.delivery.id3 import Tags
from quietleaf.errors import AudioUnfit, NotFound
from quietleaf.finishing.drive import driven_blocks
from quietleaf.finishing.limiter import LOOK_AHEAD_MS, RELEASE_MS
from quietleaf.finishing.loudness import (
    UNDER_CEILING_DB,
    encoder_gain_db,
    mp3_aim_dbtp,
    redriven,
)
from quietleaf.finishing.make_plan import MP3_QUALITY
from quietleaf.finishing.narrow import start_narrow, step_narrow
from quietleaf.finishing.plan import RATE_HZ, Drive
from quietleaf.finishing.ranges import Blocks, one_channel
from quietleaf.finishing.targets import DUAL_MONO_LU
from quietleaf.finishing.trial import try_drives
from quietleaf.listening.measuring import measured, start_measuring, step_measuring
from quietleaf.planning.outlet import USUAL_OUTLETS, Outlet
from quietleaf.storage.codecs import open_sound
from quietleaf.storage.g711_file import G711File
from quietleaf.storage.masters import WaveMaster
from quietleaf.storage.mp3_encoder import Mp3Encoder
from quietleaf.storage.new_file import Written
from quietleaf.work.finish_sound import Labels, extension_saying, integrated_of

if TYPE_CHECKING:
    from quietleaf.listening.hearing import Measured

BLOCK_FRAMES = 48_000
CLOSE_LU = 0.1
_ROUNDS_MOST = 8
_STEPS_DB = (0.0, 1.5, 4.0)
"""Gains that are tried beyond what would do if nothing had to be limited."""
_UNDER_DB = 0.05
_SLOPE_LEAST = 0.3
SUFFIXES = {"wave": ".wav", "mp3": ".mp3", "telephone": ".wav", "subcarrier": ".wav"}


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeOutlet:
    """What was made.

    Attributes
    ----------
    heard : Measured
        What was measured of the file, decoded.
    drive : Drive
        Gain and limiter, after the channel's own shape.
    rounds : int
        How many times it was made.
    """

    outlet: Outlet
    file: Written
    heard: Measured
    drive: Drive
    rounds: int

    @property
    def loudness_lufs(self) -> float:
        """Integrated, counted as the outlet counts."""
        return integrated_of(self.heard) + (DUAL_MONO_LU if self.outlet.dual_mono else 0.0)


def outlets_named(keys: Iterable[str], known: Iterable[Outlet]) -> tuple[Outlet, ...]:
    """Look outlets up: a station's own first, then the usual ones.

    Raises
    ------
    NotFound
        If there is none of a name.
    """
    among = {**USUAL_OUTLETS, **{one.key: one for one in known}}
    found = []
    for key in dict.fromkeys(keys):
        if key not in among:
            raise NotFound(
                "finish/no-outlet",
                f"There is no outlet {key!r}. Name one of these: {', '.join(sorted(among))}.",
            )
        found.append(among[key])
    return tuple(found)


def make_outlet(
    outlet: Outlet, master: Path, heard: Measured, path: Path, tags: Tags, labels: Labels
) -> MadeOutlet:
    """Make a file for an outlet.

    Parameters
    ----------
    master : Path
        48 kHz, one channel.
    heard : Measured
        What was measured of the master.
    path : Path
        Where the file will be; the name is free.
    tags : Tags
        What an MP3 says of itself.
    labels : Labels
        What a wave file says of itself.

    Raises
    ------
    AudioUnfit
        If it cannot be brought to its loudness under its ceiling.
    """
    speech_dbov = heard.level.active_speech_dbov
    wanted = outlet.loudness_lufs - (DUAL_MONO_LU if outlet.dual_mono else 0.0)

    def shaped() -> Blocks:
        return _shaped(outlet, master, speech_dbov)

    samples = round(heard.duration_s * RATE_HZ)
    drive = _first_drive(outlet, shaped(), samples, wanted, integrated_of(heard))
    tried: list[tuple[float, float]] = []
    for number in range(1, _ROUNDS_MOST + 1):
        written = _written(outlet, driven_blocks(shaped(), ((drive, ()),)), path, tags, labels)
        got = _measured(written.path)
        off_lu = integrated_of(got) - wanted
        peak = got.peak.true_dbtp
        over_db = 0.0 if peak is None else peak - outlet.ceiling_dbtp
        if abs(off_lu) <= CLOSE_LU and over_db <= 0.0:
            return MadeOutlet(outlet=outlet, file=written, heard=got, drive=drive, rounds=number)
        written.path.unlink()
        tried.append((drive.gain_db, off_lu))
        drive = redriven(
            drive,
            drive.gain_db - _step_db(tried),
            drive.aim_dbtp - (over_db + _UNDER_DB if over_db > 0.0 else 0.0),
            f"decoded it read {off_lu:+.2f} LU from it, and {max(over_db, 0.0):.2f} dB over its "
            "ceiling",
        )
    raise AudioUnfit(
        "finish/outlet",
        f"The programme could not be brought to {outlet.loudness_lufs:g} LUFS with no peak over "
        f"{outlet.ceiling_dbtp:g} dBTP for {outlet.key}. Give this outlet a lower loudness.",
    )


def _shaped(
    outlet: Outlet, master: Path, speech_dbov: float | None
) -> Iterator[NDArray[np.float64]]:
    with open_sound(master) as file:
        blocks = (one_channel(block) for block in file.blocks(BLOCK_FRAMES))
        if outlet.form in ("wave", "mp3"):
            yield from blocks
            return
        voice = speech_dbov if outlet.form == "subcarrier" else None
        memory = start_narrow(outlet.low_hz, outlet.high_hz, voice)
        for block in blocks:
            yield step_narrow(memory, block)


def _first_drive(
    outlet: Outlet, shaped: Blocks, samples: int, wanted_lufs: float, master_lufs: float
) -> Drive:
    """Estimate the gain from a few that are tried on the way to the limiter."""
    mp3 = outlet.form == "mp3"
    aim_dbtp = (
        mp3_aim_dbtp(outlet.ceiling_dbtp, outlet.mp3_kbps)
        if mp3
        else outlet.ceiling_dbtp - UNDER_CEILING_DB
    )
    wanted = wanted_lufs + (encoder_gain_db(outlet.mp3_kbps) if mp3 else 0.0)
    gains = [wanted - master_lufs + step for step in _STEPS_DB]
    tried = try_drives(shaped, samples, tuple((gain, aim_dbtp) for gain in gains))
    reached = np.maximum.accumulate(
        [-np.inf if one.loudness_lufs is None else one.loudness_lufs for one in tried]
    )
    gain_db = float(np.interp(wanted, reached, gains))
    near = min(tried, key=lambda one: abs(one.gain_db - gain_db))
    return Drive(
        gain_db=round(gain_db, 4),
        aim_dbtp=round(aim_dbtp, 3),
        look_ahead_ms=LOOK_AHEAD_MS,
        release_ms=RELEASE_MS,
        reason=f"brought to {outlet.loudness_lufs:g} LUFS"
        f"{' of two loudspeakers' if outlet.dual_mono else ''} for {outlet.key}",
        measured={
            "master_lufs": round(master_lufs, 2),
            "tried_gain_db": round(near.gain_db, 3),
            "limiter_lost_lu": round(near.lost_lu, 3),
            "reduction_db": round(near.reduction_db, 2),
        },
    )


def _step_db(tried: list[tuple[float, float]]) -> float:
    """Give by how much the gain is to be lowered: what the limiter takes grows with it."""
    gain_db, off_lu = tried[-1]
    if len(tried) > 1:
        before_db, before_lu = tried[-2]
        if abs(gain_db - before_db) > 0.01:
            slope = (off_lu - before_lu) / (gain_db - before_db)
            return off_lu / min(max(slope, _SLOPE_LEAST), 1.0)
    return off_lu


def _written(
    outlet: Outlet,
    blocks: Iterator[tuple[NDArray[np.float64], ...]],
    path: Path,
    tags: Tags,
    labels: Labels,
) -> Written:
    if outlet.form == "mp3":
        with Mp3Encoder(path, RATE_HZ, kbps=outlet.mp3_kbps, quality=MP3_QUALITY) as mp3:
            for (block,) in blocks:
                mp3.write(block)
            return mp3.commit(tags)
    if outlet.form == "telephone":
        with G711File(path, RATE_HZ, outlet.law) as telephone:
            for (block,) in blocks:
                telephone.write(block)
            return telephone.commit()
    with WaveMaster(path, RATE_HZ, info=labels.info) as wave:
        for (block,) in blocks:
            wave.write(block)
        heard = _measured(wave.settle())
        return wave.commit(_extension(labels, outlet, heard))


def _extension(labels: Labels, outlet: Outlet, heard: Measured) -> BroadcastExtension:
    text = f"{labels.made_by}; {outlet.loudness_lufs:g} LUFS for {outlet.key}"
    return extension_saying(text, labels, heard)


def _measured(path: Path) -> Measured:
    with open_sound(path) as file:
        state = start_measuring(file.info.sample_rate_hz, 1)
        for block in file.blocks():
            step_measuring(state, block)
    return measured(state)
