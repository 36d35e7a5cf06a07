"""The sound of a plan before its loudness is set: cuts, joins, room tone, and the even voice.

Rendered block by block; where a block begins depends on the master alone, so that the same plan
on the same sound gives the same bytes.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from quietleaf.finishing.colours import ColouredSound
from quietleaf.finishing.fills import LaidFill, add_fills
from quietleaf.finishing.fit_entries import PauseChange, ShortItem
from quietleaf.finishing.high_pass import start_high_pass, step_high_pass
from quietleaf.finishing.plan import RATE_HZ, Cut, Layout, RoomTone
from quietleaf.finishing.ranges import Sound, one_channel
from quietleaf.finishing.repaired_sound import repaired
from quietleaf.finishing.room_tone import room_tone
from quietleaf.finishing.tempo import Stretch, stretched
from quietleaf.finishing.voice_moves import Move, gains_db, moves_between
from quietleaf.units import ratio_of_db

BLOCK_SAMPLES = RATE_HZ
NO_ITEMS: Mapping[str, Sound] = {}
_READ_SAMPLES = RATE_HZ
_SETTLE_SAMPLES = RATE_HZ // 4


def kept_ranges(layout: Layout) -> tuple[tuple[int, int], ...]:
    """Give what the cuts leave of the sound.

    Examples
    --------
    Two cuts that touch, and one at the end, of 100,000 samples leave two ranges: see
    ``tests/unit/finishing/test_assembly.py``.
    """
    kept = []
    reached = 0
    gone = [(cut.start, cut.stop) for cut in layout.cuts if cut.state == "made"]
    gone += [(one.place, one.place - one.change) for one in layout.pauses if one.change < 0]
    for start, stop in sorted(gone):
        if start > reached:
            kept.append((reached, start))
        reached = max(reached, stop)
    if reached < layout.sound_samples:
        kept.append((reached, layout.sound_samples))
    return tuple(kept)


def master_samples(layout: Layout) -> int:
    """Give the length of the master."""
    read = laid_samples(layout) + sum(one.change for one in layout.pace)
    return read + sum(one.samples for one in layout.items if one.state == "made")


def laid_samples(layout: Layout) -> int:
    """Give the length of the reading as it is laid, before its pace changes."""
    laid = sum(tone.samples for tone in layout.room_tone)
    laid += sum(one.change for one in layout.pauses if one.change > 0)
    return laid + sum(stop - start for start, stop in kept_ranges(layout))


def master_place(layout: Layout, sample: int) -> int:
    """Give where a sample of the sound comes to lie in the master; a join for what is cut out."""
    place = moved = laid_place(layout, sample)
    for stretch in stretches_of(layout):
        if stretch.start >= place:
            break
        length = stretch.stop - stretch.start
        moved += (stretch.samples - length) * min(place - stretch.start, length) // length
    return moved


def laid_place(layout: Layout, sample: int) -> int:
    """Give where a sample of the sound is laid, before the pace changes."""
    place = sum(tone.samples for tone in layout.room_tone if tone.place == "head")
    place += sum(one.change for one in layout.pauses if one.change > 0 and one.place < sample)
    for start, stop in kept_ranges(layout):
        if sample < start:
            break
        place += min(sample, stop) - start
    return place


def moves_of(layout: Layout) -> tuple[Move, ...]:
    """Give every change of gain, in samples of the reading as it is laid."""
    places = laid_places(layout, [(one.start, one.stop) for one in layout.sentences])
    return moves_between(layout.sentences, places, layout.move_samples)


def voice_gain(
    layout: Layout, moves: tuple[Move, ...], first: int, count: int
) -> NDArray[np.float64] | float:
    """Give the gain of a range of what is laid: one number where it is constant."""
    passed = bisect_right(moves, first, key=lambda move: move.stop)
    gain_db = layout.sentences[0].gain_db if layout.sentences else 0.0
    if passed:
        gain_db = moves[passed - 1].to_db
    near = moves[passed : bisect_left(moves, first + count, key=lambda move: move.start)]
    if not near:
        return ratio_of_db(gain_db)
    gains = gains_db(near, gain_db, np.arange(first, first + count) + 0.5)
    ratios: NDArray[np.float64] = 10.0 ** (gains / 20.0)
    return ratios


def dry_blocks(
    layout: Layout, sound: Sound, items: Mapping[str, Sound] = NO_ITEMS
) -> Iterator[NDArray[np.float64]]:
    """Render the master before its loudness is set, in blocks of one second, mono.

    Parameters
    ----------
    items : mapping of str to Sound
        The station's short items by their key; those that the layout names are needed.

    Returns
    -------
    blocks : iterator of ndarray
        Each is a new array of shape (n,); the last one may be shorter.
    """
    parts = _laid_blocks(layout, sound)
    if layout.pace:
        parts = _in_blocks(stretched(parts, stretches_of(layout)), BLOCK_SAMPLES)
    length = laid_samples(layout) + sum(one.change for one in layout.pace)
    parts = _ends_faded(parts, length, layout.end_fade_samples)
    wanted = [one for one in layout.items if one.state == "made"]
    if not wanted:
        return parts
    laid = [_item_blocks(one, items[one.key], layout.end_fade_samples) for one in wanted]
    return _in_blocks(chain(parts, *laid), BLOCK_SAMPLES)


def _laid_blocks(layout: Layout, sound: Sound) -> Iterator[NDArray[np.float64]]:
    """Give the joined reading, made even, with the noise of its rooms."""
    moves = moves_of(layout)
    fills = laid_fills(layout, laid_samples(layout))
    sound = repaired(sound, layout.repairs)
    if layout.colours:
        sound = ColouredSound(sound, layout.colours, layout.join_samples)
    first = 0
    for block in _in_blocks(_joined(layout, sound), BLOCK_SAMPLES):
        block *= voice_gain(layout, moves, first, block.size)
        add_fills(block, first, fills)
        first += block.size
        yield block


def _item_blocks(item: ShortItem, sound: Sound, fade: int) -> Iterator[NDArray[np.float64]]:
    read = _ranged(sound, 0, item.samples, item.samples)
    return _ends_faded((part * ratio_of_db(item.gain_db) for part in read), item.samples, fade)


def stretches_of(layout: Layout) -> list[Stretch]:
    """Give what changes its pace, in samples of the reading as it is laid."""
    changed = [one for one in layout.pace if one.change]
    places = laid_places(layout, [(one.start, one.stop) for one in changed])
    return [
        Stretch(start=start, stop=stop, samples=stop - start + one.change)
        for one, (start, stop) in zip(changed, places, strict=True)
    ]


def dry_range(
    layout: Layout, sound: Sound, start: int, stop: int
) -> tuple[NDArray[np.float64], int]:
    """Render what a range of the sound becomes in the master, before fills and loudness.

    Returns
    -------
    part : ndarray, shape (n,)
        Without what is cut out of the range, and without the room tone at the ends.
    first : int
        Where it begins in the master.
    """
    kept = kept_ranges(layout)
    start, stop = max(start, kept[0][0]), min(stop, kept[-1][1])
    before = Cut(kind="head", start=0, stop=start, reason="", measured={})
    after = Cut(kind="tail", start=stop, stop=layout.sound_samples, reason="", measured={})
    only = replace(layout, cuts=(*layout.cuts, before, after), room_tone=(), pauses=())
    sound = repaired(sound, layout.repairs)
    if layout.colours:
        sound = ColouredSound(sound, layout.colours, layout.join_samples)
    part = np.concatenate(list(_joined(only, sound)))
    first = master_place(layout, start)
    part *= voice_gain(layout, moves_of(layout), first, part.size)
    return part, first


def laid_fills(layout: Layout, length: int) -> list[LaidFill]:
    """Give where fills lie; one that reaches an end goes on under the room tone laid there."""
    kept = kept_ranges(layout)
    first, last = kept[0][0], kept[-1][1]
    return [
        LaidFill(
            fill=fill,
            start=0 if fill.start <= first else master_place(layout, fill.start),
            stop=length if fill.stop >= last else master_place(layout, fill.stop),
        )
        for fill in layout.fills
    ]


def laid_places(layout: Layout, ranges: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Map both ends of many ranges in one go."""
    kept = np.array(kept_ranges(layout), dtype=np.int64).reshape(-1, 2)
    head = sum(tone.samples for tone in layout.room_tone if tone.place == "head")
    before = head + np.concatenate([[0], np.cumsum(kept[:, 1] - kept[:, 0])])
    edges = np.array(ranges, dtype=np.int64).reshape(-1)
    index = np.searchsorted(kept[:, 0], edges, side="right") - 1
    inside = np.clip(edges, kept[np.maximum(index, 0), 0], kept[np.maximum(index, 0), 1])
    places = before[np.maximum(index, 0)] + inside - kept[np.maximum(index, 0), 0]
    longer = [one for one in layout.pauses if one.change > 0]
    laid = np.concatenate([[0], np.cumsum([one.change for one in longer], dtype=np.int64)])
    places += laid[np.searchsorted([one.place for one in longer], edges)]
    return [(int(start), int(stop)) for start, stop in places.reshape(-1, 2)]


