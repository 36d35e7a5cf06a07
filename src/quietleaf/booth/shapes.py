"""Whether a record that was read from a file holds what its types say.

A checksum says that bytes are those that somebody wrote, not that Quietleaf did.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from types import UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

_NO_NUMBER = 1 << 63


def check_shape(record: Any) -> None:
    """See to it that every field of a frozen record is of its own kind.

    Whole numbers count something, and are never negative; texts can be written as UTF-8.

    Raises
    ------
    TypeError, ValueError
        If one is not.
    """
    hints = _hints(type(record))  # type: ignore[arg-type]  # every class can be hashed
    for field in fields(record):
        if not _fits(getattr(record, field.name), hints[field.name]):
            raise TypeError(field.name)


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _fits(value: Any, kind: Any) -> bool:
    origin = get_origin(kind)
    if origin in (UnionType, Union):
        return any(_fits(value, one) for one in get_args(kind))
    if origin is Literal:
        return value in get_args(kind)
    if origin is tuple:
        one = get_args(kind)[0]
        return isinstance(value, tuple) and all(_fits(part, one) for part in value)
    if origin is Mapping:
        return isinstance(value, dict) and _is_plain(value)
    if kind is int:
        return type(value) is int and 0 <= value < _NO_NUMBER
    if kind is float:
        # A whole number is written without a point.
        return type(value) in (int, float) and math.isfinite(value)
    if kind is str:
        return isinstance(value, str) and bool(value.encode() or not value)
    if not isinstance(value, kind):
        return False
    if is_dataclass(value):
        check_shape(value)
    return True


def _is_plain(value: Any) -> bool:
    """Tell whether a value can be written as JSON again."""
    if isinstance(value, dict):
        return all(map(_is_plain, value)) and all(map(_is_plain, value.values()))
    if isinstance(value, list):
        return all(map(_is_plain, value))
    if isinstance(value, float):
        return math.isfinite(value)
    return not isinstance(value, str) or _fits(value, str)
