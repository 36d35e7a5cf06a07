"""What a bad disk, or somebody hostile, does to the bytes of a file and to what JSON says."""

from __future__ import annotations

import json
from collections.abc import Iterator
from copy import deepcopy
from typing import Any

import numpy as np

from tests.wave_files import UNKNOWN

TELLING = (0, 1, 2, 3, 7, 8, 0x7F, 0x80, 0xFF, 0x100, 0xFFFE, 0xFFFF, 1 << 31, UNKNOWN - 1, UNKNOWN)
DEEP = json.loads("[" * 200 + "]" * 200)
VALUES: tuple[Any, ...] = (
    *(None, True, False, -1, 0, 1, 2, 1.5, -0.0, 1e308, float("inf"), float("nan"), 1 << 62),
    *(1 << 70, "", "x", "\0", "\ud800", "../../etc", "2026-02-30", "0001-01-01T00:00:00+23:59"),
    *("9" * 40, [], [None], {}, {"x": 1}, [[], []], DEEP),
)


def bytes_changed(data: bytes, rng: np.random.Generator, head_bytes: int) -> bytes:
    """Do one to three things to a file, mostly to its head."""
    made = bytearray(data)
    for _ in range(int(rng.choice([1, 1, 1, 2, 3]))):
        reach = len(made) if rng.random() < 0.1 else min(head_bytes, len(made))
        at = int(rng.integers(0, max(reach, 1)))
        match int(rng.integers(0, 6)):
            case 0:
                made[at : at + 1] = rng.bytes(1)
            case 1:
                width = int(rng.choice([2, 4, 8]))
                value = int(rng.choice(TELLING)) & (1 << 8 * width) - 1
                made[at : at + width] = value.to_bytes(width, "little")
            case 2:
                del made[at:]
            case 3:
                del made[at : at + int(rng.integers(1, 16))]
            case 4:
                made[at:at] = rng.bytes(int(rng.integers(1, 16)))
            case _:
                made[at:at] = made[: int(rng.integers(1, 64))]
    return bytes(made)


def tree_changed(tree: Any, rng: np.random.Generator) -> Any:
    """Put something else in one to three places of a tree of JSON, or take it out."""
    tree = json.loads(json.dumps(tree))
    for _ in range(int(rng.integers(1, 4))):
        places = list(_places(tree))
        if not places:
            break
        holder, key = places[int(rng.integers(0, len(places)))]
        value = deepcopy(VALUES[int(rng.integers(0, len(VALUES)))])
        match int(rng.integers(0, 4)):
            case 0:
                del holder[key]
            case 1 if isinstance(holder, dict):
                holder["other"] = value
            case 1:
                holder.insert(key, holder[key])
            case _:
                holder[key] = value
    return tree


def _places(tree: Any, levels: int = 8) -> Iterator[tuple[Any, Any]]:
    pairs = tree.items() if isinstance(tree, dict) else enumerate(tree)
    for key, value in list(pairs):
        yield tree, key
        if isinstance(value, dict | list) and levels:
            yield from _places(value, levels - 1)
