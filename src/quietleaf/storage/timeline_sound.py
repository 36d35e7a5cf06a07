"""A reading as sound: its timeline at one rate, with the joins cross-faded.

Where two spans meet, the first goes on for 5 ms past its end and the second begins 5 ms before
its start, and both are faded with equal power: two stretches of the same room keep its level. The
length of the reading does not change.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from quietleaf.booth.timeline import Timeline
from quietleaf.errors import AudioUnfit, Invalid
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.resampled_take import ResampledTake
from quietleaf.storage.sound_source import SoundInfo, read_in_blocks
from quietleaf.storage.take_reader import TakeReader

CROSS_FADE_S = 0.010


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fade:
    """A fade over the frames [start, stop) of the timeline."""

    start: int
    stop: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """A span as sound, from ``start`` of the timeline on; without a fade at its outer ends."""

    sound: ResampledTake
    start: int
    fade_in: _Fade | None
    fade_out: _Fade | None

    @property
    def heard_from(self) -> int:
        return self.start if self.fade_in is None else self.fade_in.start

    @property
    def heard_to(self) -> int:
        end = self.start + self.sound.frames
        return end if self.fade_out is None else self.fade_out.stop


class TimelineSound:
    """A reading's timeline as a source of sound: mono, one rate, the same bytes each time.

    Use it as a context, or ``close`` it.

    Parameters
    ----------
    folder : ReadingFolder
        As it stands when this is made.
    sample_rate_hz : int
        Of the sound that comes out.

    Raises
    ------
    AudioUnfit
        If nothing is in the programme.
    Damaged
        If a take is not what the ledger says; while reading, if a record of it is not.

    Notes
    -----
    A span shorter than a fade gives half of itself to each side. At the very end of a take there
    is nothing to go on with: the fade then ends there, within the span.
    """

    def __init__(self, folder: ReadingFolder, sample_rate_hz: int = 48_000) -> None:
        self._readers: dict[int, TakeReader] = {}
        timeline = folder.timeline()
        try:
            for take in sorted({span.take for span in timeline.spans}):
                self._readers[take] = folder.open_take(take)
        except BaseException:
            self.close()
            raise
        self._parts = _parts(timeline, self._readers, sample_rate_hz)
        if not self._parts:
            self.close()
            raise AudioUnfit(
                "timeline/empty",
                f"Reading {folder.facts.reading_id} has nothing in its programme yet; "
                "record a take or bring one in.",
            )
        self.timeline = timeline
        self._recent: deque[ResampledTake] = deque(maxlen=2)
        self._starts = [part.start for part in self._parts]
        self._info = SoundInfo(
            sample_rate_hz=sample_rate_hz,
            channels=1,
            frames=self._parts[-1].start + self._parts[-1].sound.frames,
            encoding="reading",
        )

    @property
    def joins(self) -> tuple[int, ...]:
        """The frames where two spans meet, in the middle of their fade."""
        return tuple(self._starts[1:])

    @property
    def info(self) -> SoundInfo:
        """Its rate, one channel, and its length."""
        return self._info

    def blocks(self, block_frames: int = 65_536) -> Iterator[NDArray[np.float64]]:
        """Give the whole reading from its start, in blocks of shape (n, 1), full scale 1.0."""
        return read_in_blocks(self, block_frames)

    def read(self, start: int, stop: int) -> NDArray[np.float64]:
        """Give a half-open range of frames, shape (stop - start, 1), full scale 1.0."""
        if not 0 <= start <= stop <= self._info.frames:
            raise Invalid(
                "timeline/range",
                f"This reading has frames 0 to {self._info.frames}; "
                f"{start} to {stop} were asked for.",
            )
        out = np.zeros(stop - start)
        # A fade reaches into a neighbour's half at most, so one part before is enough.
        for part in self._parts[max(0, bisect_right(self._starts, start) - 2) :]:
            if part.heard_from >= stop:
                break
            first, last = max(start, part.heard_from), min(stop, part.heard_to)
            if first >= last:
                continue
            self._keep_few(part.sound)
            heard = part.sound.read(first - part.start, last - part.start)
            if part.fade_in is not None:
                _fade(heard, first, part.fade_in, rising=True)
            if part.fade_out is not None:
                _fade(heard, first, part.fade_out, rising=False)
            out[first - start : last - start] += heard
        return out[:, np.newaxis]

    def _keep_few(self, sound: ResampledTake) -> None:
        """Let only the parts on both sides of the last join keep a segment: memory stays flat."""
        if sound in self._recent:
            return
        if len(self._recent) == self._recent.maxlen:
            self._recent.popleft().forget()
        self._recent.append(sound)

    def close(self) -> None:
        """Let go of the takes."""
        for reader in self._readers.values():
            reader.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _parts(
    timeline: Timeline, readers: dict[int, TakeReader], sample_rate_hz: int
) -> tuple[_Part, ...]:
    sounds = [
        ResampledTake(readers[span.take], span.start, span.stop, sample_rate_hz)
        for span in timeline.spans
    ]
    # A span shorter than half a frame is in the timeline and cannot be heard.
    sounds = [sound for sound in sounds if sound.frames]
    half = round(CROSS_FADE_S / 2 * sample_rate_hz)
    parts: list[_Part] = []
    start = 0
    fade_in: _Fade | None = None
    for index, sound in enumerate(sounds):
        end = start + sound.frames
        fade_out = next_fade_in = None
        if index + 1 < len(sounds):
            following = sounds[index + 1]
            inside = min(half, sound.frames // 2, following.frames // 2)
            fade_out = _Fade(start=end - inside, stop=end + min(inside, sound.frames_after))
            next_fade_in = _Fade(
                start=end - min(inside, following.frames_before), stop=end + inside
            )
        parts.append(_Part(sound=sound, start=start, fade_in=fade_in, fade_out=fade_out))
        start, fade_in = end, next_fade_in
    return tuple(parts)


def _fade(heard: NDArray[np.float64], first: int, fade: _Fade, *, rising: bool) -> None:
    """Fade what was heard from frame ``first`` on, in place; outside the fade nothing changes."""
    start, stop = max(fade.start, first), min(fade.stop, first + len(heard))
    if start >= stop:
        return
    way = (np.arange(start, stop) + 0.5 - fade.start) / (fade.stop - fade.start)
    angle = way * (math.pi / 2)
    heard[start - first : stop - first] *= np.sin(angle) if rising else np.cos(angle)
