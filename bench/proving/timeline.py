"""A session while it is laid: sounds at their places, and labels."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from bench.proving.labels import Label
from bench.proving.shaping import Samples, gain_of
from bench.proving.spoken import Said


class Timeline:
    """What was laid so far, at the voice's own sampling rate.

    Attributes
    ----------
    at_s : float
        Where the next sound will be laid.
    spoken_s : float
        Where the last speech ended.
    """

    def __init__(self, rate_hz: int, speech_dbov: float) -> None:
        self.rate_hz = rate_hz
        self.speech_dbov = speech_dbov
        self.labels: list[Label] = []
        self.voice_gain_db = 0.0
        self.spoken_s = 0.0
        self._at = 0
        self._parts: list[tuple[int, Samples]] = []

    @property
    def at_s(self) -> float:
        """Where the next sound will be laid."""
        return self._at / self.rate_hz

    def wait(self, length_s: float) -> None:
        """Lay nothing but the room."""
        self._at += round(length_s * self.rate_hz)

    def speak(self, said: Said, role: str, **more: Any) -> Label:
        """Lay speech; its label covers where the voice is active."""
        onset_s = self.at_s + said.start_s
        end_s = self.at_s + said.stop_s
        self._parts.append(
            (self._at, said.samples * gain_of(self.speech_dbov + self.voice_gain_db))
        )
        if self.labels or self.spoken_s:
            self.tell("pause", self.spoken_s, onset_s)
        detail = {
            "clip": said.name,
            "text": said.text,
            "words": len(said.words) if said.words else None,
            "role": role,
            "stops_s": tuple((self.at_s + a, self.at_s + b) for a, b in said.stops_s),
            "onsets_s": tuple(self.at_s + a for _, a, _ in said.words),
            **more,
        }
        label = self.tell("speech", onset_s, end_s, detail)
        self.spoken_s = end_s
        self._at += said.samples.size
        return label

    def lay(self, at_s: float, sound: Samples) -> None:
        """Lay a sound over what there is or will be."""
        self._parts.append((round(at_s * self.rate_hz), sound))

    def tell(
        self, kind: str, start_s: float, end_s: float, detail: Mapping[str, Any] | None = None
    ) -> Label:
        """Add a label."""
        label = Label(kind=kind, start_s=start_s, end_s=end_s, detail=detail or {})
        self.labels.append(label)
        return label

    def sound(self) -> Samples:
        """Give all that was laid, shape (n,)."""
        whole = np.zeros(self._at)
        for first, part in self._parts:
            start, stop = max(0, first), min(whole.size, first + part.size)
            if stop > start:
                whole[start:stop] += part[start - first : stop - first]
        return whole
