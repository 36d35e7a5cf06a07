"""A plan carried out: the same plan on the same sound gives the same samples, every time."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from quietleaf.errors import Conflict, Invalid
from quietleaf.finishing.assembly import NO_ITEMS, dry_blocks
from quietleaf.finishing.drive import driven_blocks
from quietleaf.finishing.plan import RATE_HZ, Plan
from quietleaf.finishing.ranges import Ahead, Blocks, Sound, one_by_one


def apply_wave(
    plan: Plan,
    sound: Sound,
    ahead: Ahead = one_by_one,
    items: Mapping[str, Sound] = NO_ITEMS,
) -> Blocks:
    """Give the samples of the wave master, block by block, shape (n,), 48 kHz, full scale 1.0.

    Parameters
    ----------
    ahead : callable
        How blocks before the limiter are fetched; it does not change them.
    items : mapping of str to Sound
        The station's short items by their key, where the plan names some.

    Raises
    ------
    Invalid
        If the sound is not 48 kHz and one channel.
    Conflict
        If it is not as long as the sound that the plan was made for.
    """
    _refuse_other_sound(plan, sound)
    dry = ahead(dry_blocks(plan.layout, sound, items))
    for (wave,) in driven_blocks(dry, ((plan.wave, ()),)):
        yield wave


def apply_mp3(
    plan: Plan,
    sound: Sound,
    ahead: Ahead = one_by_one,
    items: Mapping[str, Sound] = NO_ITEMS,
) -> Blocks:
    """Give the samples for the MP3 encoder; as `apply_wave`."""
    _refuse_other_sound(plan, sound)
    drives = ((plan.mp3.drive, plan.mp3.dips),)
    for (mp3,) in driven_blocks(ahead(dry_blocks(plan.layout, sound, items)), drives):
        yield mp3


def apply_both(
    plan: Plan,
    sound: Sound,
    ahead: Ahead = one_by_one,
    items: Mapping[str, Sound] = NO_ITEMS,
) -> Iterator[tuple[NDArray[np.float64], ...]]:
    """Give the samples of the wave master and those for the MP3 encoder, rendered in one pass.

    Each item is a pair, the wave's first. The samples are those of `apply_wave` and `apply_mp3`,
    to the last bit.
    """
    _refuse_other_sound(plan, sound)
    drives = ((plan.wave, ()), (plan.mp3.drive, plan.mp3.dips))
    yield from driven_blocks(ahead(dry_blocks(plan.layout, sound, items)), drives)


def _refuse_other_sound(plan: Plan, sound: Sound) -> None:
    info = sound.info
    if info.sample_rate_hz != RATE_HZ or info.channels != 1:
        raise Invalid(
            "finish/not-48k-mono",
            f"A plan is carried out on one channel at {RATE_HZ} Hz; this sound has "
            f"{info.channels} at {info.sample_rate_hz} Hz. Bring it in first.",
        )
    if info.frames != plan.layout.sound_samples:
        raise Conflict(
            "finish/other-sound",
            f"This plan was made for a sound of {plan.layout.sound_samples} samples; this one has "
            f"{info.frames}. Make a new plan, or take the sound that the plan was made for.",
        )
