"""Real readings whose sentence starts are known, from the shared recordings, to judge and to learn.

Unedited takes of verse; announcements; clips of one sentence one after the other: some with the
silence that they have at their edges, some (which have none) with gaps that are drawn.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from bench.proving.shaping import frame_powers

TRUTH = Path(__file__).with_name("sentence_truth.json")
SEED = 7
GAP_SPREAD = 0.3
ANNOUNCED_GAP_S = 0.3
SAME_S = 0.36
"""An onset this near a pause's end is that pause's: soft beginnings, and what alignment misses."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownTake:
    """A reading with its truth.

    Attributes
    ----------
    starts_s : tuple of float
        Onsets of sentences, the first left out.
    open_s : tuple of float
        Onsets that are neither right nor wrong.
    """

    name: str
    voice: str
    samples: NDArray[np.float64]
    sample_rate_hz: int
    starts_s: tuple[float, ...]
    open_s: tuple[float, ...]


def known_takes(folder: Path) -> list[KnownTake]:
    """Lay all takes, from the folder of shared recordings."""
    truth = json.loads(TRUTH.read_text())
    catalogue = {
        entry["file"]: entry for entry in json.loads((folder / "catalogue.json").read_text())
    }
    takes = []
    for name, entry in truth["takes"].items():
        samples, rate = _read(folder / entry["file"])
        voice = catalogue[entry["file"]].get("voice_id") or name
        takes.append(_take(name, voice, samples, rate, entry["starts"], entry["open"]))
    takes.append(_announcer(folder, truth["announcer"]))
    takes += [_clips(folder, name, entry, catalogue) for name, entry in truth["clips"].items()]
    return takes


def _announcer(folder: Path, pieces: list[dict[str, Any]]) -> KnownTake:
    draw = np.random.default_rng(SEED)
    parts: list[NDArray[np.float64]] = []
    starts: list[float] = []
    at = 0
    for piece in pieces:
        samples, rate = _read(folder / piece["file"])
        first, stop = (round(edge * rate) for edge in piece["span"])
        if parts:
            parts.append(_room(samples, rate, ANNOUNCED_GAP_S, draw))
            at += parts[-1].size
        starts += [(at - first) / rate + start for start in piece["starts"]]
        parts.append(samples[first:stop])
        at += parts[-1].size
    return _take("announcer", "prompts_en", np.concatenate(parts), rate, starts[1:], [])


def _clips(
    folder: Path, voice: str, entry: dict[str, Any], catalogue: dict[str, dict[str, Any]]
) -> KnownTake:
    draw = np.random.default_rng(SEED)
    parts: list[NDArray[np.float64]] = []
    starts: list[float] = list(entry["starts"])
    at = 0
    said = "."
    for path in sorted((folder / "speech" / voice).glob("*.flac")):
        samples, rate = _read(path)
        about = catalogue[path.relative_to(folder).as_posix()]
        ended = entry["gap"] is None or said.rstrip()[-1:] in ".!?"
        if parts and entry["gap"] is not None:
            gap_s = entry["gap"][0 if ended else 1] * np.exp(GAP_SPREAD * draw.normal())
            parts.append(_room(samples, rate, gap_s, draw))
            at += parts[-1].size
        if parts and ended:
            starts.append(at / rate + (about.get("start") or 0.0))
        parts.append(samples)
        at += samples.size
        said = about.get("transcript") or "."
    return _take(voice, voice, np.concatenate(parts), rate, sorted(starts), entry["open"])


def _take(
    name: str,
    voice: str,
    samples: NDArray[np.float64],
    sample_rate_hz: int,
    starts_s: Iterable[float],
    open_s: Iterable[float],
) -> KnownTake:
    return KnownTake(
        name=name,
        voice=voice,
        samples=samples,
        sample_rate_hz=sample_rate_hz,
        starts_s=tuple(starts_s),
        open_s=tuple(open_s),
    )


def _read(path: Path) -> tuple[NDArray[np.float64], int]:
    samples, rate = soundfile.read(path, always_2d=True)
    return samples.mean(axis=1), int(rate)


def _room(
    samples: NDArray[np.float64], rate: int, length_s: float, draw: np.random.Generator
) -> NDArray[np.float64]:
    """Make a gap of noise as quiet as the quietest twentieth of a clip."""
    power = np.percentile(frame_powers(samples, rate), 5.0)
    room: NDArray[np.float64] = draw.normal(size=round(length_s * rate)) * np.sqrt(power)
    return room
