"""Short sentences of four actors in two languages, said with much expression, no text known.

Packages of Debian hold them, the sound of a puzzle: more voices for the net of phones, for warped
false starts and for what is no false start. Credit: the packages' authors, GPL-2+; only numbers
learned from them leave this machine.
"""

from __future__ import annotations

import numpy as np

from bench.prompts import unpacked
from bench.proving.open_archives import decode
from bench.proving.pieces import Clip
from bench.proving.shaping import level_frames_db

_VERSION = "1.0.1-1.1"
_SOURCES = {
    "dialogue-cs-m": ("cs", "m"),
    "dialogue-cs-v": ("cs", "v"),
    "dialogue-nl-m": ("nl", "m"),
    "dialogue-nl-v": ("nl", "v"),
}
"""Language, and the letter of the speaker."""
_LENGTH_S = (1.0, 12.0)
_SOUNDING_DB = 32.0
_EDGE_FRAMES = 2


def dialogue_voices() -> tuple[str, ...]:
    """Give the voices there are."""
    return tuple(_SOURCES)


def load_dialogues(voice: str, most: int) -> tuple[Clip, ...]:
    """Give so many sentences of a voice, spread evenly over all; fetched the first time."""
    language, speaker = _SOURCES[voice]
    folder = unpacked(f"fillets-ng-data-{language}", _VERSION)
    paths = sorted(folder.rglob(f"*-{speaker}-*.ogg"))
    clips = []
    for path in paths[:: max(1, len(paths) // most)][:most]:
        samples, rate = decode(path)
        if samples.size < _LENGTH_S[0] * rate:
            continue
        level = level_frames_db(samples, rate)
        heard = np.flatnonzero(level > np.percentile(level, 92.0) - _SOUNDING_DB)
        start_s = max(0, int(heard[0]) - _EDGE_FRAMES) / 100
        stop_s = min((int(heard[-1]) + 1 + _EDGE_FRAMES) / 100, samples.size / rate)
        if _LENGTH_S[0] <= stop_s - start_s <= _LENGTH_S[1]:
            clips.append(
                Clip(
                    voice=voice,
                    name=f"{voice}-{path.stem}",
                    samples=samples,
                    sample_rate_hz=rate,
                    start_s=start_s,
                    stop_s=stop_s,
                )
            )
    return tuple(clips)
