"""Reads ``station.toml``: one station in one file, strictly.

A name that the file's format does not know is refused, never dropped: a misspelt ``window_s`` would
otherwise give a programme without a window.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TypeVar

from quietleaf.delivery.mp3_frames import KBPS
from quietleaf.errors import Invalid, NotFound
from quietleaf.planning.assignment import Assignment, with_keys
from quietleaf.planning.booth import Booth
from quietleaf.planning.check_station import check_station
from quietleaf.planning.outlet import OUTLET_FORMS, TELEPHONE_LAWS, USUAL_OUTLETS, Outlet
from quietleaf.planning.programme import REVIEW_DEPTHS, USUAL_REVIEW, Programme, usual_window
from quietleaf.planning.publication import APPEARANCES, PUBLICATION_KINDS, Publication
from quietleaf.planning.station import Station
from quietleaf.storage.strict_table import StrictTable
from quietleaf.storage.zones import zone_named
from quietleaf.units import Window

SCHEMA = "quietleaf/station/1"
WEEKDAY_KEYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")

_LARGEST_FILE_BYTES = 4_000_000
_Record = TypeVar("_Record")


@dataclass(frozen=True, slots=True, kw_only=True)
class ExampleReading:
    """The reading that an example station brings with it.

    Attributes
    ----------
    day : date
        The air day that the example shows.
    sample, labels : Path
        The recording, and what is known of it; beside the station's file.
    reader : str
        Name as it is spoken.
    """

    day: date
    sample: Path
    labels: Path
    programme_key: str
    issue_date: date
    reader: str


def read_station(path: Path) -> Station:
    """Read a station from its file.

    Raises
    ------
    NotFound
        If there is no file.
    Invalid
        If it is not TOML, has a name that the format does not know, lacks one, or the station
        does not hold together (`check_station`).
    """
    file = _opened(path)
    file.leave("example")  # read_example's
    head = file.table("station")
    publications = _by_key(file.tables("publications", "publication"), _publication)
    titles = {key: publication.title for key, publication in publications.items()}
    programmes = _by_key(
        file.tables("programmes", "programme"), lambda table: _programme(table, titles)
    )
    readers = _by_key(file.tables("readers", "reader"), lambda table: table.take("name", str))
    booths = _by_key(file.tables("booths", "booth"), _booth)
    station = Station(
        name=head.take("name", str),
        note=head.take("note", str, ""),
        place=head.take("place", str, ""),
        zone=head.take("time_zone", str),
        originator=head.take("originator", str),
        publications=tuple(publications.values()),
        programmes=tuple(programmes.values()),
        readers=tuple(readers.values()),
        assignments=with_keys(
            _assignment(
                table, {key: key for key in programmes}, readers, {key: key for key in booths}
            )
            for table in file.tables("assignments", "assignment")
        ),
        booths=tuple(booths.values()),
        tidy_list=head.texts("tidy_list"),
        outlets=tuple(map(_outlet, file.tables("outlets", "outlet"))),
    )
    head.refuse_rest()
    file.refuse_rest()
    zone_named(station.zone)
    check_station(station)
    return station


def read_example(path: Path) -> ExampleReading:
    """Read what an example station's file says of its sample reading.

    Raises
    ------
    NotFound
        If there is no file.
    Invalid
        If it has no ``[example]``, or that does not hold together.
    """
    file = _opened(path)
    readers = _by_key(file.tables("readers", "reader"), lambda table: table.take("name", str))
    example = file.table("example")
    reading = ExampleReading(
        day=example.take("day", date),
        sample=path.parent / example.take("sample", str),
        labels=path.parent / example.take("labels", str),
        programme_key=example.take("programme", str),
        issue_date=example.take("issue", date),
        reader=example.chosen("reader", readers),
    )
    example.refuse_rest()
    return reading


def _opened(path: Path) -> StrictTable:
    try:
        with path.open("rb") as file:
            text = file.read(_LARGEST_FILE_BYTES + 1)
    except (FileNotFoundError, IsADirectoryError) as missing:
        raise NotFound(
            "station-file/missing", f"A station's file was expected at {path}; there is none."
        ) from missing
    if len(text) > _LARGEST_FILE_BYTES:
        raise Invalid(
            "station-file/too-large",
            f"A station's file is at most {_LARGEST_FILE_BYTES // 1_000_000} MB; {path.name} is "
            "larger. Is it another kind of file?",
        )
    try:
        file_table = StrictTable(tomllib.loads(text.decode()), path.name)
    except (ValueError, RecursionError) as broken:
        # Numbers of thousands of digits and brackets in brackets are no fault of the parser's own.
        raise Invalid(
            "station-file/not-toml",
            f"A station's file is written in TOML; {path.name} cannot be read as that: {broken}.",
        ) from broken
    schema = file_table.take("schema", str)
    if schema != SCHEMA:
        raise Invalid(
            "station-file/schema",
            f"This version reads {SCHEMA}; {path.name} says that it is {schema!r}.",
        )
    return file_table


def _by_key(
    tables: list[StrictTable], record_of: Callable[[StrictTable], _Record]
) -> dict[str, _Record]:
    records: dict[str, _Record] = {}
    for table in tables:
        key = table.take("key", str)
        if key in records:
            raise Invalid(
                "station-file/key-twice",
                f"{table.place} has the key {key!r}, which stands for another one above. "
                "Change one of them.",
            )
        records[key] = record_of(table)
        table.refuse_rest()
    return records


def _publication(table: StrictTable) -> Publication:
    return Publication(
        key=table.take("key", str),
        title=table.take("title", str),
        kind=table.chosen("kind", {kind: kind for kind in PUBLICATION_KINDS}),
        appears=table.chosen("appears", {appears: appears for appears in APPEARANCES}),
        author=table.take("author", str, ""),
        publisher=table.take("publisher", str, ""),
        year=table.take("year", int, None),
    )


def _programme(table: StrictTable, titles: dict[str, str]) -> Programme:
    slot_s, window = table.seconds("slot_s"), table.seconds_pair("window_s")
    weekday_keys: dict[str, int] = {key: number for number, key in enumerate(WEEKDAY_KEYS)}
    return Programme(
        key=table.take("key", str),
        title=table.take("title", str),
        publication=table.chosen("publication", titles),
        slot_s=slot_s,
        window=Window(shortest_s=window[0], longest_s=window[1])
        if window
        else usual_window(slot_s),
        opening_words=table.take("opening", str).strip(),
        closing_words=table.take("closing", str).strip(),
        weekdays=table.several("weekdays", weekday_keys),
        air_times=table.times("air_times"),
        serial=table.take("serial", bool, False),
        review=table.chosen("review", {depth: depth for depth in REVIEW_DEPTHS}, USUAL_REVIEW),
        other_reviewer=table.take("other_reviewer", bool, False),
    )


def _booth(table: StrictTable) -> Booth:
    return Booth(key=table.take("key", str), name=table.take("name", str))


def _outlet(table: StrictTable) -> Outlet:
    """Read an outlet; what it does not say is as usual for one of its name."""
    key = table.take("key", str)
    usual = USUAL_OUTLETS.get(key)
    form = table.chosen("form", {form: form for form in OUTLET_FORMS}, usual.form if usual else "")
    if usual is None or form != usual.form:
        usual = next(one for one in USUAL_OUTLETS.values() if one.form == form)
    outlet = Outlet(
        key=key,
        form=form,
        loudness_lufs=table.number("loudness_lufs", usual.loudness_lufs),
        ceiling_dbtp=table.number("ceiling_dbtp", usual.ceiling_dbtp),
        dual_mono=table.take("dual_mono", bool, usual.dual_mono),
        mp3_kbps=table.take("mp3_kbps", int, usual.mp3_kbps),
        law=table.chosen("law", {law: law for law in TELEPHONE_LAWS}, usual.law),
        low_hz=table.number("low_hz", usual.low_hz),
        high_hz=table.number("high_hz", usual.high_hz),
    )
    table.refuse_rest()
    if outlet.mp3_kbps not in KBPS:
        raise Invalid(
            "station-file/kbps",
            f"An MP3 has one of these bit rates: {', '.join(map(str, KBPS))} kbit/s; {key} asks "
            f"for {outlet.mp3_kbps}.",
        )
    return outlet


def _assignment(
    table: StrictTable,
    programme_keys: dict[str, str],
    readers: dict[str, str],
    booth_keys: dict[str, str],
) -> Assignment:
    (booth,) = table.several("booth", booth_keys) or (None,)
    assignment = Assignment(
        programme_key=table.chosen("programme", programme_keys),
        issue_date=table.take("issue", date),
        readers=table.several("reader", readers),
        air_date=table.take("air_date", date, None),
        part=table.take("part", int, None),
        booth=booth,
    )
    table.refuse_rest()
    return assignment
