"""The sessions that are judged, in groups: which voices, how messy, recorded with what."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from bench.proving.mess import CLEAN, DENSE, RESTARTS_TRUE, RESTARTS_WARPED, TYPICAL, Mess
from bench.proving.pieces import Pieces
from bench.proving.session import read_seconds

READ_S_MIN = 45.0
"""A voice with less speech than this fills no session."""
_ROBUST_VOICES = 3
_ROBUST_TRUE_VOICES = 2
_SEEDS = {"clean": 1, "typical": 2, "dense": 3, "warped": 4, "true": 5, "robust": 6}


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A session to make: ``row`` is what it is summed up under within its suite."""

    suite: str
    row: str
    voice: str
    mess: Mess
    seed: int


MESSES = {
    "clean": CLEAN,
    "typical": TYPICAL,
    "dense": DENSE,
    "warped": RESTARTS_WARPED,
    "true": RESTARTS_TRUE,
}
SUITES = (*MESSES, "robust")

_MIXED = replace(
    TYPICAL, restarts=1.5, echoes=0.0, steps=0.1, dead_airs=0.1, floor_dbfs=(-72.0, -72.0)
)
_AS_MADE = replace(_MIXED, speech_dbov=(-24.0, -24.0))
VERSIONS: dict[str, Mess] = {
    "as made": _AS_MADE,
    "floor -65": replace(_AS_MADE, floor_dbfs=(-65.0, -65.0)),
    "floor -55": replace(_AS_MADE, floor_dbfs=(-55.0, -55.0)),
    "floor -45": replace(_AS_MADE, floor_dbfs=(-45.0, -45.0)),
    "room tone -60": replace(_AS_MADE, floor="roomtone", floor_dbfs=(-60.0, -60.0)),
    "speech -35": replace(_AS_MADE, speech_dbov=(-35.0, -35.0), floor_dbfs=(-80.0, -80.0)),
    "speech -15": replace(_AS_MADE, speech_dbov=(-15.0, -15.0)),
    "room 1": replace(_AS_MADE, room=0),
    "room 2": replace(_AS_MADE, room=1),
    "room 3": replace(_AS_MADE, room=2),
    "dark": replace(_AS_MADE, microphone="dark"),
    "bright": replace(_AS_MADE, microphone="bright"),
    "thin": replace(_AS_MADE, microphone="thin"),
    "boxy": replace(_AS_MADE, microphone="boxy"),
    "narrow": replace(_AS_MADE, microphone="narrow"),
    "wide": replace(_AS_MADE, wide=True),
    "8 kHz origin": replace(_AS_MADE, band_hz=4_000.0),
    "11 kHz origin": replace(_AS_MADE, band_hz=5_500.0),
    "MP3 64": replace(_AS_MADE, coded_kbps=64),
    "MP3 32": replace(_AS_MADE, coded_kbps=32),
}


def planned(pieces: Pieces, suites: tuple[str, ...], seed: int) -> Iterator[Planned]:
    """Plan sessions: a row for each voice; the versions of `robust` with the same voices."""
    long = [voice for voice in pieces.voices if read_seconds(pieces, voice) >= READ_S_MIN]
    for suite in suites:
        first = 1_000 * seed + 100 * _SEEDS[suite]
        if suite == "robust":
            yield from _versions(_spread(long, _ROBUST_VOICES), pieces, first)
            continue
        voices = pieces.repeat_voices if suite == "true" else tuple(long)
        for index, voice in enumerate(voices):
            yield Planned(
                suite=suite, row=voice, voice=voice, mess=MESSES[suite], seed=first + index
            )


def _versions(voices: Sequence[str], pieces: Pieces, first: int) -> Iterator[Planned]:
    true_voices = _spread(pieces.repeat_voices, _ROBUST_TRUE_VOICES)
    for name, mess in VERSIONS.items():
        # The same seeds, so that only the version differs.
        for index, voice in enumerate(voices):
            yield Planned(suite="robust", row=name, voice=voice, mess=mess, seed=first + index)
        for index, voice in enumerate(true_voices):
            yield Planned(
                suite="robust",
                row=name,
                voice=voice,
                mess=replace(mess, how="true"),
                seed=first + 50 + index,
            )


def _spread(voices: Sequence[str], count: int) -> Sequence[str]:
    """Choose so many, evenly."""
    step = max(1, len(voices) // count)
    return voices[step - 1 :: step][:count]
