"""A reading of a made voice that the desk sends back, and a stand that reads sentences again."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from quietleaf.booth.edits import Decided, Patch, StateSet
from quietleaf.booth.replay import counting
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.work.place_again import place_agains
from quietleaf.work.place_patch import place_patch
from quietleaf.work.record_reading import Recorder
from quietleaf.work.tools import Tools
from tests.readings import AT, folder_with
from tests.stand_client import Journal
from tests.voices import RATE_HZ, Made

SENTENCES = 9
LED_S = 3.0


@dataclass(frozen=True, kw_only=True)
class SentBackReading:
    """A reading that was sent back.

    Attributes
    ----------
    spoken : tuple of (float, float)
        Where its sentences lie, in seconds.
    numbers : tuple of int
        Of the decisions, by the sentences that they are about.
    """

    folder: ReadingFolder
    spoken: tuple[tuple[float, float], ...]
    numbers: dict[int, int]


def sent_back_reading(data: Path, *sentences: int, seed: int = 3) -> SentBackReading:
    """Hand in nine sentences, and send some of them back, by their numbers from 0."""
    made = Made(seed=seed)
    draw = np.random.default_rng(seed)
    made.pause(0.6)
    spoken = []
    for _ in range(SENTENCES):
        spoken.append(made.speech(1.8 + draw.random()))
        made.pause(0.6 + 0.1 * draw.random())
    folder = folder_with(data, made.samples())
    folder.append(StateSet(state="handed in", note=""), author="Ada", at=AT)
    numbers = {}
    for sentence in sentences:
        start = round((spoken[sentence][0] + 0.6) * RATE_HZ)
        decided = Decided(
            start=(1, start),
            stop=(1, start + RATE_HZ // 4),
            finding="",
            decision="read again",
            remark="text",
            note=f"sentence {sentence}",
        )
        numbers[sentence] = folder.append(decided, author="Desk", at=AT).number
    folder.append(StateSet(state="returned", note=""), author="Desk", at=AT)
    return SentBackReading(folder=folder, spoken=tuple(spoken), numbers=numbers)


def read_later(seed: int = 11, *, speaks_s: float = 2.4, level_dbov: float = -24.0) -> Made:
    """Make what a microphone hears: the room while the lead-in plays, a sentence, the room."""
    made = Made(seed=seed)
    made.pause(LED_S + 0.7)
    if speaks_s:
        made.speech(speaks_s, level_dbov)
    made.pause(0.8)
    return made


class Stand:
    """A stand that reads sentences again, without a browser."""

    def __init__(self, folder: ReadingFolder, tools: Tools, *, listens: bool = True) -> None:
        self._listens = listens
        self.journal = Journal()
        self._folder, self._tools = folder, tools
        self._sent = self._first = 0
        self._recorder = Recorder(
            folder,
            self.journal.name,
            "Ada Quill",
            tools,
            on_changed=lambda _: None,
            on_sealed=self._listen,
        )

    def read(self, number: int, sound: NDArray[np.float64], *, fresh: bool = True) -> None:
        """Read a sentence again from its start: press, listen, read, hold."""
        led = round(LED_S * RATE_HZ)
        self.journal.roll(RATE_HZ, read_for=number, fresh=fresh)
        if fresh:
            self._first = len(self.journal.sent_sound)
        first = self._first
        self.journal.again((first, 0))
        self.journal.sound(sound[:led])
        self.journal.again((first, 0), mark=0, instead=True)
        self.journal.sound(sound[led:])
        self.journal.seal()
        self.send()

    def send(self) -> None:
        """Send what was recorded since."""
        self._recorder.take_and_confirm(self.journal.records[self._sent :])
        self._sent = len(self.journal.records)

    def close(self) -> None:
        """Let go of the take."""
        self._recorder.close()

    def _listen(self, folder: ReadingFolder, take: int) -> None:
        if not self._listens:
            return
        place_agains(folder, take, self._tools)
        place_patch(folder, take, self._tools)


def patches(folder: ReadingFolder) -> list[Patch]:
    """Give the patches that count."""
    happened = (edit.what for edit in counting(folder.reload().standing))
    return [what for what in happened if isinstance(what, Patch)]


def spans(folder: ReadingFolder) -> list[tuple[int, float, float]]:
    """Give the programme in seconds of its takes."""
    return [
        (span.take, span.start / RATE_HZ, span.stop / RATE_HZ)
        for span in folder.reload().timeline().spans
    ]
