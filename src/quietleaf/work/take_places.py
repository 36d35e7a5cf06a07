"""Where the samples of a reading at 48 kHz lie in its takes, and back."""

from __future__ import annotations

from bisect import bisect_right
from itertools import accumulate

from quietleaf.booth.timeline import Place
from quietleaf.finishing.plan import RATE_HZ
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.resampled_take import frames_at


class TakePlaces:
    """The reading as it stands, as `TimelineSound` plays it.

    Attributes
    ----------
    samples : int
        Its length at 48 kHz; 0 where nothing is in the programme.
    """

    def __init__(self, folder: ReadingFolder) -> None:
        self._rates = {take.take: take.sample_rate_hz for take in folder.takes()}
        self._timeline = folder.timeline()
        self._spans = self._timeline.spans
        lengths = [
            frames_at(span.stop - span.start, self._rates[span.take], RATE_HZ)
            for span in self._spans
        ]
        *self._starts, self.samples = accumulate(lengths, initial=0)

    def range_of(self, start: int, stop: int) -> tuple[Place, Place]:
        """Give where a range of the reading, at least one sample of it, lies in the takes."""
        start = max(0, min(start, self.samples - 1))
        last = max(start, min(stop, self.samples) - 1)
        take, sample = self._place(last)
        return self._place(start), (take, sample + 1)

    def sample_of(self, place: Place) -> int:
        """Give where a place is heard; of one that is outside, where the reading goes on."""
        take, sample = place
        rank = self._timeline.rank(place)
        for span, start in zip(self._spans, self._starts, strict=True):
            if span.take == take and span.start <= sample < span.stop:
                return start + frames_at(sample - span.start, self._rates[take], RATE_HZ)
            if self._timeline.rank((span.take, span.start)) >= rank:
                return start
        return self.samples

    def _place(self, sample: int) -> Place:
        index = bisect_right(self._starts, sample) - 1
        span = self._spans[index]
        inside = frames_at(sample - self._starts[index], RATE_HZ, self._rates[span.take])
        return span.take, min(span.start + inside, span.stop - 1)
