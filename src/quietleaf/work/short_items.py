"""The station's short items: recordings in a folder that make up the length of a programme."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from quietleaf.errors import Invalid
from quietleaf.finishing.fit_items import Offer
from quietleaf.finishing.plan import RATE_HZ
from quietleaf.listening import channel_levels, channels
from quietleaf.listening.measuring import measured, start_measuring, step_measuring
from quietleaf.storage.codecs import SoundFile, open_sound
from quietleaf.storage.mono_sound import Mono, MonoSound

FOLDER = "short-items"
"""In the data folder: one recording a file, its title the file's name."""
_LONGEST_S = 900.0
_READ_BYTES = 1 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortItems:
    """What can be laid after a reading.

    Attributes
    ----------
    offers : tuple of Offer
        In the order of their names.
    sounds : mapping of str to MonoSound
        Their sound by key, 48 kHz, one channel.
    """

    offers: tuple[Offer, ...]
    sounds: Mapping[str, MonoSound]


NO_SHORT_ITEMS = ShortItems(offers=(), sounds={})


@contextmanager
def short_items(folder: Path | None) -> Iterator[ShortItems]:
    """Open all short items of a folder; none where there is no folder.

    Raises
    ------
    Invalid
        If a file in it is no recording, or is no short item: silent, or over 15 minutes long.
    """
    if folder is None or not folder.is_dir():
        yield NO_SHORT_ITEMS
        return
    paths = sorted(
        path for path in folder.iterdir() if path.is_file() and not path.name.startswith(".")
    )
    with ExitStack() as opened:
        offers, sounds = [], {}
        for path in paths:
            file = opened.enter_context(open_sound(path))
            sound = MonoSound(file, _mono(file), RATE_HZ)
            offer = _offer(path, sound)
            offers.append(offer)
            sounds[offer.key] = sound
        yield ShortItems(offers=tuple(offers), sounds=sounds)


def _offer(path: Path, sound: MonoSound) -> Offer:
    if sound.info.duration_s > _LONGEST_S:
        raise _refusal(path, f"lasts {sound.info.duration_s / 60.0:.0f} minutes")
    state = start_measuring(RATE_HZ, 1)
    for block in sound.blocks():
        step_measuring(state, block)
    loudness = measured(state).loudness.integrated_lufs
    if loudness is None:
        raise _refusal(path, "holds nothing that can be heard")
    return Offer(
        key=_sha256(path),
        title=path.stem,
        samples=sound.info.frames,
        loudness_lufs=loudness,
    )


def _mono(file: SoundFile) -> Mono:
    state = channel_levels.start(file.info.sample_rate_hz, file.info.channels)
    for block in file.blocks():
        state = channel_levels.step(state, block)
    return channels.result(state).mono


def _sha256(path: Path) -> str:
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while part := file.read(_READ_BYTES):
            digest.update(part)
    return digest.hexdigest()


def _refusal(path: Path, why: str) -> Invalid:
    return Invalid(
        "finish/short-item",
        f"A short item is a recording of up to 15 minutes; {path.name} {why}. Take it out of "
        "the folder of short items.",
    )
