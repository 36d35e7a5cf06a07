"""A table of a settings-like file, read strictly: every name is asked for, or refused."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, time
from typing import Any, TypeVar

from quietleaf.errors import Invalid
from quietleaf.planning.words import names_in_words

_Kind = TypeVar("_Kind")
_Other = TypeVar("_Other")

_KINDS_IN_WORDS: dict[type, str] = {
    str: "a text in quotation marks",
    int: "a whole number",
    float: "a number",
    bool: "true or false",
    date: "a date like 2026-11-25",
    list: "a list in square brackets",
    dict: "a table",
}
_REQUIRED: Any = object()


class StrictTable:
    """One table: gives its values by name, kind and rule, and refuses what nobody asked for.

    Parameters
    ----------
    values : mapping
        As the file's parser gave it.
    place : str
        Where it stands, in words: ``station.toml, programme 3``.
    """

    def __init__(self, values: Mapping[str, Any], place: str) -> None:
        self._values = values
        self._asked: set[str] = set()
        self.place = place

    def take(self, name: str, kind: type[_Kind], default: _Other = _REQUIRED) -> _Kind | _Other:
        """Give a value of one kind.

        Raises
        ------
        Invalid
            If it is another kind, or is missing and there is no default.
        """
        self._asked.add(name)
        value = self._values.get(name, default)
        if value is _REQUIRED:
            raise Invalid(
                "station-file/missing-name",
                f"{self.place} has no {name}. Add it: {_KINDS_IN_WORDS[kind]}.",
            )
        # `type(...) is`: true is no number here, and a moment is no date.
        if name in self._values and type(value) is not kind:
            raise self._unfit(name, _KINDS_IN_WORDS[kind])
        return value  # type: ignore[no-any-return]  # a parser's value, checked above

    def seconds(self, name: str) -> float | None:
        """Give a length, or None where it is left out."""
        self._asked.add(name)
        value = self._values.get(name)
        if value is None:
            return None
        if not _is_length(value):
            raise self._unfit(name, "a number of seconds above 0")
        return float(value)

    def number(self, name: str, default: float) -> float:
        """Give a number, whole or not; the default where it is left out."""
        self._asked.add(name)
        value = self._values.get(name, default)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self._unfit(name, "a number")
        return float(value)

    def seconds_pair(self, name: str) -> tuple[float, float] | None:
        """Give two lengths, or None where they are left out."""
        self._asked.add(name)
        value = self._values.get(name)
        if value is None:
            return None
        if not (isinstance(value, list) and len(value) == 2 and all(map(_is_length, value))):
            raise self._unfit(name, "two numbers of seconds above 0, like [3360, 3480]")
        return float(value[0]), float(value[1])

    def times(self, name: str) -> tuple[time, ...]:
        """Give times of day, written ``"19:00"``."""
        texts = self.take(name, list, [])
        try:
            return tuple(_time_of_day(text) for text in texts)
        except (ValueError, TypeError, AttributeError):
            raise self._unfit(name, 'a list of times of day, like ["19:00"]') from None

    def texts(self, name: str) -> tuple[str, ...]:
        """Give a list of texts; nothing where it is left out."""
        texts = self.take(name, list, [])
        if not all(isinstance(text, str) for text in texts):
            raise self._unfit(name, 'a list of texts, like ["Paper in the tray"]')
        return tuple(texts)

    def chosen(self, name: str, among: Mapping[str, _Kind], default: str = _REQUIRED) -> _Kind:
        """Give what a key stands for; what the default stands for where it is left out.

        Raises
        ------
        Invalid
            If the key is none of those.
        """
        return self._looked_up(name, self.take(name, str, default), among)

    def several(self, name: str, among: Mapping[str, _Kind]) -> tuple[_Kind, ...]:
        """Give what one key or a list of keys stands for; nothing where it is left out."""
        given = self._values.get(name, [])
        self._asked.add(name)
        keys = [given] if isinstance(given, str) else given
        if not (isinstance(keys, list) and all(isinstance(key, str) for key in keys)):
            raise self._unfit(name, "a key, or a list of keys")
        return tuple(self._looked_up(name, key, among) for key in keys)

    def table(self, name: str) -> StrictTable:
        """Give a table inside this one."""
        return StrictTable(self.take(name, dict), f"{self.place}, [{name}]")

    def tables(self, name: str, one: str) -> list[StrictTable]:
        """Give a list of tables; ``one`` is what each is called in a sentence."""
        values = self.take(name, list, [])
        if not all(isinstance(value, dict) for value in values):
            raise self._unfit(name, f"a list of tables, each headed [[{name}]]")
        return [
            StrictTable(value, f"{self.place}, {one} {number}")
            for number, value in enumerate(values, start=1)
        ]

    def leave(self, name: str) -> None:
        """Let a name stand that somebody else reads."""
        self._asked.add(name)

    def refuse_rest(self) -> None:
        """Refuse what nobody asked for.

        Raises
        ------
        Invalid
            If the table has another name than those asked for.
        """
        rest = [name for name in self._values if name not in self._asked]
        if rest:
            raise Invalid(
                "station-file/unknown-name",
                f"{self.place} has {rest[0]!r}, a name that is not known there. Known are "
                f"{names_in_words(sorted(self._asked))}.",
            )

    def _looked_up(self, name: str, key: str, among: Mapping[str, _Kind]) -> _Kind:
        if key not in among:
            raise Invalid(
                "station-file/unknown-key",
                f"{self.place}: {name} is one of {names_in_words(list(among)) or 'none yet'}; "
                f"this says {key!r}.",
            )
        return among[key]

    def _unfit(self, name: str, wanted: str) -> Invalid:
        return Invalid(
            "station-file/value",
            f"{self.place}: {name} is {wanted}; this says {self._values[name]!r}.",
        )


def _is_length(value: object) -> bool:
    return type(value) in (int, float) and 0.0 < float(value) < float("inf")  # type: ignore[arg-type]


def _time_of_day(text: str) -> time:
    hours, minutes = text.split(":")
    if len(hours) != 2 or len(minutes) != 2:
        raise ValueError(text)
    return time(int(hours), int(minutes))
