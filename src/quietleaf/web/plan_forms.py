"""What the desk's forms mean: their text becomes records, and each refusal finds its field."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime, time
from typing import TypeVar, get_args
from zoneinfo import ZoneInfo

from quietleaf.errors import Invalid
from quietleaf.planning.assignment import Assignment
from quietleaf.planning.check_station import FIRST_DAY, FIRST_YEAR, LAST_DAY, MOST_PARTS
from quietleaf.planning.programme import (
    REVIEW_DEPTHS,
    USUAL_REVIEW,
    Programme,
    usual_window,
)
from quietleaf.planning.publication import Appears, Publication, PublicationKind
from quietleaf.planning.words import blanks_of
from quietleaf.units import Window, clock, seconds_of_clock
from quietleaf.web import plan_texts
from quietleaf.work.own_station import OwnStation

Values = Mapping[str, str]

FIELD_OF = {
    "planning/no-name": "name",
    "planning/no-title": "title",
    "planning/originator": "originator",
    "storage/unknown-zone": "zone",
    "planning/unknown-publication": "publication",
    "planning/slot-without-window": "shortest",
    "planning/window-outside-slot": "shortest",
    "planning/days-without-times": "air_times",
    "planning/time-twice": "air_times",
    "planning/air-without-slot": "slot",
    "planning/assigned-twice": "air_date",
    "planning/not-on-air": "air_date",
    "planning/no-air-date": "air_date",
    "planning/part": "part",
    "planning/air-time": "air_times",
    "planning/slot-long": "slot",
    "planning/year": "year",
    "planning/unknown-programme": "programme",
    "planning/unknown-reader": "reader",
    "planning/unknown-booth": "booth",
    "plan/assignment-readers": "second_reader",
    "plan/assignment-retired": "reader",
    "plan/reader-name": "name",
    "person/erased": "name",
    "plan/reader-in-booth": "name",
}
"""Where a verb's refusal is shown, by its code."""

_Read = TypeVar("_Read")


class FormRefused(Exception):
    """A form does not hold together: a sentence for each field of which one is needed."""

    def __init__(self, refusals: Mapping[str, str]) -> None:
        super().__init__(str(refusals))
        self.refusals = dict(refusals)


class _Reader:
    """Reads one field after another, and keeps what was refused of each."""

    def __init__(self, values: Values) -> None:
        self.values = values
        self.refusals: dict[str, str] = {}

    def text(self, name: str) -> str:
        return self.values.get(name, "")

    def read(self, name: str, how: Callable[[str], _Read], otherwise: _Read) -> _Read:
        try:
            return how(self.text(name))
        except Invalid as refusal:
            self.refusals[name] = refusal.sentence
            return otherwise

    def done(self) -> None:
        if self.refusals:
            raise FormRefused(self.refusals)


def programme_of(values: Values, key: str) -> Programme:
    """Read a programme's form.

    Raises
    ------
    FormRefused
        With every field that does not hold.
    """
    form = _Reader(values)
    serial = form.text("serial") == "yes"
    form.read("title", _needed(plan_texts.NEEDS_TITLE), "")
    form.read("publication", _needed(plan_texts.NEEDS_PUBLICATION), "")
    review = form.read("review", _one_of(REVIEW_DEPTHS), USUAL_REVIEW)
    slot_s = form.read("slot", _length_s, None)
    shortest_s = form.read("shortest", _length_s, None)
    longest_s = form.read("longest", _length_s, None)
    for name in ("opening", "closing"):
        form.read(name, lambda text: checked_words(text, serial), "")
    no_times: tuple[time, ...] = ()
    air_times = form.read("air_times", _air_times, no_times)
    if not form.refusals and (shortest_s is None) != (longest_s is None):
        which = "shortest" if shortest_s is None else "longest"
        form.refusals[which] = plan_texts.WINDOW_HALF
    form.done()
    window = (
        usual_window(slot_s)
        if shortest_s is None or longest_s is None
        else Window(shortest_s=shortest_s, longest_s=longest_s)
    )
    return Programme(
        key=key,
        title=form.text("title"),
        publication=form.text("publication"),
        slot_s=slot_s,
        window=window,
        opening_words=form.text("opening"),
        closing_words=form.text("closing"),
        weekdays=tuple(day for day in range(7) if str(day) in form.text("weekdays").split("\n")),
        air_times=air_times,
        serial=serial,
        review=review,
        other_reviewer=form.text("other_reviewer") == "yes",
    )


