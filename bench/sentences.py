"""Sentence starts on real readings: does a press go back to one, and are places quiet.

A press comes at a random moment, 0.3 to 1 s after the slip. Presses go where the stand goes
(`scripts/core/again.js`): the first to the last likely start `REACTION_S` before it, the second
to a sure one before that, within `SENTENCE_S`. Asked for: places in silence always; a true
sentence start at first press in 90 of 100, within two in 98. "Own" is the start of the very
sentence that was being read. The numbers of the model are judged as they are, and found anew with
each voice left out.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from bench.sentence_maker import find_numbers, heard_pauses, likelihoods
from bench.sentence_takes import SAME_S, KnownTake, known_takes
from quietleaf.listening.sentence_model import LIKELY
from quietleaf.listening.sentence_starts import SentenceStart, sentence_starts
from tests.helpers import HelperMissing, find_recordings

PRESSES = 400
REACTION_S = 0.6
SENTENCE_S = 20.0
SURE, MAY_BE = 0.9, 0.25
SLIP_TO_PRESS_S = (0.3, 1.0)
NOISE_DBFS = (-75.0, -65.0, -55.0, -45.0)
OVER_FLOOR_DB = 8.0
FIRST_ASKED, TWO_ASKED = 0.9, 0.98


@dataclass(frozen=True, slots=True, kw_only=True)
class Pressed:
    """Shares of presses that were right, and of places that were quiet."""

    name: str
    pauses: int
    first: float
    two: float
    own: float
    own_two: float
    quiet: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SentenceFigures:
    """What was measured; nothing where there are no recordings."""

    missing: str
    rows: tuple[Pressed, ...]
    left_out: tuple[Pressed, ...]
    noise: tuple[Pressed, ...]
    seconds_an_hour: float


def measure(_folder: Path, length_s: float = 3600.0, rounds: int = 5) -> SentenceFigures:
    """Judge all takes; ``length_s`` of the longest is timed, in the best of ``rounds``."""
    try:
        takes = known_takes(find_recordings())
    except HelperMissing as missing:
        return SentenceFigures(
            missing=str(missing), rows=(), left_out=(), noise=(), seconds_an_hour=0.0
        )
    found = {take.name: sentence_starts(take.samples, take.sample_rate_hz) for take in takes}
    return SentenceFigures(
        missing="",
        rows=tuple(judge(take, found[take.name]) for take in takes),
        left_out=tuple(_left_out(takes, found)),
        noise=tuple(_in_noise(takes, level) for level in NOISE_DBFS),
        seconds_an_hour=_seconds_an_hour(takes, length_s, rounds),
    )


def report(figures: SentenceFigures) -> list[str]:
    """Set the figures as lines."""
    if figures.missing:
        return [f"sentences: not judged: {figures.missing}"]
    lines = [
        f"sentences: {PRESSES} presses a take; {figures.seconds_an_hour:.2f} s an hour, 48 kHz"
    ]
    lines.append(f"  {'take':<22}pauses  first   two    own  own two  quiet")
    for rows, name in (
        (figures.rows, "mean, numbers as they are"),
        (figures.left_out, "mean, voice left out"),
    ):
        lines += [_line(row) for row in rows] + [_line(mean_of(name, rows)), ""]
    lines += [_line(row) for row in figures.noise]
    lines.append(f"  asked for: first {FIRST_ASKED}, two {TWO_ASKED}, quiet 1")
    return lines


def judge(take: KnownTake, starts: tuple[SentenceStart, ...], seed: int = 1) -> Pressed:
    """Press at random in a take whose starts were found."""
    rate = take.sample_rate_hz
    draw = np.random.default_rng(seed)
    first_s = starts[0].pause_stop / rate
    truth = np.array(sorted([first_s, *take.starts_s]))
    onsets_s = [*truth, *take.open_s]
    stop_s = take.samples.size / rate - 0.3
    counts = np.zeros(4)
    for _ in range(PRESSES):
        slip_s = draw.uniform(first_s + 0.3, stop_s)
        press_s = slip_s + draw.uniform(*SLIP_TO_PRESS_S)
        own_s = truth[truth <= slip_s][-1]
        nearest = gone_back(starts, rate, press_s, REACTION_S, LIKELY)
        chosen = [nearest, gone_back(starts, rate, nearest.place / rate, 0.0, SURE)]
        is_own = [_is_at(start, [own_s], rate) for start in chosen]
        is_right = [_is_at(start, onsets_s, rate) for start in chosen]
        counts += [is_right[0], any(is_right), is_own[0], any(is_own)]
    first, two, own, own_two = (float(count) / PRESSES for count in counts)
    return Pressed(
        name=take.name,
        pauses=len(starts),
        first=first,
        two=two,
        own=own,
        own_two=own_two,
        quiet=quiet_share(take.samples, rate, starts),
    )


def gone_back(
    starts: tuple[SentenceStart, ...],
    rate: int,
    before_s: float,
    spoken_s_min: float,
    wanted: float,
) -> SentenceStart:
    """Go to a start before a moment, as the stand does: a wanted one, or the best in 20 s."""
    best: SentenceStart | None = None
    for start in reversed(starts):
        spoken_s = before_s - start.pause_stop / rate
        if start.likelihood < MAY_BE or start.place / rate >= before_s or spoken_s < spoken_s_min:
            continue
        if best is not None and spoken_s > SENTENCE_S:
            break
        if start.likelihood >= wanted:
            return start
        if best is None or (best.likelihood < LIKELY and start.likelihood > best.likelihood):
            best = start
    return best or starts[0]


def quiet_share(
    samples: NDArray[np.float64], rate: int, starts: tuple[SentenceStart, ...]
) -> float:
    """Give the share of places of likely starts that lie under the pause's floor + 8 dB.

    Levels of 10 ms every 5 ms above 80 Hz; the floor is the pause's 10th percentile.
    """
    voice = sosfilt(butter(2, 80.0, "highpass", fs=rate, output="sos"), samples)
    hop = rate / 200
    edges = np.round(np.arange(int(voice.size / hop) + 1) * hop).astype(int)
    sums = np.concatenate([[0.0], np.cumsum(voice * voice)])
    power = np.maximum(np.diff(sums[edges]), 0.0) / np.diff(edges)
    level = 10.0 * np.log10(np.maximum((power[:-1] + power[1:]) / 2.0, 1e-12))
    lowest = float(np.percentile(level, 3.0))
    quiet = []
    for start in starts:
        if start.likelihood < LIKELY or start.place == 0:
            continue
        first, place, stop = (
            int(at / hop) for at in (start.pause_start, start.place, start.pause_stop)
        )
        floor = max(float(np.percentile(level[first : stop + 1], 10.0)), lowest)
        quiet.append(level[max(0, place - 1) : place + 2].max() <= floor + OVER_FLOOR_DB)
    return float(np.mean(quiet)) if quiet else 1.0


def mean_of(name: str, rows: tuple[Pressed, ...]) -> Pressed:
    """Give the mean over takes."""
    return Pressed(
        name=name,
        pauses=sum(row.pauses for row in rows),
        **{
            field: float(np.mean([getattr(row, field) for row in rows]))
            for field in ("first", "two", "own", "own_two", "quiet")
        },
    )


def _is_at(start: SentenceStart, onsets_s: list[float], rate: int) -> bool:
    first_s, stop_s = start.pause_start / rate - 0.2, start.pause_stop / rate + SAME_S
    return any(first_s <= onset_s <= stop_s for onset_s in onsets_s)


def _left_out(takes: list[KnownTake], found: dict[str, tuple[SentenceStart, ...]]) -> list[Pressed]:
    rows = []
    for voice in sorted({take.voice for take in takes}):
        others = [take for take in takes if take.voice != voice]
        numbers = find_numbers([heard_pauses(take, found[take.name]) for take in others])
        for take in (take for take in takes if take.voice == voice):
            heard = heard_pauses(take, found[take.name])
            anew = tuple(
                SentenceStart(
                    place=start.place,
                    pause_start=start.pause_start,
                    pause_stop=start.pause_stop,
                    likelihood=likelihood,
                )
                for start, likelihood in zip(
                    found[take.name], [1.0, *likelihoods(heard, numbers)], strict=True
                )
            )
            rows.append(judge(take, anew))
    return rows


def _in_noise(takes: list[KnownTake], level_dbfs: float) -> Pressed:
    rows = []
    for take in takes:
        noise = _pink(take.samples.size) * 10.0 ** (level_dbfs / 20.0)
        noisy = KnownTake(
            name=take.name,
            voice=take.voice,
            samples=take.samples + noise,
            sample_rate_hz=take.sample_rate_hz,
            starts_s=take.starts_s,
            open_s=take.open_s,
        )
        rows.append(judge(noisy, sentence_starts(noisy.samples, noisy.sample_rate_hz)))
    return mean_of(f"mean, pink {level_dbfs:.0f} dBFS", tuple(rows))


def _pink(count: int) -> NDArray[np.float64]:
    spectrum = np.fft.rfft(np.random.default_rng(3).normal(size=count))
    pink: NDArray[np.float64] = np.fft.irfft(
        spectrum / np.sqrt(np.maximum(np.arange(spectrum.size), 1)), count
    )
    pink /= np.sqrt(np.mean(pink * pink))
    return pink


def _seconds_an_hour(takes: list[KnownTake], length_s: float, rounds: int) -> float:
    longest = max(takes, key=lambda take: take.samples.size).samples
    sound = np.resize(longest, min(round(length_s * 48_000), 60 * 48_000))
    took_s = []
    for _ in range(rounds):
        begun = time.perf_counter()
        sentence_starts(sound, 48_000)
        took_s.append(time.perf_counter() - begun)
    return min(took_s) * 3600.0 * 48_000 / sound.size


def _line(row: Pressed) -> str:
    return (
        f"  {row.name:<26}{row.pauses:4}   {row.first:.2f}   {row.two:.2f}   {row.own:.2f}"
        f"   {row.own_two:.2f}     {row.quiet:.3f}"
    )