def _joined(layout: Layout, sound: Sound) -> Iterator[NDArray[np.float64]]:
    """Lay the pieces one after another, cross-faded with equal power where they meet."""
    pieces = _pieces(layout, sound)
    fade = layout.join_samples
    angle = (np.arange(fade) + 0.5) / fade * (np.pi / 2.0)
    leaving = np.empty(0)
    for number, piece in enumerate(pieces):
        last = number == len(pieces) - 1
        held = np.empty(0)
        entered = number == 0
        for part in piece:
            held = np.concatenate([held, part])
            if not entered:
                if held.size < fade:
                    continue
                held[:fade] = held[:fade] * np.sin(angle) + leaving * np.cos(angle)
                entered = True
            ready = held.size - (0 if last else fade)
            if ready > 0:
                yield held[:ready]
                held = held[ready:]
        leaving = held


def _pieces(layout: Layout, sound: Sound) -> list[Iterator[NDArray[np.float64]]]:
    """Give what is laid, each piece longer by half a cross-fade wherever it meets another."""
    half = layout.join_samples // 2
    wanted = _wanted(layout)
    pieces: list[Iterator[NDArray[np.float64]]] = []
    for number, one in enumerate(wanted):
        before, after = half if number else 0, half if number < len(wanted) - 1 else 0
        if isinstance(one, RoomTone):
            pieces.append(_tone(one, sound, before + one.samples + after))
        else:
            start, stop = one
            pieces.append(_ranged(sound, start - before, stop + after, layout.sound_samples))
    return pieces


