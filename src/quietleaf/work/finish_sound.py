"""One sound made into a master: heard, planned, carried out, heard again; files in one folder.

Whether the sound is a reading or a bare file, and where the files go, is for the caller.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from threading import Event
from typing import Generic, TypeVar

import numpy as np

from quietleaf.delivery.bext import BroadcastExtension, BroadcastLoudness, CodingStep
from quietleaf.delivery.id3 import Tags
from quietleaf.errors import AudioUnfit, Damaged
from quietleaf.finishing.apply import apply_both, apply_mp3, apply_wave
from quietleaf.finishing.assembly import NO_ITEMS, kept_ranges, master_place
from quietleaf.finishing.loudness import no_loudness, redriven
from quietleaf.finishing.make_plan import Wishes, make_plan
from quietleaf.finishing.overshoots import Overshoot, find_overshoots, with_dips
from quietleaf.finishing.plan import RATE_HZ, Drive, Mp3, Plan
from quietleaf.finishing.ranges import Blocks, Sound, one_channel
from quietleaf.finishing.survey import Survey, start_survey, step_survey, survey_result
from quietleaf.finishing.targets import Target
from quietleaf.listening import listen
from quietleaf.listening.findings import Finding
from quietleaf.listening.hearing import Hearing, Measured
from quietleaf.listening.limits import HearingLimits
from quietleaf.listening.measuring import measured, start_measuring, step_measuring
from quietleaf.storage.codecs import open_sound
from quietleaf.storage.masters import WaveMaster
from quietleaf.storage.mp3_encoder import Mp3Encoder
from quietleaf.storage.new_file import Written
from quietleaf.storage.sound_source import SoundSource
from quietleaf.work.ahead import read_ahead
from quietleaf.work.hear_blocks import hear_blocks
from quietleaf.work.hear_joins import hear_joins

Tell = Callable[[str, float], None]

BLOCK_FRAMES = 1 << 19
TOLERANCE_LU = 0.2
"""EBU R 128 (2023) with Tech 3343."""
_CLOSE_LU = 0.1
"""A delivered file that is further off is made again."""
_ROUNDS_MOST = 8
_DIP_ROUNDS = 3
_LOWER_DB = 1.0
_WAVE_EXTRA_DB = 0.02
_WELL_UNDER_DB = 0.1
"""Two ways to interpolate may differ by less."""
_LARGE_BYTES = 31 << 20
_JOINED = ("restart", "desk", "stop")
"""Cuts on both sides of which somebody speaks."""
_THREADS = 4
"""Two files are checked at once, and each is decoded while its last block is heard."""

LISTENING = "listening to the recording"
PLANNING = "planning"
MAKING = "making the master"
CHECKING = "listening to the master"
MENDING = "turning down what the MP3 made too loud"


@dataclass(frozen=True, slots=True, kw_only=True)
class Labels:
    """What the files say of themselves.

    Attributes
    ----------
    wave_name, mp3_name : str
        File names alone.
    origin : tuple of CodingStep
        What came in.
    """

    wave_name: str
    mp3_name: str
    description: str
    originator: str
    originator_reference: str
    recorded_at: datetime | None
    origin: tuple[CodingStep, ...]
    info: dict[str, str]
    tags: Callable[[Plan], Tags]
    made_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeMaster:
    """What was made, and what was heard before and after.

    Attributes
    ----------
    joins : tuple of int
        Samples of the master where spans meet.
    at_joins : tuple of Finding
        What shows there.
    """

    plan: Plan
    before: Hearing
    wave: Written
    wave_heard: Hearing
    mp3: Written
    mp3_heard: Measured
    joins: tuple[int, ...]
    at_joins: tuple[Finding, ...]


H = TypeVar("H", bound=Measured)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Checked(Generic[H]):
    heard: H
    overshoots: tuple[Overshoot, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Work:
    """What all steps share.

    Attributes
    ----------
    stop : Event
        Set when the person stops: those who listen on other threads leave off.
    limits : HearingLimits
        What is heard before and after is held against the same.
    items : mapping of str to Sound
        The station's short items by their key.
    """

    pool: ThreadPoolExecutor
    sound: SoundSource
    labels: Labels
    folder: Path
    tell: Tell
    stop: Event
    limits: HearingLimits
    items: Mapping[str, Sound]

    def ahead(self, blocks: Blocks) -> Blocks:
        """Fetch the next block on another thread while this one is used."""
        return read_ahead(blocks, self.pool)


def finish_sound(
    sound: SoundSource,
    wishes: Wishes,
    labels: Labels,
    folder: Path,
    tell: Tell,
    items: Mapping[str, Sound] = NO_ITEMS,
) -> MadeMaster:
    """Make a wave master and an MP3 of a sound of one channel at 48 kHz.

    Both are decoded again and measured: integrated loudness within 0.1 LU of the target, no
    true peak over the ceiling; what is not so is planned again and made again.

    Parameters
    ----------
    folder : Path
        Where the two files are made; empty.
    tell : callable
        Told what is being done and how much of it is done.
    items : mapping of str to Sound
        The sounds of what the wishes offer, by key.

    Raises
    ------
    AudioUnfit
        If the sound is silent, holds no voice, or cannot be brought to its target.
    """
    _let_memory_stay()
    stop = Event()
    with ThreadPoolExecutor(_THREADS) as pool:
        work = _Work(
            pool=pool,
            sound=sound,
            labels=labels,
            folder=folder,
            tell=tell,
            stop=stop,
            limits=HearingLimits(dead_air_s=wishes.dead_air_s),
            items=items,
        )
        try:
            before, survey = _listen(work)
            tell(PLANNING, 0.0)
            plan = make_plan(survey, sound, wishes, work.ahead, before, items)
            tell(PLANNING, 1.0)
            return _made(work, plan, before, wishes.joins)
        except BaseException:
            stop.set()
            raise


def _let_memory_stay() -> None:
    """Have blocks made in memory that is there already.

    The allocator of Linux gives what is freed back to the system at once, until something as
    large as this has been freed: 590,000 page faults and 1.3 s of CPU an hour, against 35,000.
    """
    np.empty(_LARGE_BYTES, dtype=np.uint8)


def _listen(work: _Work) -> tuple[Hearing, Survey]:
    """Hear and survey the sound in one go, each on its own thread, while the next is read."""
    heard, survey = listen.start(RATE_HZ, 1, work.limits), start_survey()
    surveying: Future[None] | None = None
    place, frames = 0, max(work.sound.info.frames, 1)
    for block in hear_blocks(heard, work.ahead(work.sound.blocks(BLOCK_FRAMES))):
        if surveying is not None:
            surveying.result()
        surveying = work.pool.submit(step_survey, survey, one_channel(block))
        place += block.shape[0]
        work.tell(LISTENING, place / frames)
    if surveying is not None:
        surveying.result()
    return listen.result(heard), survey_result(survey)


def _made(work: _Work, plan: Plan, before: Hearing, places: tuple[int, ...]) -> MadeMaster:
    """Make both files, decode them and listen; what is off is made again."""
    with ExitStack() as unfinished:
        wave = unfinished.enter_context(_wave_master(work))
        plan, mp3 = _make_both(work, plan, wave)
        for _ in range(_ROUNDS_MOST):
            wave_checked, mp3_checked = _check_both(work, plan, wave.settle(), mp3.path)
            better, better_mp3 = _better_wave(plan, wave_checked), _better_mp3(plan, mp3_checked)
            if better is None and better_mp3 is None:
                joins = _joins_of(plan, places)
                at_joins = _at_joins(plan, wave.settle(), joins, wave_checked.heard)
                return MadeMaster(
                    plan=plan,
                    before=before,
                    wave=wave.commit(_extension(work.labels, plan, wave_checked.heard)),
                    wave_heard=wave_checked.heard,
                    mp3=mp3,
                    mp3_heard=mp3_checked.heard,
                    joins=joins,
                    at_joins=at_joins,
                )
            if better is not None:
                plan = replace(plan, wave=better)
                wave.abandon()
                wave = unfinished.enter_context(_wave_master(work))
                _make_wave(work, plan, wave)
            if better_mp3 is not None:
                plan = replace(plan, mp3=better_mp3)
                mp3.path.unlink()
                mp3 = _make_mp3(work, plan)
    raise AudioUnfit(
        "finish/out-of-reach",
        f"This recording could not be brought to {plan.target.loudness_lufs:g} LUFS with no peak "
        f"over {plan.target.ceiling_dbtp:g} dBTP. Choose a lower loudness.",
    )


def _at_joins(
    plan: Plan, wave: Path, joins: tuple[int, ...], heard: Hearing
) -> tuple[Finding, ...]:
    if not joins:
        return ()
    with open_sound(wave) as master:
        return hear_joins(master, joins, heard, plan.layout.join_samples)


def _joins_of(plan: Plan, places: tuple[int, ...]) -> tuple[int, ...]:
    """Give where the joins lie in the master; what a cut took away is none any more.

    Where something that was read twice was cut out, or what comes before the closing words, two
    spans meet too.
    """
    layout = plan.layout
    kept = kept_ranges(layout)
    inside = [place for place in places if any(a < place < b for a, b in kept)]
    cut = [
        one.start
        for one in layout.cuts
        if one.kind in _JOINED and one.state == "made" and one.stop < kept[-1][1]
    ]
    return tuple(sorted({master_place(layout, place) for place in (*inside, *cut)}))


def _make_both(work: _Work, plan: Plan, wave: WaveMaster) -> tuple[Plan, Written]:
    """Render once for both files; the encoder works in its own process meanwhile."""
    plan = replace(plan, mp3=replace(plan.mp3, rounds=1))
    with _encoder(work, plan) as mp3:
        for wave_part, mp3_part in apply_both(plan, work.sound, work.ahead, work.items):
            wave.write(wave_part)
            mp3.write(mp3_part)
            work.tell(MAKING, wave.frames / RATE_HZ / plan.fit.length_s)
        return plan, mp3.commit(work.labels.tags(plan))


def _make_wave(work: _Work, plan: Plan, wave: WaveMaster) -> None:
    for part in apply_wave(plan, work.sound, work.ahead, work.items):
        wave.write(part)
        work.tell(MAKING, wave.frames / RATE_HZ / plan.fit.length_s)


def _make_mp3(work: _Work, plan: Plan) -> Written:
    with _encoder(work, plan) as mp3:
        for part in apply_mp3(plan, work.sound, work.ahead, work.items):
            mp3.write(part)
            work.tell(MENDING, mp3.samples / RATE_HZ / plan.fit.length_s)
        return mp3.commit(work.labels.tags(plan))


def _wave_master(work: _Work) -> WaveMaster:
    labels = work.labels
    return WaveMaster(work.folder / labels.wave_name, RATE_HZ, info=labels.info)


def _encoder(work: _Work, plan: Plan) -> Mp3Encoder:
    mp3 = plan.mp3
    path = work.folder / work.labels.mp3_name
    return Mp3Encoder(path, RATE_HZ, kbps=mp3.kbps, quality=mp3.quality)


def _check_both(
    work: _Work, plan: Plan, wave: Path, mp3: Path
) -> tuple[_Checked[Hearing], _Checked[Measured]]:
    """Decode both files and listen to them, each on its own thread."""
    work.tell(CHECKING, 0.0)
    wave_check = work.pool.submit(_check_wave, work, plan, wave)
    mp3_check = work.pool.submit(_check_mp3, work, plan, mp3)
    checked = wave_check.result(), mp3_check.result()
    work.tell(CHECKING, 1.0)
    return checked


def _check_wave(work: _Work, plan: Plan, path: Path) -> _Checked[Hearing]:
    state = listen.start(RATE_HZ, 1, work.limits)
    with _read_back(work, plan, path) as blocks:
        for _ in hear_blocks(state, blocks):
            pass
    heard = listen.result(state)
    return _Checked(heard=heard, overshoots=_overshoots(work, plan, path, heard))


def _check_mp3(work: _Work, plan: Plan, path: Path) -> _Checked[Measured]:
    """Measure it; its sounds are those of the wave master."""
    state = start_measuring(RATE_HZ, 1, work.limits)
    with _read_back(work, plan, path) as blocks:
        for block in blocks:
            step_measuring(state, block)
    heard = measured(state)
    return _Checked(heard=heard, overshoots=_overshoots(work, plan, path, heard))


def _overshoots(work: _Work, plan: Plan, path: Path, heard: Measured) -> tuple[Overshoot, ...]:
    """Find what is over the ceiling; a file that is measured well under it has none."""
    peak_dbtp, ceiling_dbtp = heard.peak.true_dbtp, plan.target.ceiling_dbtp
    if peak_dbtp is None or peak_dbtp < ceiling_dbtp - _WELL_UNDER_DB:
        return ()
    with _read_back(work, plan, path) as blocks:
        samples = round(plan.fit.length_s * RATE_HZ)
        return find_overshoots(map(one_channel, blocks), samples, ceiling_dbtp)


@contextmanager
def _read_back(work: _Work, plan: Plan, path: Path) -> Iterator[Blocks]:
    """Decode a file of the plan's length, each block while the one before is used."""
    samples = round(plan.fit.length_s * RATE_HZ)
    with open_sound(path) as file:
        if file.info.frames != samples:
            raise Damaged(
                "finish/length",
                f"{path.name} was made {samples} samples long and is read back with "
                f"{file.info.frames}. Look after the disk and finish again.",
            )

        def blocks() -> Blocks:
            for block in file.blocks(BLOCK_FRAMES):
                if work.stop.is_set():
                    raise KeyboardInterrupt
                yield block

        yield work.ahead(blocks())


