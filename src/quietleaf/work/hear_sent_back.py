"""Hear a sentence that was sent back: what leads up to it, and how it stands in its place now."""

from __future__ import annotations

from quietleaf.booth.timeline import Place
from quietleaf.errors import NotFound
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.reading_places import folder_of
from quietleaf.storage.resampled_take import frames_at
from quietleaf.storage.timeline_sound import TimelineSound
from quietleaf.work.hear_last import RATE_HZ, LastHeard
from quietleaf.work.place_patch import place_patches
from quietleaf.work.sent_back import SentBack, sent_back
from quietleaf.work.tools import Tools

AROUND_S = 3.0
"""So much is heard before a sentence and after it: over both joins, if it was read again."""


def hear_before(place: str, number: int, length_s: float, tools: Tools) -> LastHeard:
    """Give the seconds before a sentence that was sent back; nothing where it comes first.

    Parameters
    ----------
    place : str
        Where the reading lies: ``readings:<id>``.
    number : int
        Of the sentence, see `SentBack`.

    Raises
    ------
    NotFound
        If nothing is at this place (any more), or nothing of that number was sent back.
    AudioUnfit
        If nothing is in its programme.
    Damaged
        If a take is not what was recorded.
    """
    folder = folder_of(tools.data, place)
    asked = _asked(folder, number)
    with TimelineSound(folder, RATE_HZ) as sound:
        stop = _frames_before(folder, asked.start)
        start = max(0, stop - round(length_s * RATE_HZ))
        return LastHeard(samples=sound.read(start, stop)[:, 0], sample_rate_hz=RATE_HZ)


def hear_in_place(place: str, number: int, tools: Tools) -> LastHeard:
    """Give a sentence that was sent back as it stands now, with what comes before and after it.

    What was just read again is put in its place first, if that has not been done yet; see
    `hear_before` for what is asked and refused.
    """
    folder = folder_of(tools.data, place)
    asked = _asked(folder, number)
    place_patches(folder, tools)
    with TimelineSound(folder, RATE_HZ) as sound:
        around = round(AROUND_S * RATE_HZ)
        start = max(0, _frames_before(folder, asked.start) - around)
        stop = min(sound.info.frames, _frames_before(folder, asked.stop) + around)
        return LastHeard(samples=sound.read(start, stop)[:, 0], sample_rate_hz=RATE_HZ)


def _asked(folder: ReadingFolder, number: int) -> SentBack:
    found = next((one for one in sent_back(folder) if one.number == number), None)
    if found is None:
        raise NotFound(
            "stand/not-sent-back",
            "The desk does not ask for this sentence any more. Load the page again, and see what "
            "is left to read.",
        )
    return found


def _frames_before(folder: ReadingFolder, place: Place) -> int:
    rates = {take.take: take.sample_rate_hz for take in folder.takes()}
    return sum(
        frames_at(span.stop - span.start, rates[span.take], RATE_HZ)
        for span in folder.timeline().spans_before(place)
    )
