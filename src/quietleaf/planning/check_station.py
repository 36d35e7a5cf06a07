"""What a station must hold before it is kept: the first thing amiss, as one sentence."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import date

from quietleaf.errors import Invalid
from quietleaf.planning.assignment import Assignment
from quietleaf.planning.outlet import check_outlet
from quietleaf.planning.person import FORMER_READER
from quietleaf.planning.programme import Programme
from quietleaf.planning.publication import Publication
from quietleaf.planning.station import Station
from quietleaf.planning.words import WEEKDAYS, blanks_of, names_in_words, written_date
from quietleaf.units import clock

ORIGINATOR_LONGEST = 32
"""Characters of the originator field (EBU Tech 3285 v2, section 2.3)."""

FIRST_DAY, LAST_DAY = date(1970, 1, 2), date(2199, 12, 31)
"""Days that can be planned and looked at; every zone's table of clock changes covers them."""
MOST_PARTS = 9_999
FIRST_YEAR = 1400
"""No book that is read aloud came out before printing."""
SLOT_S_MOST = 86_400.0

_KEY = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_KEY_LONGEST = 64


def check_station(station: Station) -> None:
    """Refuse a station that does not hold together, or an assignment that its programme does not.

    Raises
    ------
    Invalid
        With one sentence about the first thing amiss: a name twice, a window outside its slot, a
        blank that nothing fills, an assignment of somebody or something that is not there.
    """
    check_names_and_ties(station)
    programmes = {programme.key: programme for programme in station.programmes}
    for assignment in station.assignments:
        check_turn(assignment, programmes[assignment.programme_key])


def check_names_and_ties(station: Station) -> None:
    """Refuse a station in which a name stands for nothing, or for two things.

    Assignments that are over may not fit their programme any more, since its days on the air
    change with the season; `check_turn` holds those that are to come.

    Raises
    ------
    Invalid
        As `check_station` does.
    """
    _check_names(station)
    for publication in station.publications:
        _check_publication(publication)
    titles = {publication.title for publication in station.publications}
    for programme in station.programmes:
        check_programme(programme)
        if programme.publication not in titles:
            raise Invalid(
                "planning/unknown-publication",
                f"{programme.title} is read from {programme.publication!r}, which is not among the "
                "station's publications. Add it there, or name one of them.",
            )
    programmes = {programme.key: programme for programme in station.programmes}
    for booth in station.booths:
        _check_key(booth.key, "booth")
        if not booth.name.strip():
            raise Invalid("planning/no-title", f"The booth {booth.key} has no name. Give it one.")
    for outlet in station.outlets:
        _check_key(outlet.key, "outlet")
        check_outlet(outlet)
    _refuse_twice(
        (outlet.key for outlet in station.outlets),
        "planning/outlet-twice",
        "An outlet has one entry; {name} has {count}. Keep one of them.",
    )
    booths = {booth.key for booth in station.booths}
    readers = frozenset((*station.readers, *station.retired, FORMER_READER))
    for assignment in station.assignments:
        _check_assignment(assignment, programmes, readers, booths)
    days = Counter(
        (assignment.programme_key, assignment.air_date)
        for assignment in station.assignments
        if assignment.air_date is not None
    )
    for (key, day), count in days.items():
        if count > 1:
            raise Invalid(
                "planning/assigned-twice",
                f"A programme has one assignment for a day; {programmes[key].title} on "
                f"{written_date(day)} has {count}. Keep one of them.",
            )


def check_programme(programme: Programme) -> None:
    """Refuse a programme whose slot, window, times or words do not hold together.

    Raises
    ------
    Invalid
        With one sentence about the first thing amiss.
    """
    _check_key(programme.key, "programme")
    if not programme.title.strip():
        raise Invalid(
            "planning/no-title", f"The programme {programme.key} has no title. Give it one."
        )
    _check_window(programme)
    _check_times(programme)
    for which, words in (
        ("opening", programme.opening_words),
        ("closing", programme.closing_words),
    ):
        try:
            blanks = blanks_of(words)
        except Invalid as refusal:
            raise Invalid(
                refusal.code, f"{programme.title}, {which} words: {refusal.sentence}"
            ) from refusal
        if "part" in blanks and not programme.serial:
            raise Invalid(
                "planning/part-outside-serial",
                f"{programme.title}, {which} words: the blank {{part}} is for a serial, and this "
                "programme is none. Take it out, or make the programme a serial.",
            )


