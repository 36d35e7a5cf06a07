"""A reading of the example station that the desk has given back to its reader."""

from __future__ import annotations

from quietleaf.booth.edits import Decided, HandedIn, StateSet
from quietleaf.booth.reading import HandIn
from quietleaf.storage.index_rows import reading_row
from quietleaf.storage.pcm24 import pcm24_of_samples
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.work.open_reading import open_reading
from quietleaf.work.sit_down import new_sitting, sitting_of
from quietleaf.work.tools import Tools
from tests.voices import RATE_HZ, Made

HOUR = "courier-hour-2026-11-25"
READER = "Tomas Vale"
SENTENCES_S = (2.2, 2.6, 2.0, 2.4, 2.7, 2.1, 2.5, 2.3, 2.2)


def read_and_handed_in(tools: Tools) -> tuple[ReadingFolder, list[tuple[float, float]]]:
    """Hand in nine sentences; give where they lie, in seconds."""
    folder = open_reading(HOUR, sitting_of(new_sitting(READER, tools), tools), tools).folder
    made = Made(seed=3)
    made.pause(0.6)
    spoken = []
    for length_s in SENTENCES_S:
        spoken.append(made.speech(length_s))
        made.pause(0.65)
    writer = folder.next_take(RATE_HZ)
    writer.append(pcm24_of_samples(made.samples()))
    folder.seal(writer, origin="a test", author=READER, at=tools.clock())
    folder.append(HandedIn(hand_in=HandIn()), author=READER, at=tools.clock())
    folder.append(StateSet(state="handed in", note=""), author=READER, at=tools.clock())
    tools.database.index_reading(reading_row(folder))
    return folder, spoken


def returned(tools: Tools, *places: tuple[int, str], note: str = "") -> ReadingFolder:
    """Send some of nine sentences back, by their numbers from 0, with notes."""
    folder, spoken = read_and_handed_in(tools)
    for sentence, wish in places:
        start = round((spoken[sentence][0] + 0.7) * RATE_HZ)
        sent = Decided(
            start=(1, start),
            stop=(1, start + RATE_HZ // 2),
            finding="",
            decision="read again",
            remark="text",
            note=wish,
        )
        folder.append(sent, author="Desk", at=tools.clock())
    folder.append(StateSet(state="returned", note=note), author="Desk", at=tools.clock())
    tools.database.index_reading(reading_row(folder))
    return folder
