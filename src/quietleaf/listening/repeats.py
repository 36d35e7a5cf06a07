"""Repeats: blocks of samples that play twice, as when a device has nothing new to give."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from quietleaf.sound.compiled import kernel

SHORTEST, LONGEST = 96, 8192
"""Samples of a block: what sound devices hand over at a time. Ours."""
_CONTEXT = 4 * LONGEST
_TIMES_MOST = 3
_SHARE_MIN = 0.98
_LOUD_MIN = 16 / 32768
_CHANGES_MIN = 0.5
_MOVED_MIN = 0.1
_PLACE_BITS = 14
_MIX = np.uint32(2654435761)
"""Knuth's multiplier: spreads neighbouring values."""
_ONE_IN_EIGHT = np.uint32(1 << 29)
_ROOM = 4096
_PART = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeat:
    """A block that plays once more.

    Attributes
    ----------
    start, stop : int
        Half-open range of samples that are equal to those before them.
    block : int
        Samples of the block.
    """

    start: int
    stop: int
    block: int


@dataclass(slots=True, kw_only=True)
class RepeatMemory:
    """What was heard so far.

    Attributes
    ----------
    before : ndarray, shape (c, m) or None
        The last samples.
    position : int
        The sample after them.
    stop : int
        End of the last repeat.
    """

    before: NDArray[np.float32] | None = None
    position: int = 0
    stop: int = 0
    found: list[Repeat] = field(default_factory=list)


def step_repeats(memory: RepeatMemory, samples: NDArray[np.float32]) -> None:
    """Take the samples of the next chunk in, shape (c, n).

    Notes
    -----
    Sound never repeats itself to the last bit. One sample in eight, chosen by its own bits,
    is looked up with the one before it in a table of where the two were last met. A run of samples
    that equals the one before it, and is as long as the distance between the two, is a repeat.
    Silence, steady values, and what nearly repeated itself already (a tone) are none.
    """
    if memory.before is None:
        memory.before = np.zeros((samples.shape[0], _CONTEXT), dtype=np.float32)
    sound = np.concatenate([memory.before, samples], axis=1)
    first = memory.position - _CONTEXT
    rows = np.empty((_ROOM, 3), dtype=np.int64)
    found = []
    for channel in sound:
        bits = np.ascontiguousarray(channel).view(np.uint32)
        count = _repeats(channel, bits, rows)
        found += [(int(start), int(stop), int(block)) for start, stop, block in rows[:count]]
    for start, stop, block in sorted(found):
        if first + start >= memory.stop:
            memory.found.append(Repeat(start=first + start, stop=first + stop, block=block))
            memory.stop = first + stop
    memory.before = sound[:, sound.shape[1] - _CONTEXT :].copy()
    memory.position += samples.shape[1]


@kernel
def _repeats(sound: NDArray[np.float32], bits: NDArray[np.uint32], rows: NDArray[np.int64]) -> int:
    last = np.full(1 << _PLACE_BITS, -LONGEST - 1, dtype=np.int64)
    count = 0
    done = 0
    chosen = np.empty(_PART, dtype=np.int64)
    for part in range(1, sound.size, _PART):
        # Without a branch: whether a sample is chosen cannot be foreseen.
        several = 0
        for i in range(part, min(part + _PART, sound.size)):
            chosen[several] = i
            several += int(np.uint32(bits[i] * _MIX) < _ONE_IN_EIGHT)
        for one in range(several):
            i = int(chosen[one])
            mixed = np.uint32(bits[i] * _MIX)
            # The low bits of 16-bit sound are all alike, and so are those of its products.
            cell = np.int64((mixed ^ np.uint32(bits[i - 1] * _MIX)) >> np.uint32(32 - _PLACE_BITS))
            before = last[cell]
            last[cell] = i
            lag = i - before
            if lag < SHORTEST or lag > LONGEST or i < done:
                continue
            if bits[i] != bits[before] or bits[i - 1] != bits[before - 1]:
                continue
            start, stop = i - 1, i + 1
            while start > lag and bits[start - 1] == bits[start - 1 - lag]:
                start -= 1
            while stop < sound.size and bits[stop] == bits[stop - lag]:
                stop += 1
            length = stop - start
            if length < _SHARE_MIN * lag:
                continue
            done = stop
            if length > _TIMES_MOST * lag or stop == sound.size:
                continue
            loudest, changes, moved, all_of_it = np.float32(0.0), 0, 0.0, 0.0
            for j in range(max(lag, start - lag), start):
                loudest = max(loudest, abs(sound[j]))
                changes += bits[j] != bits[j - 1]
                moved += abs(sound[j] - sound[j - lag])
                all_of_it += abs(sound[j])
            if moved < _MOVED_MIN * all_of_it:
                continue
            if loudest < _LOUD_MIN or changes < _CHANGES_MIN * lag or count == rows.shape[0]:
                continue
            rows[count, 0], rows[count, 1], rows[count, 2] = start, stop, lag
            count += 1
    return count