def _wanted(layout: Layout) -> list[RoomTone | tuple[int, int]]:
    """Give what is laid in its order: room tone, and ranges of the sound."""
    wanted: list[RoomTone | tuple[int, int]] = []
    wanted += [tone for tone in layout.room_tone if tone.place == "head"]
    longer = [one for one in layout.pauses if one.change > 0]
    for start, stop in kept_ranges(layout):
        for one in longer:
            if start < one.place < stop:
                wanted += [(start, one.place), _tone_of(one)]
                start = one.place
        wanted.append((start, stop))
    wanted += [tone for tone in layout.room_tone if tone.place == "tail"]
    return wanted


def _tone_of(pause: PauseChange) -> RoomTone:
    return RoomTone(
        place="pause",
        samples=pause.change,
        seed=pause.seed,
        quiet=pause.quiet,
        reason=pause.reason,
        measured=pause.measured,
    )


def _tone(tone: RoomTone, sound: Sound, samples: int) -> Iterator[NDArray[np.float64]]:
    """Make room tone when it is its turn."""
    yield room_tone(tone, sound, samples)


def _ranged(
    sound: Sound, start: int, stop: int, sound_samples: int
) -> Iterator[NDArray[np.float64]]:
    """Read a range through the high-pass; what lies beyond the sound's ends mirrors it."""
    memory = start_high_pass(RATE_HZ)
    first, last = max(start, 0), min(stop, sound_samples)
    lead = max(0, first - _SETTLE_SAMPLES)
    skip = first - lead
    for begin in range(lead, last, _READ_SAMPLES):
        end = min(begin + _READ_SAMPLES, last)
        part = step_high_pass(memory, one_channel(sound.read(begin, end)))
        if skip >= part.size:
            skip -= part.size
            continue
        part, skip = part[skip:], 0
        before = first - start if begin <= first else 0
        after = stop - last if end == last else 0
        if before or after:
            part = np.pad(part, (before, after), mode="reflect")
        yield part


def _in_blocks(parts: Iterator[NDArray[np.float64]], size: int) -> Iterator[NDArray[np.float64]]:
    block, filled = np.empty(size), 0
    for part in parts:
        taken = 0
        while taken < part.size:
            count = min(size - filled, part.size - taken)
            block[filled : filled + count] = part[taken : taken + count]
            filled += count
            taken += count
            if filled == size:
                yield block
                block, filled = np.empty(size), 0
    if filled:
        yield block[:filled]


def _ends_faded(
    blocks: Iterator[NDArray[np.float64]], length: int, fade: int
) -> Iterator[NDArray[np.float64]]:
    first = 0
    for block in blocks:
        _fade_ends(block, first, length, fade)
        first += block.size
        yield block


def _fade_ends(block: NDArray[np.float64], first: int, length: int, fade: int) -> None:
    if fade < 1:
        return
    shape = (1.0 - np.cos(np.pi * (np.arange(fade) + 0.5) / fade)) / 2.0
    if first < fade:
        count = min(block.size, fade - first)
        block[:count] *= shape[first : first + count]
    begin = max(first, length - fade)
    if begin < first + block.size:
        place = begin - (length - fade)
        tail = block[begin - first :]
        tail *= shape[::-1][place : place + tail.size]
