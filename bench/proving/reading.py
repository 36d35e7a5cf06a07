"""Lays a reading: sentences and pauses, false starts, what is alike, breaks, sounds in pauses."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from bench.proving.labels import Label
from bench.proving.mess import Mess
from bench.proving.pieces import Noise, Pieces
from bench.proving.readers import Reader
from bench.proving.shaping import Samples, gain_of, loudest_db, varied
from bench.proving.spoken import Said, broken_off, doubled
from bench.proving.timeline import Timeline

SAME_AGAIN_S = 45.0
"""A sentence does not come back sooner, unless a label says so."""
_GAP_MEDIAN_S, _GAP_SPREAD = 0.6, 0.45
_GAP_S = (0.25, 1.6)
_PARAGRAPH_S = (1.0, 1.8)
_PARAGRAPHS = 0.12
_TRIES = (0.70, 0.22, 0.08)
_SEVERAL = 0.12
_BETWEEN = (("cough", 0.12), ("rustle", 0.13), ("click", 0.08), ("breath-natural", 0.14))
_WEAKEST_OVER_FLOOR_DB = 14.0
_WINDOW_S = {"click": 0.01}
_LEVEL_DB = {
    "rustle": (-22.0, 2.0),
    "cough": (-14.0, 5.0),
    "click": (-16.0, 4.0),
    "noise": (-22.0, 3.0),
    "breath": (-10.0, 2.0),
    "breath-natural": (-40.0, -20.0),
}
"""Of the loudest 50 ms (clicks: 10 ms) against the speech."""

Draws = Callable[[str], np.random.Generator]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """From here on: the whole scene, its tone or its floor moves by so much."""

    at_s: float
    what: str
    by_db: float


class Reading:
    """One reading in the making."""

    def __init__(
        self,
        reader: Reader,
        pieces: Pieces,
        mess: Mess,
        timeline: Timeline,
        floor_dbov: float,
        draws: Draws,
    ) -> None:
        self.reader = reader
        self.pieces = pieces
        self.mess = mess
        self.line = timeline
        self.floor_dbov = floor_dbov
        self.draws = draws
        self.steps: list[Step] = []
        self._ended_s: dict[str, float] = {}
        self._recent: list[tuple[Said, int]] = []
        self._count = 0
        self._moved_db = 0.0
        self._chains = 0
        self._asked_s: dict[str, float] = {}

    def read(self, length_s: float) -> None:
        """Read until so much is laid, or no sentence is left that may come."""
        draw = self.draws("gaps")
        self.line.wait(float(draw.uniform(0.5, 1.5)))
        while self.line.at_s < length_s:
            # A break that nothing is read after is none.
            if not self._sentence() or self.line.at_s >= length_s:
                break
            self._gap()
        self.line.wait(0.6)

    def _sentence(self) -> bool:
        draw = self.draws("sentences")
        if self._due("refrains") and self._refrain():
            return True
        said = self.reader.next(self._barred(), draw)
        if said is None:
            return False
        if self._due("restarts") and self._restart(said):
            return True
        if self._due("doubled"):
            twice = doubled(said, self.draws("doubled"))
            if twice is not None:
                self._speak(twice, "doubled")
                return True
        self._speak(said, "read")
        if self._due("alike"):
            other = self.reader.alike(said, self._barred(), self.draws("alike"))
            if other is not None:
                self._gap()
                self._speak(other, "alike")
        return True

    def _barred(self) -> frozenset[str]:
        since_s = self.line.at_s - SAME_AGAIN_S
        return frozenset(key for key, ended_s in self._ended_s.items() if ended_s > since_s)

    def _speak(self, said: Said, role: str, **more: object) -> Label:
        label = self.line.speak(said, role, **more)
        self._ended_s[said.key] = label.end_s
        self._count += 1
        if role in ("read", "again"):
            self._recent.append((said, self._count))
        return label

    def _refrain(self) -> bool:
        """Return to a whole sentence after two others or more, within half a minute."""
        draw = self.draws("refrains")
        for said, at in reversed(self._recent[-8:]):
            since_s = self.line.at_s - self._ended_s[said.key]
            if self._count - at >= 2 and since_s < 30.0:
                again = self.reader.again(said, draw)
                if again is None:
                    return False
                self._speak(again, "refrain")
                return True
        return False

    def _restart(self, said: Said) -> bool:
        """Read a false start or several, then the sentence from its start."""
        draw = self.draws("restarts")
        tries = 1 + int(draw.choice(len(_TRIES), p=_TRIES))
        second: Said | None = None
        if draw.random() < _SEVERAL:
            second = self.reader.next(self._barred() | {said.key}, draw)
        broken = second or said
        # All is said before anything is laid: there may be too few other recordings.
        attempts: list[tuple[Said, ...]] = []
        now: tuple[Said, ...] = (said,) if second is None else (said, second)
        least_s = 0.0
        for _ in range(tries):
            attempt = broken_off(now[-1], draw, least_s)
            fresh = [self.reader.again(one, draw) for one in now]
            if attempt is None or any(one is None for one in fresh):
                break
            attempts.append((*now[:-1], attempt))
            now = tuple(one for one in fresh if one is not None)
            if draw.random() < 0.4:
                least_s = min(attempt.stop_s, 0.5 * (broken.stop_s - broken.start_s))
        if not attempts:
            return False
        self._chains += 1
        starts: list[tuple[float, float]] = []
        told: list[tuple[float, str]] = []
        for tried in attempts:
            before_s = self.line.spoken_s
            onset_s = self._speak_all(tried, "attempt")
            starts.append((before_s, onset_s))
            ended_s = self.line.spoken_s
            told.append((ended_s, self._between(draw)))
        before_s = self.line.spoken_s
        onset_s = self._speak_all(now, "again")
        starts.append((before_s, onset_s))
        for index, tried in enumerate(attempts):
            (pause_s, start_s), (next_pause_s, next_s) = starts[index], starts[index + 1]
            self.line.tell(
                "restart",
                start_s,
                next_s,
                {
                    "pause_before_s": (pause_s, start_s),
                    "pause_again_s": (next_pause_s, next_s),
                    "how": self.mess.how,
                    "chain": self._chains,
                    "attempt": index + 1,
                    "tries": len(attempts),
                    "words": len(tried[-1].words) or None,
                    "sentences": len(tried),
                    "between": told[index][1],
                    "broken_s": told[index][0],
                },
            )
        return True

    def _speak_all(self, sentences: tuple[Said, ...], role: str) -> float:
        onset_s = math.inf
        for index, said in enumerate(sentences):
            if index:
                self.line.wait(_gap_s(self.draws("gaps")))
            label = self._speak(said, role)
            onset_s = min(onset_s, label.start_s)
        return onset_s

    def _between(self, draw: np.random.Generator) -> str:
        """Wait between a try and the next, with what may be in it."""
        self.line.wait(float(draw.uniform(0.3, 2.0)))
        pick = float(draw.random())
        for kind, share in _BETWEEN:
            pick -= share
            if pick < 0.0 and self.pieces.noises.get(kind):
                self._in_pause(kind, draw)
                return kind
        return ""

    def _gap(self) -> None:
        draw = self.draws("gaps")
        begun_s = self.line.at_s
        if self._due("dead_airs"):
            self.line.wait(float(self.draws("dead_airs").uniform(6.0, 20.0)))
            self.line.tell("dead-air", self.line.spoken_s, self.line.at_s)
            return
        for name, what in (("steps", "level"), ("tone_steps", "tone"), ("floor_steps", "floor")):
            if self._due(name):
                self._step(what)
                return
        self.line.wait(_gap_s(draw))
        for name, kind in (
            ("rustles", "rustle"),
            ("coughs", "cough"),
            ("clicks", "click"),
            ("noises", "noise"),
            ("breaths", "breath"),
        ):
            under = 0.0 if kind == "breath" else self.mess.under_speech
            if self._due(name, 1.0 - under):
                self._in_pause(kind, self.draws(name))
        if draw.random() < self.mess.natural_breaths and self.line.at_s - begun_s < 3.0:
            self._in_pause("breath-natural", self.draws("natural-breaths"))

    def _in_pause(self, kind: str, draw: np.random.Generator) -> None:
        """Lay a sound at the end of the pause so far, and go on after it."""
        made = self.sound_of(kind, draw)
        if made is None:
            return
        noise, sound, snr_db = made
        length_s = sound.size / self.line.rate_hz
        begun_s = self.line.at_s
        self.line.lay(begun_s, sound)
        self.tell_sound(noise, kind, begun_s, begun_s + length_s, snr_db, "pause")
        # Now and then it runs into the first word.
        near = draw.random() < 0.15
        self.line.wait(
            length_s + float(draw.uniform(0.0, 0.05) if near else draw.uniform(0.1, 0.4))
        )

    def sound_of(
        self, kind: str, draw: np.random.Generator, loud_db: tuple[float, float] | None = None
    ) -> tuple[Noise, Samples, float] | None:
        """Draw a sound of a kind, at a level at which it can be heard; None where there is none."""
        choice = list(self.pieces.noises.get(kind, ()))
        if kind == "breath":
            choice += self.pieces.noises.get("breath-natural", ())
        if not choice:
            return None
        noise = choice[int(draw.integers(len(choice)))]
        sound = varied(
            noise.samples, noise.sample_rate_hz, self.line.rate_hz, draw, _cut_s(noise.sort)
        )
        low_db, high_db = loud_db or _LEVEL_DB[kind]
        snr_db = float(draw.uniform(low_db, high_db))
        if kind != "breath-natural":
            heard_db = self.floor_dbov + _WEAKEST_OVER_FLOOR_DB - self.line.speech_dbov
            snr_db = min(max(snr_db, heard_db), max(high_db, heard_db))
        window_s = _WINDOW_S.get(kind, 0.05)
        level_db = loudest_db(sound, self.line.rate_hz, window_s)
        sound = sound * gain_of(self.line.speech_dbov + snr_db - level_db)
        return noise, sound, snr_db

    def tell_sound(
        self, noise: Noise, kind: str, start_s: float, end_s: float, snr_db: float, where: str
    ) -> None:
        """Label a sound."""
        detail = {"source": noise.name, "sort": noise.sort, "where": where, "snr_db": snr_db}
        self.line.tell(kind, start_s, end_s, detail)

    def _step(self, what: str) -> None:
        """Take a break of 2-4 s, and come back otherwise."""
        draw = self.draws("steps")
        begun_s = self.line.spoken_s
        self.line.wait(float(draw.uniform(2.0, 4.0)))
        size_db = float(draw.uniform(3.5, 10.0))
        sign = -1.0 if self._moved_db > 0.0 else 1.0
        if self._moved_db == 0.0:
            sign = float(draw.choice([-1.0, 1.0]))
        by_db = sign * size_db
        if what == "level":
            self._moved_db += by_db
            if draw.random() < 0.4:
                self.line.voice_gain_db += by_db
                what = "voice"
        if what != "voice":
            self.steps.append(Step(at_s=(begun_s + self.line.at_s) / 2, what=what, by_db=by_db))
        self.line.tell("level-step", begun_s, self.line.at_s, {"what": what, "by_db": by_db})

    def _due(self, name: str, share: float = 1.0) -> bool:
        """Say whether something that comes at a rate is due, for the time since it was asked."""
        now_s = self.line.at_s
        passed_s = now_s - self._asked_s.get(name, 0.0)
        self._asked_s[name] = now_s
        rate = getattr(self.mess, name) * share
        expected = rate * passed_s / 60.0
        return bool(self.draws(f"due-{name}").random() < -math.expm1(-expected))


def _gap_s(draw: np.random.Generator) -> float:
    if draw.random() < _PARAGRAPHS:
        return float(draw.uniform(*_PARAGRAPH_S))
    drawn = _GAP_MEDIAN_S * math.exp(_GAP_SPREAD * draw.normal())
    return float(np.clip(drawn, *_GAP_S))


def _cut_s(sort: str) -> float | None:
    """Sorts that go on may be heard in part, but for so long."""
    return (
        0.3 if sort in ("page_turn", "paper_rustle", "rustle", "creak", "phone", "noise") else None
    )