def _better_wave(plan: Plan, checked: _Checked[Hearing]) -> Drive | None:
    """Give a better drive, if the delivered file is off its target or over its ceiling."""
    off_lu = _off_lu(plan.target, checked.heard)
    over_db = max((overshoot.over_db for overshoot in checked.overshoots), default=0.0)
    if abs(off_lu) <= _CLOSE_LU and not checked.overshoots:
        return None
    drive = plan.wave
    return redriven(
        drive,
        drive.gain_db - off_lu,
        drive.aim_dbtp - (over_db + _WAVE_EXTRA_DB if checked.overshoots else 0.0),
        f"the file read {off_lu:+.2f} LU from the target and {over_db:.2f} dB over the ceiling",
    )


def _better_mp3(plan: Plan, checked: _Checked[Measured]) -> Mp3 | None:
    """Give a better MP3: dips first, then a lower aim of its limiter, then less of it."""
    off_lu = _off_lu(plan.target, checked.heard)
    mp3 = plan.mp3
    if abs(off_lu) <= _CLOSE_LU and not checked.overshoots:
        return None
    over_db = max((overshoot.over_db for overshoot in checked.overshoots), default=0.0)
    aim_dbtp = mp3.drive.aim_dbtp
    if checked.overshoots and mp3.rounds > _DIP_ROUNDS:
        aim_dbtp -= _LOWER_DB
    elif checked.overshoots:
        mp3 = with_dips(mp3, checked.overshoots)
    reason = (
        f"decoded it read {off_lu:+.2f} LU from the target and {over_db:.2f} dB over the ceiling"
    )
    gain_db = mp3.drive.gain_db - (off_lu if abs(off_lu) > _CLOSE_LU else 0.0)
    drive = redriven(mp3.drive, gain_db, aim_dbtp, reason)
    return replace(mp3, drive=drive, rounds=mp3.rounds + 1)