def check_turn(assignment: Assignment, programme: Programme) -> None:
    """Refuse an assignment on a day or for a part that its programme does not have.

    Raises
    ------
    Invalid
        With one sentence about the first thing amiss.
    """
    day = assignment.air_date
    if day is not None and day.weekday() not in programme.weekdays:
        raise Invalid(
            "planning/not-on-air",
            f"{programme.title} is assigned for {written_date(day)}, and is not on the air on that "
            "weekday. Change the date, or the programme's weekdays.",
        )
    if day is None and programme.weekdays:
        raise Invalid(
            "planning/no-air-date",
            f"An assignment for {programme.title} has no air date, and the programme is on the "
            "air. Say on which day.",
        )
    if (assignment.part is not None) != programme.serial:
        raise Invalid(
            "planning/part",
            f"An assignment says which part it is in a serial, and nowhere else; {programme.title} "
            f"is {'a' if programme.serial else 'no'} serial, and its assignment has "
            f"{'no part' if assignment.part is None else f'part {assignment.part}'}.",
        )


def _check_names(station: Station) -> None:
    if not station.name.strip():
        raise Invalid("planning/no-name", "A station needs the name of its service; this has none.")
    if not station.originator.isascii() or len(station.originator) > ORIGINATOR_LONGEST:
        raise Invalid(
            "planning/originator",
            f"The originator is at most {ORIGINATOR_LONGEST} ASCII characters, since Broadcast "
            f"Wave has no room for more; {station.originator!r} is not. Shorten it.",
        )
    for kind, names in (
        ("publications", [publication.key for publication in station.publications]),
        ("publications", [publication.title for publication in station.publications]),
        ("programmes", [programme.key for programme in station.programmes]),
        ("readers", [*station.readers, *station.retired]),
        ("booths", [booth.key for booth in station.booths]),
        ("booths", [booth.name for booth in station.booths]),
        ("assignments", [each.key for each in station.assignments if each.key]),
    ):
        _refuse_twice(
            names,
            "planning/name-twice",
            f"Each of the {kind} has a name of its own; {{name!r}} is there {{count}} times. "
            "Change one of them.",
        )


def _check_publication(publication: Publication) -> None:
    _check_key(publication.key, "publication")
    if not publication.title.strip():
        raise Invalid(
            "planning/no-title", f"The publication {publication.key} has no title. Give it one."
        )
    if publication.year is not None and not FIRST_YEAR <= publication.year <= LAST_DAY.year:
        raise Invalid(
            "planning/year",
            f"A book came out between {FIRST_YEAR} and {LAST_DAY.year}; {publication.title} says "
            f"{publication.year}. Write the year with four figures.",
        )


def _check_key(key: str, kind: str) -> None:
    if not _KEY.fullmatch(key) or len(key) > _KEY_LONGEST:
        raise Invalid(
            "planning/key",
            f"The key of a {kind} names folders: lower-case letters, digits and single hyphens, "
            f"at most {_KEY_LONGEST}; this one is {key!r}.",
        )


def _check_window(programme: Programme) -> None:
    slot_s, window = programme.slot_s, programme.window
    if slot_s is None and window is None:
        return
    if slot_s is None or window is None:
        has, lacks = ("window", "slot") if slot_s is None else ("slot", "window")
        raise Invalid(
            "planning/slot-without-window",
            f"{programme.title} has a {has} and no {lacks}. Give both, or neither for a reading "
            "of any length.",
        )
    if not slot_s <= SLOT_S_MOST:
        raise Invalid(
            "planning/slot-long",
            f"A slot is at most a day long; that of {programme.title} is not. Shorten it.",
        )
    if not 0.0 < window.shortest_s <= window.longest_s <= slot_s:
        raise Invalid(
            "planning/window-outside-slot",
            f"A window begins with its shortest length and lies within the slot; {programme.title} "
            f"has the window {window} in a slot of {clock(slot_s)}.",
        )


