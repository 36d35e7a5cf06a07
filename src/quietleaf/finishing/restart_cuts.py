"""False starts that are sure: the first try goes, and the two sides are joined as for *again*."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.join_place import JoinPlace, choose_join
from quietleaf.finishing.plan import RATE_HZ, Cut
from quietleaf.finishing.ranges import Sound, one_channel
from quietleaf.finishing.survey import FRAME_SAMPLES
from quietleaf.listening.findings import Finding
from quietleaf.listening.reader_pauses import ReaderPauses
from quietleaf.listening.structure import Structure
from quietleaf.units import samples_of_s

_STEP = 3
_BEFORE_SAMPLES = 3 * RATE_HZ
_FAR_SAMPLES = 16 * RATE_HZ
_TRY_SAMPLES = 3 * RATE_HZ // 2
_LEAD_SAMPLES = RATE_HZ // 2
_AFTER_SAMPLES = 4 * RATE_HZ
_TOUCHING_SAMPLES = RATE_HZ // 10
"""Less than this between two cuts is no word: both are one."""
_INTO_WORD_SAMPLES = RATE_HZ // 4
_OVER_ROOM_DB = 15.0
"""A place that is so much louder than the room is none: something would be cut in two. Ours."""
_WHY = {
    "as it was paused there": "as it was paused before the first try",
    "as this reader pauses": "as this reader pauses",
    "as short as the sound allows": "as short as the sound allows",
    "as long as the sound allows": "as long as the sound allows",
    "nothing before it": "as no word is near before it",
}


def restart_cuts(
    findings: Iterable[Finding], structure: Structure, sound: Sound, pauses: ReaderPauses
) -> tuple[Cut, ...]:
    """Propose a cut for each restart; one that somebody should hear first is left.

    Parameters
    ----------
    findings : iterable of Finding
        Those of other kinds do not count.
    structure : Structure
        Of the whole sound.
    pauses : ReaderPauses
        How long this reader pauses.
    """
    cuts = []
    for row in _rows([finding for finding in findings if finding.kind == "restart"]):
        start = samples_of_s(row[0].start_s, RATE_HZ)
        stop = min(samples_of_s(row[-1].end_s, RATE_HZ), sound.info.frames)
        if stop - start > _TOUCHING_SAMPLES:
            cuts.append(_cut(row, cut_place(start, stop, structure, sound, pauses), start, stop))
    return tuple(_apart(cuts))


def without_cuts(structure: Structure, cuts: Sequence[Cut]) -> NDArray[np.int64]:
    """Give the runs of sound that the cuts leave."""
    middles = structure.runs.sum(axis=1) * (FRAME_SAMPLES // 2)
    left = np.ones(middles.size, dtype=np.bool_)
    for cut in cuts:
        if cut.state == "made":
            left &= (middles < cut.start) | (middles >= cut.stop)
    runs: NDArray[np.int64] = structure.runs[left]
    return runs


def cut_place(
    start: int, stop: int, structure: Structure, sound: Sound, pauses: ReaderPauses
) -> JoinPlace | None:
    """Choose where to leave and where to go on; None where there is no quiet place for it.

    Parameters
    ----------
    start, stop : int
        What is to go, about: from before its first word to before the first word after it.
    """
    spoken = structure.runs[structure.runs[:, 1] * FRAME_SAMPLES <= start, 1] * FRAME_SAMPLES
    last = int(spoken[-1]) if spoken.size else 0
    begin = max(0, min(start, last) - _BEFORE_SAMPLES, start - _FAR_SAMPLES) // _STEP * _STEP
    following = structure.runs[structure.runs[:, 0] * FRAME_SAMPLES > stop, 0] * FRAME_SAMPLES
    again = min(int(following[0]), stop + _FAR_SAMPLES) if following.size else stop
    reach = (begin, min(again + _AFTER_SAMPLES, sound.info.frames))
    end_of_try = _end_of_try(start, stop, structure)
    for resume in (end_of_try, stop):
        place = _place_from(reach, start, stop, resume, sound, pauses)
        is_quiet = place.measured.get("over_room_db", 0.0) <= _OVER_ROOM_DB
        if place.reason == "nothing before it":
            # No word is near before it: no more goes than what was found. Where it is the very
            # beginning, the head is trimmed to what is read again as to any first word.
            return replace(place, back=start, resume=stop if spoken.size else end_of_try)
        if place.reason != "no voice" and is_quiet and place.resume > place.back:
            return place
    return None


def pause_before(structure: Structure, start: int) -> int:
    """Give a place in the pause before a first word that is to go.

    Parameters
    ----------
    start : int
        About where the word begins. Where somebody has been speaking for longer there is no such
        pause, and it is given back as it is.
    """
    runs = structure.runs * FRAME_SAMPLES
    run = int(np.searchsorted(runs[:, 1], start, side="right"))
    if run == runs.shape[0] or start - runs[run, 0] > _INTO_WORD_SAMPLES:
        return start
    ended = int(runs[run - 1, 1]) if run else 0
    return min(start, (ended + int(runs[run, 0])) // 2)


def _rows(findings: list[Finding]) -> list[list[Finding]]:
    """Put tries that touch together, as long as they are equally sure."""
    rows: list[list[Finding]] = []
    for finding in findings:
        last = rows[-1][-1] if rows else None
        if (
            last is not None
            and finding.start_s - last.end_s < _TOUCHING_SAMPLES / RATE_HZ
            and finding.severity == last.severity
        ):
            rows[-1].append(finding)
        else:
            rows.append([finding])
    return rows


def _end_of_try(start: int, stop: int, structure: Structure) -> int:
    """Give where the first try ends: all of the pause after it may be used."""
    runs = structure.runs * FRAME_SAMPLES
    run = int(np.searchsorted(runs[:, 1], stop))
    if run < runs.shape[0] and runs[run, 0] < stop and runs[run, 1] - stop < stop - runs[run, 0]:
        return int(runs[run, 1])
    return max(start, int(runs[run - 1, 1])) if run else stop


def _place_from(
    reach: tuple[int, int], start: int, stop: int, resume: int, sound: Sound, pauses: ReaderPauses
) -> JoinPlace:
    begin, end = reach
    first = max(0, resume - _LEAD_SAMPLES) // _STEP * _STEP
    found = choose_join(
        _slow(sound, begin, min(start + _TRY_SAMPLES, stop)),
        _slow(sound, first, end),
        RATE_HZ // _STEP,
        back=(start - begin) // _STEP,
        resume=(resume - first) // _STEP,
        earliest=0,
        mark=None,
        lead_in=None,
        pauses=pauses,
    )
    return replace(found, back=begin + found.back * _STEP, resume=first + found.resume * _STEP)


def _slow(sound: Sound, start: int, stop: int) -> NDArray[np.float64]:
    """Read a range at 16 kHz: voices and pauses are told from it as well, in a third of the time.

    A mean is a poor low-pass: what it folds down of an *s* is as loud as it was, and is to be.
    """
    heard = one_channel(sound.read(start, stop))
    slow: NDArray[np.float64] = heard[: heard.size // _STEP * _STEP].reshape(-1, _STEP).mean(axis=1)
    return slow


def _cut(row: list[Finding], place: JoinPlace | None, start: int, stop: int) -> Cut:
    sure = [finding.value or 0.0 for finding in row]
    limit = row[0].limit or 0.0
    measured = {"likelihood": round(min(sure), 2), "limit_likelihood": round(limit, 2)}
    tries = "the first try goes" if len(row) == 1 else f"{len(row)} tries go"
    if place is None:
        reason = "this was begun and read again, and there is no quiet place to join: it stays"
        return Cut(
            kind="restart", start=start, stop=stop, reason=reason, measured=measured, state="left"
        )
    measured |= {"pause_s": round(place.pause_s, 3), "wanted_s": round(place.wanted_s, 3)}
    measured |= {name: round(value, 3) for name, value in place.measured.items()}
    is_sure = all(finding.severity == "fix" for finding in row)
    reason = (
        f"this was begun and read again: {tries}, and the pause is {place.pause_s:.2f} s, "
        f"{_WHY[place.reason]}"
        if is_sure
        else "this may have been begun and read again: somebody should hear it before it goes"
    )
    return Cut(
        kind="restart",
        start=place.back,
        stop=place.resume,
        reason=reason,
        measured=measured,
        state="made" if is_sure else "left",
    )


def _apart(cuts: list[Cut]) -> list[Cut]:
    """Make one of two cuts that would leave less than a word between them."""
    apart: list[Cut] = []
    for cut in cuts:
        made = [one for one in apart if one.state == "made"]
        if cut.state == "made" and made and cut.start < made[-1].stop + _TOUCHING_SAMPLES:
            before = made[-1]
            start, stop = min(before.start, cut.start), max(before.stop, cut.stop)
            apart[apart.index(before)] = replace(cut, start=start, stop=stop)
        else:
            apart.append(cut)
    return apart