def _off_lu(target: Target, heard: Measured) -> float:
    return integrated_of(heard) - target.one_channel_lufs


def integrated_of(heard: Measured) -> float:
    """Give the loudness that was measured, in LUFS.

    Raises
    ------
    AudioUnfit
        If there was none to measure.
    """
    integrated = heard.loudness.integrated_lufs
    if integrated is None:
        raise no_loudness(heard.duration_s)
    return integrated


def _extension(labels: Labels, plan: Plan, heard: Hearing) -> BroadcastExtension:
    """Say in the file what it is; its loudness is what a meter reads of this one channel."""
    target = plan.target
    counted = "dual mono (one channel reads 3.01 LU less)" if target.dual_mono else "one channel"
    text = (
        f"{labels.made_by}; {target.loudness_lufs:g} LUFS counted as {counted}; "
        f"true peak at most {target.ceiling_dbtp:g} dBTP"
    )
    return extension_saying(text, labels, heard)


def extension_saying(text: str, labels: Labels, heard: Measured) -> BroadcastExtension:
    """Label a wave file of 24 bits; the last line of its history says how it was made."""
    step = CodingStep(coding="PCM", sample_rate_hz=RATE_HZ, mode="mono", bits=24, text=text)
    return BroadcastExtension(
        description=labels.description,
        originator=labels.originator,
        originator_reference=labels.originator_reference,
        recorded_at=labels.recorded_at,
        sample_rate_hz=RATE_HZ,
        loudness=_loudness_written(heard),
        coding_history=(*labels.origin, step),
    )


def _loudness_written(heard: Measured) -> BroadcastLoudness:
    """Give what a wave file says of its own loudness."""
    return BroadcastLoudness(
        integrated_lufs=heard.loudness.integrated_lufs,
        range_lu=heard.loudness.range_lu,
        true_peak_dbtp=heard.peak.true_dbtp,
        momentary_max_lufs=heard.loudness.momentary_max_lufs,
        short_term_max_lufs=heard.loudness.short_term_max_lufs,
    )
