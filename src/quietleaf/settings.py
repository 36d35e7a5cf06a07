"""Every setting, in one table: name, default, unit, help.

A setting comes from the environment (``QUIETLEAF_`` and its name in capitals); a command's own
option goes before it. Only the doors read settings; the rooms get values as arguments.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from quietleaf.errors import Invalid


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One row of the table."""

    name: str
    default: str | int | float
    unit: str
    help: str


SETTINGS = (
    Setting(name="data", default="station", unit="folder", help="where the station is kept"),
    Setting(
        name="database",
        default="",
        unit="URL",
        help="the database; empty means SQLite in the data folder",
    ),
    Setting(name="port", default=8190, unit="port", help="where the pages are served"),
    Setting(
        name="tls_port",
        default=8443,
        unit="port",
        help="where booths and readers at home are served, with `run --tls`",
    ),
    Setting(
        name="warnings_min",
        default="5, 2, 1",
        unit="min",
        help="so long before the end of the window the reader is told",
    ),
    Setting(
        name="rest_after_min",
        default=40.0,
        unit="min",
        help="after so much reading a rest for the voice is suggested at the next hold",
    ),
    Setting(
        name="lead_in_s",
        default=3.0,
        unit="s",
        help="so much of what comes before a sentence is played before it is read again",
    ),
    Setting(
        name="pace_wpm",
        default=150.0,
        unit="words/min",
        help="a reader's pace until it has been measured",
    ),
    Setting(
        name="loudness",
        default="ebu-r128",
        unit="name or LUFS",
        help="loudness of masters: ebu-r128 (-23 LUFS), atsc-a85 (-24 LUFS), or a number",
    ),
    Setting(
        name="true_peak_ceiling_dbtp",
        default=-1.0,
        unit="dBTP",
        help="no peak of a delivered file is higher",
    ),
    Setting(
        name="head_s", default=0.5, unit="s", help="room tone before the first syllable of a master"
    ),
    Setting(name="tail_s", default=1.0, unit="s", help="room tone after the last word of a master"),
    Setting(
        name="dead_air_s",
        default=5.0,
        unit="s",
        help="a silence inside a reading longer than this is a finding, and is shortened",
    ),
    Setting(
        name="recogniser",
        default="",
        unit="folder",
        help="the model of a recogniser of speech, for the extra `quietleaf[words]`; empty: none",
    ),
    Setting(
        name="longest_recording_s",
        default=36_000.0,
        unit="s",
        help="recordings of this length or more are not brought in",
    ),
    Setting(name="mp3_kbps", default=64, unit="kbit/s", help="bit rate of MP3 masters"),
)


def read_settings(environment: Mapping[str, str] | None = None) -> dict[str, Any]:
    """Give every setting's value by name.

    Raises
    ------
    Invalid
        If a value cannot be read as its default's kind.

    Examples
    --------
    >>> read_settings({"QUIETLEAF_HEAD_S": "0.25"})["head_s"]
    0.25
    """
    given = os.environ if environment is None else environment
    values: dict[str, Any] = {}
    for setting in SETTINGS:
        text = given.get(f"QUIETLEAF_{setting.name.upper()}")
        if text is None:
            values[setting.name] = setting.default
            continue
        try:
            values[setting.name] = type(setting.default)(text)
        except ValueError:
            raise Invalid(
                "settings/value",
                f"The setting {setting.name} is a {type(setting.default).__name__} "
                f"({setting.unit}: {setting.help}); it was given {text!r}.",
            ) from None
    return values
