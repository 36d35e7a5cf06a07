"""Cut what rustles at both ends of a take: before its first word and after its last."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from quietleaf.booth.edits import Cut
from quietleaf.listening.take_edges import TakeEdges, word_edges
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.take_reader import TakeReader
from quietleaf.work.enter import enter
from quietleaf.work.tools import Tools

AUTHOR = "Quietleaf"
BEFORE_S = 0.2
AFTER_S = 0.3
"""So much of the room stays with the words, as far as it is quiet."""
_BEFORE_S_MIN = 0.06
_AFTER_S_MIN = 0.08
_WITHOUT_VOICE_S = 2.0
_LOOK_S = 30.0
_OVERLAP_S = 5.0
_WORTH_S = 0.05


def trim_take(folder: ReadingFolder, take: int, tools: Tools) -> None:
    """Take what lies before the first word and after the last one out of the programme.

    0.2 s before the first word and 0.3 s after the last stay, less where something rustles in
    them. A take without any voice is cut whole if it is shorter than 2 s (a key pressed twice);
    a longer one is left as it is, for somebody to hear. Asking twice enters each cut once, even
    if it was taken back meanwhile; a take that is still recorded is left alone.

    Raises
    ------
    Conflict
        If the reading goes on changing at each attempt, or is cleared.
    NotFound, Damaged
        If the take is not there, or not what was written.
    """
    # An object of its own: the one that records may be used at the same moment.
    reading = ReadingFolder(folder.path)
    if any(known.take == take and known.samples is None for known in reading.takes()):
        return
    with reading.open_take(take) as sound:
        cuts = _cuts(sound, take)
    for end, cut in cuts.items():
        # The sound of a sealed take does not change, whatever else does.
        enter(reading, cut, edit_id=f"trim:{take}:{end}", author=AUTHOR, tools=tools)


def _cuts(sound: TakeReader, take: int) -> dict[Literal["all", "head", "tail"], Cut]:
    rate, samples = sound.info.sample_rate_hz, sound.info.frames
    at_start = _look(sound, _from_start)
    at_end = _look(sound, _from_end) if at_start is not None else None
    if at_start is None or at_end is None:
        if 0 < samples < _WITHOUT_VOICE_S * rate:
            return {"all": Cut(take=take, start=0, stop=samples)}
        return {}
    start = max(
        at_start.first_word - round(BEFORE_S * rate),
        min(at_start.clean_from, at_start.first_word - round(_BEFORE_S_MIN * rate)),
    )
    stop = min(
        at_end.last_word_end + round(AFTER_S * rate),
        max(at_end.clean_until, at_end.last_word_end + round(_AFTER_S_MIN * rate)),
    )
    cuts: dict[Literal["all", "head", "tail"], Cut] = {}
    if start >= _WORTH_S * rate:
        cuts["head"] = Cut(take=take, start=0, stop=start)
    if samples - stop >= _WORTH_S * rate:
        cuts["tail"] = Cut(take=take, start=stop, stop=samples)
    return cuts


def _look(
    sound: TakeReader, window: Callable[[int, int, int], tuple[int, int]]
) -> TakeEdges | None:
    """Look at one window after another from an end until there is a voice."""
    rate, samples = sound.info.sample_rate_hz, sound.info.frames
    long, overlap = round(_LOOK_S * rate), round(_OVERLAP_S * rate)
    for done in range(0, max(samples - overlap, 1), long - overlap):
        start, stop = window(samples, done, min(done + long, samples))
        found = word_edges(sound.read(start, stop)[:, 0], rate)
        if found is not None:
            return TakeEdges(
                first_word=start + found.first_word,
                last_word_end=start + found.last_word_end,
                clean_from=start + found.clean_from,
                clean_until=start + found.clean_until,
            )
    return None


def _from_start(_samples: int, near: int, far: int) -> tuple[int, int]:
    return near, far


def _from_end(samples: int, near: int, far: int) -> tuple[int, int]:
    return samples - far, samples - near
