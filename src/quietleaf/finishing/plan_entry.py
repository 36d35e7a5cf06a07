"""An entry of a plan's file as it is read: strict, with a sentence for what does not fit."""

from __future__ import annotations

import math
from typing import Any

from quietleaf.errors import Invalid
from quietleaf.finishing.plan import RATE_HZ

_FOR_THE_EYE = ("at", "to")
_NO_END = 1 << 53


class Entry:
    """An object of the file: every name is asked for once, and none is left over."""

    def __init__(self, values: object, where: str) -> None:
        if not isinstance(values, dict):
            raise refusal(where, "is not an entry with names")
        self._values = {k: v for k, v in values.items() if k not in _FOR_THE_EYE}
        self.where = where

    def take(self, name: str) -> Any:
        """Give whatever a name stands for."""
        if name not in self._values:
            raise refusal(self.where, f"lacks {name}")
        return self._values.pop(name)

    def has(self, name: str) -> bool:
        """Say whether a name was given and not asked for yet."""
        return name in self._values

    def names(self) -> list[str]:
        """Give what was not asked for yet."""
        return list(self._values)

    def whole(self, name: str, least: int = 0) -> int:
        """Give a whole number."""
        value = self.take(name)
        if not isinstance(value, int) or isinstance(value, bool) or not least <= value < _NO_END:
            raise refusal(f"{self.where}.{name}", f"is {value!r}, not a whole number")
        return value

    def number(self, name: str, low: float = -math.inf, high: float = math.inf) -> float:
        """Give a number within bounds."""
        value = self.take(name)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise refusal(f"{self.where}.{name}", f"is {value!r}, not a number")
        if not math.isfinite(value) or not low <= value <= high:
            raise refusal(f"{self.where}.{name}", f"is {value!r}, outside {low:g} to {high:g}")
        return float(value)

    def text(self, name: str, among: tuple[str, ...] = ()) -> Any:
        """Give a text, one of some if they are named."""
        value = self.take(name)
        if not isinstance(value, str) or (among and value not in among):
            wanted = f"one of {', '.join(among)}" if among else "a text"
            raise refusal(f"{self.where}.{name}", f"is {value!r}, not {wanted}")
        if not _is_written(value):
            raise refusal(f"{self.where}.{name}", "has half a character in it")
        return value

    def texts(self, name: str) -> tuple[str, ...]:
        """Give a list of texts."""
        value = self.take(name)
        if not isinstance(value, list) or not all(
            isinstance(one, str) and _is_written(one) for one in value
        ):
            raise refusal(f"{self.where}.{name}", "is not a list of texts")
        return tuple(value)

    def flag(self, name: str) -> bool:
        """Give true or false."""
        value = self.take(name)
        if not isinstance(value, bool):
            raise refusal(f"{self.where}.{name}", f"is {value!r}, not true or false")
        return value

    def entry(self, name: str) -> Entry:
        """Give an entry inside this one."""
        return Entry(self.take(name), f"{self.where}.{name}")

    def entries(self, name: str) -> list[Entry]:
        """Give a list of entries."""
        value = self.take(name)
        if not isinstance(value, list):
            raise refusal(f"{self.where}.{name}", "is not a list")
        return [Entry(one, f"{self.where}.{name}[{index}]") for index, one in enumerate(value)]

    def measured(self) -> dict[str, float]:
        """Give what was measured."""
        entry = self.entry("measured")
        if not all(map(_is_written, entry.names())):
            raise refusal(entry.where, "has a name with half a character in it")
        return {name: entry.number(name) for name in entry.names()}

    def finished(self) -> None:
        """See to it that nothing is left over."""
        if self._values:
            raise refusal(self.where, f"has {', '.join(sorted(self._values))}, unknown here")


def read_range(entry: Entry) -> tuple[int, int]:
    """Read where an entry begins and ends."""
    start, stop = entry.whole("start"), entry.whole("stop")
    if stop <= start:
        raise refusal(entry.where, f"ends at {stop}, before it begins")
    return start, stop


def read_pairs(entry: Entry, name: str) -> tuple[tuple[int, int], ...]:
    """Read a list of ranges of the sound."""
    found = entry.take(name)
    if not isinstance(found, list):
        raise refusal(f"{entry.where}.{name}", "is not a list")
    pairs = []
    for index, pair in enumerate(found):
        where = f"{entry.where}.{name}[{index}]"
        if not isinstance(pair, list) or len(pair) != 2:
            raise refusal(where, "is not a first and a last sample")
        pairs.append(read_range(Entry({"start": pair[0], "stop": pair[1]}, where)))
    return tuple(pairs)


def _is_written(text: str) -> bool:
    """Tell whether a text can be written as UTF-8: JSON can spell half a character."""
    return text == text.encode(errors="replace").decode()


def refusal(where: str, why: str) -> Invalid:
    """Say what of a plan does not hold together."""
    return Invalid(
        "finish/plan",
        f"A finishing plan has to hold together; in this one {where} {why}. "
        "Take a plan that `quietleaf finish` wrote.",
    )


def place_clock(samples: int) -> str:
    """Write a place to the hundredth of a second: people look for it with a player."""
    hundredths = round(samples * 100 / RATE_HZ)
    seconds, rest = divmod(hundredths, 100)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    start = f"{hours}:{minutes:02d}" if hours else f"{minutes}"
    return f"{start}:{seconds:02d}.{rest:02d}"