def _check_times(programme: Programme) -> None:
    if bool(programme.weekdays) != bool(programme.air_times):
        has, lacks = ("weekdays", "air times") if programme.weekdays else ("air times", "weekdays")
        raise Invalid(
            "planning/days-without-times",
            f"{programme.title} has {has} and no {lacks}. Give both, or neither if it never airs.",
        )
    if programme.air_times and programme.slot_s is None:
        raise Invalid(
            "planning/air-without-slot",
            f"{programme.title} is on the air and has no slot. Say how long it holds the air.",
        )
    if any(weekday not in range(len(WEEKDAYS)) for weekday in programme.weekdays):
        raise Invalid(
            "planning/weekday",
            f"Weekdays go from 0 for Monday to 6 for Sunday; {programme.title} has "
            f"{names_in_words([str(weekday) for weekday in programme.weekdays])}.",
        )
    if any(at.tzinfo is not None or at.second or at.microsecond for at in programme.air_times):
        raise Invalid(
            "planning/air-time",
            f"An air time is hours and minutes by the station's clock, such as 19:00; "
            f"{programme.title} has one with more. Write it so.",
        )
    _refuse_twice(
        (f"{air_time:%H:%M}" for air_time in programme.air_times),
        "planning/time-twice",
        f"{programme.title} has the air time {{name}} {{count}} times. Keep it once.",
    )


def _check_assignment(
    assignment: Assignment,
    programmes: Mapping[str, Programme],
    readers: frozenset[str],
    booths: set[str],
) -> None:
    programme = programmes.get(assignment.programme_key)
    if programme is None:
        raise Invalid(
            "planning/unknown-programme",
            f"An assignment names the programme {assignment.programme_key!r}; the station has "
            f"{names_in_words(list(programmes)) or 'none'}. Use one of these keys.",
        )
    _check_moments(assignment, programme)
    for reader in assignment.readers:
        if reader not in readers:
            raise Invalid(
                "planning/unknown-reader",
                f"{programme.title} is assigned to {reader!r}, who is not among the station's "
                "readers. Add the name there, or assign somebody else.",
            )
    if assignment.booth is not None and assignment.booth not in booths:
        raise Invalid(
            "planning/unknown-booth",
            f"{programme.title} is to be read in {assignment.booth!r}, which is not among the "
            "station's booths. Add it there, or choose one of them.",
        )


def _check_moments(assignment: Assignment, programme: Programme) -> None:
    reads_at = assignment.reads_at
    if reads_at is not None and reads_at.tzinfo is None:
        raise Invalid(
            "planning/no-zone",
            f"The time at which {programme.title} is read names no zone. Write it like "
            "2026-11-25T14:30:00+00:00.",
        )
    days = (assignment.issue_date, assignment.air_date, reads_at and reads_at.date())
    for day in days:
        if day is not None and not FIRST_DAY <= day <= LAST_DAY:
            raise Invalid(
                "planning/day-out-of-reach",
                f"Days are planned from {FIRST_DAY.year} to {LAST_DAY.year}; an assignment of "
                f"{programme.title} says {day.isoformat()}. Choose one in between.",
            )
    if assignment.part is not None and not 1 <= assignment.part <= MOST_PARTS:
        raise Invalid(
            "planning/part-number",
            f"A part is a whole number from 1 to {MOST_PARTS}; an assignment of {programme.title} "
            f"says {assignment.part}. Write it so.",
        )


def _refuse_twice(names: Iterable[str], code: str, sentence: str) -> None:
    for name, count in Counter(names).items():
        if count > 1:
            raise Invalid(code, sentence.format(name=name, count=count))
