"""Decibels, samples, seconds: how numbers become what people read, and back."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from quietleaf.errors import Invalid

_CLOCK = re.compile(r"(?:([0-9]{1,9}):)?([0-9]{1,9}):([0-9]{2}(?:\.[0-9]+)?)")


def db_of_ratio(ratio: float) -> float:
    """Turn an amplitude ratio into decibels; 0 gives -inf.

    Examples
    --------
    >>> round(db_of_ratio(0.5), 2)
    -6.02
    """
    return 20.0 * math.log10(ratio) if ratio > 0.0 else -math.inf


def ratio_of_db(level_db: float) -> float:
    """Turn decibels into an amplitude ratio; -inf gives 0.

    Examples
    --------
    >>> round(ratio_of_db(-6.0206), 4)
    0.5
    """
    return float(10.0 ** (level_db / 20.0))


def db_of_power(power: float) -> float:
    """Turn a power ratio into decibels; 0 gives -inf.

    Examples
    --------
    >>> db_of_power(100.0)
    20.0
    """
    return 10.0 * math.log10(power) if power > 0.0 else -math.inf


def samples_of_s(time_s: float, sample_rate_hz: int) -> int:
    """Turn seconds into whole samples, to the nearest.

    Examples
    --------
    >>> samples_of_s(0.5, 44_100)
    22050
    """
    return round(time_s * sample_rate_hz)


def clock(time_s: float) -> str:
    """Write a length or a place as people say it: ``56:31``, ``1:02:03``.

    Whole seconds, rounded down, so that a place named in words is never past the thing.

    Examples
    --------
    >>> clock(3391.9), clock(3723), clock(7)
    ('56:31', '1:02:03', '0:07')
    """
    whole_s = int(time_s)
    hours, rest_s = divmod(whole_s, 3600)
    minutes, seconds = divmod(rest_s, 60)
    if hours:
        return f"{hours}:{minutes:02d}:{seconds:02d}"
    return f"{minutes}:{seconds:02d}"


def seconds_of_clock(text: str) -> float:
    """Read ``56:00``, ``1:02:03.5`` or plain seconds ``90``.

    Raises
    ------
    Invalid
        If the text is none of these.

    Examples
    --------
    >>> seconds_of_clock("56:00"), seconds_of_clock("1:02:03.5"), seconds_of_clock("90")
    (3360.0, 3723.5, 90.0)
    """
    match = _CLOCK.fullmatch(text.strip())
    if match:
        hours, minutes, seconds = match.groups()
        return int(hours or 0) * 3600.0 + int(minutes) * 60.0 + float(seconds)
    try:
        time_s = float(text)
    except ValueError:
        time_s = math.nan
    if not 0.0 <= time_s < math.inf:
        raise Invalid(
            "units/clock",
            f"A time is written as minutes and seconds, like 56:00; this says {text!r}.",
        )
    return time_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """The least and greatest length a reading may have, in seconds."""

    shortest_s: float
    longest_s: float

    def __str__(self) -> str:
        return f"{clock(self.shortest_s)} to {clock(self.longest_s)}"


def window_of_text(text: str) -> Window:
    """Read a window such as ``56:00-58:00``.

    Raises
    ------
    Invalid
        If it is not two times with a hyphen between, the shorter first.

    Examples
    --------
    >>> window_of_text("56:00-58:00")
    Window(shortest_s=3360.0, longest_s=3480.0)
    """
    shortest, hyphen, longest = text.partition("-")
    if not hyphen:
        raise Invalid(
            "units/window",
            "A window is written as shortest and longest length, like 56:00-58:00; "
            f"this says {text!r}.",
        )
    window = Window(shortest_s=seconds_of_clock(shortest), longest_s=seconds_of_clock(longest))
    if window.shortest_s > window.longest_s:
        raise Invalid(
            "units/window-order",
            f"A window begins with its shortest length; {text!r} begins with its longest.",
        )
    return window
