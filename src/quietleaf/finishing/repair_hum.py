"""Hum that is heard: which lines it has, where it begins and ends, and what is left of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.hum_lines import WINDOW_SAMPLES, Lines, blocks_of, lines_of, presence
from quietleaf.finishing.plan import RATE_HZ
from quietleaf.finishing.ranges import Sound
from quietleaf.finishing.repaired_sound import repaired
from quietleaf.finishing.repairs import LinesTaken, Repair
from quietleaf.listening.findings import Finding
from quietleaf.units import db_of_power, samples_of_s

MAINS_HZ = (50.0, 60.0)
LINES = np.arange(1, 9, dtype=np.int64)
"""Up to 400 or 480 Hz."""
OVER_DB_MIN = -6.0
"""Against what is beside it in 0.16 s. Over 8 s a line that is not there comes to -17 dB."""
BETTER_DB_MIN = 6.0
_LOOKED_AT = 3
_INSIDE_SAMPLES = RATE_HZ * 7 // 10
_AROUND_SAMPLES = 5 * RATE_HZ // 2
_AT_END_SAMPLES = RATE_HZ
_HEARD_SAMPLES = 6 * RATE_HZ
_NOTHING = 1e-15


@dataclass(frozen=True, slots=True, kw_only=True)
class _Looked:
    mains_hz: float
    found: tuple[Lines, ...]
    lines: NDArray[np.int64]

    @property
    def over_db(self) -> NDArray[np.float64]:
        """How far each line stands over what is beside it, in the middle of the windows."""
        over = np.median([one.over for one in self.found], axis=0)
        levels: NDArray[np.float64] = 10.0 * np.log10(np.maximum(over, _NOTHING))
        return levels

    @property
    def level_dbov(self) -> float:
        """Power of all lines, in the middle of the windows."""
        powers = [float(np.sum(np.abs(one.heights) ** 2)) / 2.0 for one in self.found]
        return db_of_power(max(float(np.median(powers)), _NOTHING))


def hum_repairs(findings: Sequence[Finding], sound: Sound, speech_dbov: float) -> Iterator[Repair]:
    """Take hum that is to be heard out of the sound; a faint one is left alone."""
    for finding in findings:
        if finding.kind != "hum" or finding.severity == "note" or finding.limit is None:
            continue
        start = samples_of_s(finding.start_s, RATE_HZ)
        stop = min(samples_of_s(finding.end_s, RATE_HZ), sound.info.frames)
        looked = [_looked(sound, start, stop, mains_hz, LINES) for mains_hz in MAINS_HZ]
        best = max(
            (one for one in looked if one is not None),
            key=lambda one: float(np.maximum(one.over_db, 0.0).sum()),
            default=None,
        )
        if best is not None:
            yield _taken(best, finding.limit, start, stop, sound, speech_dbov)


def _looked(
    sound: Sound, start: int, stop: int, mains_hz: float, lines: NDArray[np.int64]
) -> _Looked | None:
    """Fit a few windows, spread over a range."""
    first, last = start + _INSIDE_SAMPLES, stop - _INSIDE_SAMPLES
    room = last - first - WINDOW_SAMPLES
    opens = [first] if room <= 0 else [first + room * k // (_LOOKED_AT - 1) for k in range(3)]
    found = []
    for at in opens:
        blocks = blocks_of(sound, at, min(at + WINDOW_SAMPLES, last), mains_hz, lines)
        if blocks is not None:
            found.append(lines_of(blocks, mains_hz, lines))
    return _Looked(mains_hz=mains_hz, found=tuple(found), lines=lines) if found else None


def _taken(
    looked: _Looked, limit_db: float, start: int, stop: int, sound: Sound, speech_dbov: float
) -> LinesTaken:
    strong = looked.over_db >= OVER_DB_MIN
    hz = float(np.median([one.hz for one in looked.found]))
    lines = looked.lines[strong]
    repair = LinesTaken(
        kind="hum",
        start=start,
        stop=stop,
        mains_hz=round(hz, 2),
        lines=tuple(lines.tolist()),
        state="left",
        by="plan",
        reason="the hum has no lines that stand out enough to be taken away",
        measured={"limit_db": round(limit_db, 1)},
    )
    if lines.size == 0:
        return repair
    mine = _looked(sound, start, stop, repair.mains_hz, lines)
    assert mine is not None
    repair = replace(
        repair,
        start=_edge(sound, start, (start, stop), repair, rises=True),
        stop=_edge(sound, stop, (start, stop), repair, rises=False),
        state="made",
    )
    if repair.stop - repair.start < _HEARD_SAMPLES // 2:
        return replace(repair, start=start, stop=stop, state="left")
    before_db = speech_dbov - mine.level_dbov
    left = _looked(repaired(sound, (repair,)), start, stop, repair.mains_hz, lines)
    assert left is not None
    after_db = speech_dbov - left.level_dbov
    measured = {
        "under_voice_db": round(before_db, 1),
        "after_db": round(after_db, 1),
        "limit_db": round(limit_db, 1),
        "mains_hz": round(hz, 3),
    }
    if after_db < before_db + BETTER_DB_MIN:
        reason = "the hum does not keep still enough to be taken away: it stays"
        return replace(repair, state="left", reason=reason, measured=measured)
    many = f"{lines.size} line{'s' * (lines.size > 1)}"
    return replace(
        repair,
        reason=f"the mains hum at {hz:.2f} Hz, {before_db:.0f} dB under the voice: {many} are "
        f"followed and taken away, and {after_db:.0f} dB under it is left",
        measured=measured,
    )


def _edge(
    sound: Sound, place: int, heard: tuple[int, int], repair: LinesTaken, *, rises: bool
) -> int:
    """Find where the hum begins or ends, near to where it was heard to.

    At an end of the sound it was heard in the 6 s next to it, and may not reach the end.
    """
    frames, lines = sound.info.frames, np.array(repair.lines, dtype=np.int64)
    is_end = place < _AT_END_SAMPLES or place > frames - _AT_END_SAMPLES
    inside = _HEARD_SAMPLES if is_end else _INSIDE_SAMPLES
    opens = place + inside if rises else place - inside - WINDOW_SAMPLES
    opens = max(heard[0], min(opens, heard[1] - WINDOW_SAMPLES))
    known = blocks_of(sound, opens, min(opens + WINDOW_SAMPLES, heard[1]), repair.mains_hz, lines)
    reach = _HEARD_SAMPLES if is_end else _AROUND_SAMPLES
    first, last = max(0, place - reach), min(frames, place + reach)
    blocks = blocks_of(sound, first, last, repair.mains_hz, lines)
    if blocks is None or known is None:
        return place
    found = lines_of(known, repair.mains_hz, lines)
    there, weight = presence(blocks, found, repair.mains_hz, lines)
    there = np.clip(there, -0.5, 1.5)
    if not rises:
        there, weight = there[::-1], weight[::-1]
    # Nothing up to a block, and all of it from there on: where that leaves the least.
    wrong = np.concatenate([[0.0], np.cumsum(weight * there**2)])
    right = np.concatenate([np.cumsum((weight * (there - 1.0) ** 2)[::-1])[::-1], [0.0]])
    index = int(np.argmin(wrong + right))
    if index == 0:
        return first if rises else last
    middles = blocks.middles if rises else blocks.middles[::-1]
    return int(middles[min(index, middles.size - 1)])
