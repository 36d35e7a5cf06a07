"""What a fit puts into a plan: pauses, pace, short items and room tone, each with its reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from quietleaf.finishing.at_places import PlaceDecision, decided_at
from quietleaf.finishing.estimate import estimate_of
from quietleaf.finishing.fit_entries import PaceChange, PauseChange, ShortItem
from quietleaf.finishing.fit_items import Offer
from quietleaf.finishing.fit_pauses import Bounds, Pause, quietest_place, spread
from quietleaf.finishing.plan import RATE_HZ, Layout, RoomTone, Sentence
from quietleaf.finishing.structure import quiet_ranges
from quietleaf.finishing.survey import FRAME_SAMPLES, Survey
from quietleaf.finishing.tempo import LAG_SAMPLES_MIN
from quietleaf.listening.structure import FRAMES_PER_S, Structure
from quietleaf.units import clock

_TAIL_NEAR_FRAMES = 60 * FRAMES_PER_S
_TAIL_RANGES = 10
_SEED = 1_000
_DESK_SEED = 100_000
_FOR = " for the slot"
_TAIL_SEED = 3
_QUIET_NEAR_FRAMES = 10 * FRAMES_PER_S
_QUIET_SHORTEST_SAMPLES = RATE_HZ // 20
_QUIET_ENOUGH_SAMPLES = RATE_HZ * 6 // 10
_AS_LOUD_DB = 1.5


def pause_changes(
    structure: Structure,
    pauses: Sequence[Pause],
    change: int,
    bounds: Bounds,
    joins: Sequence[int],
) -> tuple[PauseChange, ...]:
    """Spread a change of length over pauses."""
    lengths = spread(pauses, change, bounds)
    return tuple(
        _pause_change(structure, one, length, joins, _SEED + number)
        for number, (one, length) in enumerate(
            sorted(lengths.items(), key=lambda pair: pair[0].start)
        )
    )


def _pause_change(
    structure: Structure, pause: Pause, length: int, joins: Sequence[int], seed: int
) -> PauseChange:
    longer = length > pause.samples
    words = "longer" if longer else "shorter"
    return PauseChange(
        kind=pause.kind,
        start=pause.start,
        stop=pause.stop,
        samples=length,
        place=quietest_place(structure, pause, 0 if longer else pause.samples - length),
        seed=seed,
        quiet=_quiet_near(structure, pause.free, joins),
        state="made",
        by="plan",
        reason=f"{words} by {abs(length - pause.samples) / RATE_HZ:.3f} s{_FOR}",
        measured={
            "pause_s": round(pause.samples / RATE_HZ, 3),
            "becomes_s": round(length / RATE_HZ, 3),
            "free_s": round((pause.free[1] - pause.free[0]) / RATE_HZ, 3),
        },
    )


def pauses_at_places(
    structure: Structure,
    pauses: Sequence[Pause],
    decisions: Sequence[PlaceDecision],
    joins: Sequence[int],
) -> tuple[PauseChange, ...]:
    """Give the pauses that the desk decided on: as long as it wished, or left as they were read.

    Nothing but undisturbed room tone is taken from one.
    """
    changes = []
    for number, pause in enumerate(pauses):
        mine = decided_at(decisions, "pause", "", pause.start, pause.stop)
        if mine is None or (mine.wanted == "made" and mine.value is None):
            continue
        is_refused = mine.wanted == "refused" or mine.value is None
        length = pause.samples if is_refused else round((mine.value or 0.0) * RATE_HZ)
        length = max(length, pause.samples - (pause.free[1] - pause.free[0]), 1)
        change = _pause_change(structure, pause, length, joins, _DESK_SEED + number)
        changes.append(
            replace(
                change,
                state="refused" if is_refused else "made",
                by="desk",
                reason="as it was read" if is_refused else change.reason.replace(_FOR, ""),
            )
        )
    return tuple(changes)


def pace_at_places(
    spoken: Sequence[Sentence], decisions: Sequence[PlaceDecision]
) -> tuple[PaceChange, ...]:
    """Give the sentences that keep their own pace, as the desk wished."""
    return tuple(
        PaceChange(
            start=one.start,
            stop=one.stop,
            samples=one.stop - one.start,
            state="refused",
            by="desk",
            reason="read at its own pace",
            measured={"length_s": round((one.stop - one.start) / RATE_HZ, 3)},
        )
        for one in spoken
        if (mine := decided_at(decisions, "pace", "", one.start, one.stop)) is not None
        and mine.wanted == "refused"
    )


def _quiet_near(
    structure: Structure, free: tuple[int, int], joins: Sequence[int]
) -> tuple[tuple[int, int], ...]:
    """Choose what room tone is drawn from: the pause itself, then what is near and as loud."""
    middle = (free[0] + free[1]) // 2
    first = max([0, *(join for join in joins if join <= middle)]) // FRAME_SAMPLES
    after = [join for join in joins if join > middle]
    stop = min([structure.level.size, *(join // FRAME_SAMPLES for join in after)])
    frame = middle // FRAME_SAMPLES
    found = quiet_ranges(
        structure,
        max(first, frame - _QUIET_NEAR_FRAMES),
        min(stop, frame + _QUIET_NEAR_FRAMES),
        _QUIET_SHORTEST_SAMPLES,
    )
    own = _level(structure, free)
    chosen = [free] if free[1] - free[0] >= _QUIET_SHORTEST_SAMPLES else []
    for start, end in sorted(found, key=lambda pair: abs(pair[0] + pair[1] - 2 * middle)):
        if sum(b - a for a, b in chosen) >= _QUIET_ENOUGH_SAMPLES:
            break
        apart = start >= free[1] or end <= free[0]
        if apart and abs(_level(structure, (start, end)) - own) <= _AS_LOUD_DB:
            chosen.append((int(start), int(end)))
    return tuple(sorted(chosen)) or (free,)


def _level(structure: Structure, samples: tuple[int, int]) -> float:
    first, stop = samples[0] // FRAME_SAMPLES, samples[1] // FRAME_SAMPLES
    return float(structure.level[first : max(stop, first + 1)].mean())


def pace_changes(spoken: Sequence[Sentence], change: int) -> tuple[PaceChange, ...]:
    """Share a change among sentences by their length; none gets less than one period of a voice."""
    if change == 0:
        return ()
    total = sum(one.stop - one.start for one in spoken)
    changes, due, done = [], 0, 0
    for one in spoken:
        due += one.stop - one.start
        here = change * due // total - done
        here = here if abs(here) >= LAG_SAMPLES_MIN else 0
        changes.append(here)
        done += here
    longest = max(range(len(spoken)), key=lambda index: spoken[index].stop - spoken[index].start)
    changes[longest] += change - done
    share = change / total
    return tuple(
        PaceChange(
            start=one.start,
            stop=one.stop,
            samples=one.stop - one.start + here,
            state="made",
            by="plan",
            reason=f"read {abs(share) * 100.0:.2f} % {'slower' if share > 0.0 else 'faster'} for "
            "the slot, at the same pitch",
            measured={
                "length_s": round((one.stop - one.start) / RATE_HZ, 3),
                "changed_s": round(here / RATE_HZ, 3),
                "changed_percent": round(100.0 * here / (one.stop - one.start), 2),
            },
        )
        for one, here in zip(spoken, changes, strict=True)
        if here
    )


def item_changes(layout: Layout, survey: Survey, offers: Sequence[Offer]) -> tuple[ShortItem, ...]:
    """Lay short items after the reading, as loud as it."""
    estimate = estimate_of(survey, layout) if offers else None
    if estimate is None:
        assert not offers, "a reading that is fitted has a loudness"
        return ()
    return tuple(
        ShortItem(
            key=one.key,
            title=one.title,
            samples=one.samples,
            gain_db=round(estimate.loudness_lufs - one.loudness_lufs, 2),
            state="made",
            by="plan",
            reason=f"{clock(one.samples / RATE_HZ)} after the reading, as loud as it",
            measured={
                "length_s": round(one.samples / RATE_HZ, 3),
                "loudness_lufs": round(one.loudness_lufs, 2),
                "reading_lufs": round(estimate.loudness_lufs, 2),
            },
        )
        for one in offers
    )


def last_tone(structure: Structure, layout: Layout, samples: int) -> tuple[RoomTone, ...]:
    """Lay room tone after the reading."""
    if samples == 0:
        return ()
    last = layout.sentences[-1].stop // FRAME_SAMPLES
    near = quiet_ranges(
        structure, last - _TAIL_NEAR_FRAMES, structure.level.size, _QUIET_SHORTEST_SAMPLES
    )
    quiet = tuple(sorted((int(start), int(stop)) for start, stop in near[:_TAIL_RANGES]))
    return (
        RoomTone(
            place="tail",
            samples=samples,
            seed=_TAIL_SEED,
            quiet=quiet,
            reason=f"{samples / RATE_HZ:.2f} s of room tone make up the length: nothing else was "
            "left",
            measured={"quiet_found_s": round(sum(b - a for a, b in quiet) / RATE_HZ, 2)},
        ),
    )