def checked_words(text: str, serial: bool) -> str:
    """Give opening or closing words back if all their blanks can be filled.

    Raises
    ------
    Invalid
        If a blank is none of ours, or the part of what has no parts.
    """
    if "part" in blanks_of(text) and not serial:
        raise Invalid("planning/part-outside-serial", plan_texts.PART_OUTSIDE_SERIAL)
    return text


def values_of_programme(programme: Programme) -> dict[str, str]:
    """Write a programme into its form."""
    window = programme.window
    return {
        "title": programme.title,
        "publication": programme.publication,
        "slot": _written_length(programme.slot_s),
        "shortest": _written_length(window.shortest_s if window else None),
        "longest": _written_length(window.longest_s if window else None),
        "weekdays": "\n".join(map(str, programme.weekdays)),
        "air_times": ", ".join(f"{at:%H:%M}" for at in programme.air_times),
        "serial": "yes" if programme.serial else "",
        "opening": programme.opening_words,
        "closing": programme.closing_words,
        "review": programme.review,
        "other_reviewer": "yes" if programme.other_reviewer else "",
    }


def publication_of(values: Values, key: str) -> Publication:
    """Read a publication's form.

    Raises
    ------
    FormRefused
        With every field that does not hold.
    """
    form = _Reader(values)
    form.read("title", _needed(plan_texts.NEEDS_TITLE), "")
    kind: PublicationKind = form.read("kind", _one_of(get_args(PublicationKind)), "newspaper")
    appears: Appears = form.read("appears", _one_of(get_args(Appears)), "daily")
    year = form.read("year", _year, None)
    form.done()
    return Publication(
        key=key,
        title=form.text("title"),
        kind=kind,
        appears=appears,
        author=form.text("author"),
        publisher=form.text("publisher"),
        year=year,
    )


def values_of_publication(publication: Publication) -> dict[str, str]:
    """Write a publication into its form."""
    return {
        "title": publication.title,
        "kind": publication.kind,
        "appears": publication.appears,
        "author": publication.author,
        "publisher": publication.publisher,
        "year": "" if publication.year is None else str(publication.year),
    }


def name_of(values: Values) -> str:
    """Read the name of a reader or a booth.

    Raises
    ------
    FormRefused
        If it is empty.
    """
    form = _Reader(values)
    name = form.read("name", _needed(plan_texts.NEEDS_NAME), "")
    form.done()
    return name


def assignment_of(values: Values, key: str, zone: ZoneInfo) -> Assignment:
    """Read an assignment's form.

    Parameters
    ----------
    zone : ZoneInfo
        In which the time of reading is meant.

    Raises
    ------
    FormRefused
        With every field that does not hold.
    """
    form = _Reader(values)
    form.read("programme", _needed(plan_texts.NEEDS_PROGRAMME), "")
    issue_date = form.read("issue_date", _day, None)
    if issue_date is None:
        form.refusals.setdefault("issue_date", plan_texts.NEEDS_ISSUE_DATE)
    air_date = form.read("air_date", _day, None)
    part = form.read("part", _part, None)
    reads_day = form.read("reads_day", _day, None)
    reads_time = form.read("reads_time", _time, None)
    if not form.refusals and (reads_day is None) != (reads_time is None):
        which = "reads_day" if reads_day is None else "reads_time"
        form.refusals[which] = plan_texts.READS_HALF
    form.done()
    assert issue_date is not None
    reads_at = (
        None
        if reads_day is None or reads_time is None
        else datetime.combine(reads_day, reads_time, zone).astimezone(UTC)
    )
    readers = (form.text("reader"), form.text("second_reader"))
    return Assignment(
        programme_key=form.text("programme"),
        issue_date=issue_date,
        air_date=air_date,
        readers=tuple(reader for reader in readers if reader),
        part=part,
        key=key,
        booth=form.text("booth") or None,
        reads_at=reads_at,
    )


def values_of_assignment(assignment: Assignment, zone: ZoneInfo) -> dict[str, str]:
    """Write an assignment into its form."""
    first, second = (*assignment.readers, "", "")[:2]
    reads_at = assignment.reads_at and assignment.reads_at.astimezone(zone)
    return {
        "programme": assignment.programme_key,
        "issue_date": assignment.issue_date.isoformat(),
        "air_date": assignment.air_date.isoformat() if assignment.air_date else "",
        "reader": first,
        "second_reader": second,
        "booth": assignment.booth or "",
        "part": "" if assignment.part is None else str(assignment.part),
        "reads_day": reads_at.date().isoformat() if reads_at else "",
        "reads_time": f"{reads_at:%H:%M}" if reads_at else "",
    }


def station_of(values: Values) -> OwnStation:
    """Read what a station says of itself.

    Raises
    ------
    FormRefused
        With every field that does not hold.
    """
    form = _Reader(values)
    form.read("name", _needed(plan_texts.NEEDS_NAME), "")
    form.read("zone", _needed(plan_texts.NEEDS_ZONE), "")
    form.done()
    return OwnStation(
        name=form.text("name"),
        place=form.text("place"),
        zone=form.text("zone"),
        originator=form.text("originator"),
    )


def _needed(sentence: str) -> Callable[[str], str]:
    def read(text: str) -> str:
        if not text:
            raise Invalid("plan/needed", sentence)
        return text

    return read


def _one_of(choices: tuple[_Read, ...]) -> Callable[[str], _Read]:
    def read(text: str) -> _Read:
        for choice in choices:
            if choice == text:
                return choice
        raise Invalid("plan/choice", plan_texts.NEEDS_CHOICE)

    return read


def _length_s(text: str) -> float | None:
    if not text:
        return None
    try:
        length_s = float(text) * 60.0 if re.fullmatch(r"\d{1,4}", text) else seconds_of_clock(text)
    except Invalid:
        length_s = 0.0
    if not 1.0 <= length_s <= 86_400.0:
        raise Invalid("plan/length", plan_texts.not_a_length(text))
    return length_s


def _written_length(length_s: float | None) -> str:
    return "" if length_s is None else clock(length_s)


def _air_times(text: str) -> tuple[time, ...]:
    return tuple(read for word in re.split(r"[,;\s]+", text) if (read := _time(word)) is not None)


def _time(text: str) -> time | None:
    if not text:
        return None
    found = re.fullmatch(r"([01]?\d|2[0-3])[:.]([0-5]\d)", text)
    if found is None:
        raise Invalid("plan/time", plan_texts.not_a_time(text))
    return time(int(found[1]), int(found[2]))


def _day(text: str) -> date | None:
    if not text:
        return None
    try:
        day = date.fromisoformat(text)
    except ValueError:
        day = None
    if day is None or not FIRST_DAY <= day <= LAST_DAY:
        raise Invalid("plan/day", plan_texts.not_a_day(text))
    return day


def _part(text: str) -> int | None:
    if not text:
        return None
    part = int(text) if re.fullmatch(r"[0-9]{1,4}", text) else 0
    if not 1 <= part <= MOST_PARTS:
        raise Invalid("plan/part", plan_texts.not_a_part(text))
    return part


def _year(text: str) -> int | None:
    if not text:
        return None
    year = int(text) if re.fullmatch(r"[0-9]{4}", text) else 0
    if not FIRST_YEAR <= year <= LAST_DAY.year:
        raise Invalid("plan/year", plan_texts.not_a_year(text))
    return year
