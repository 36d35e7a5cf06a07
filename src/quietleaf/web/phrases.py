"""Sentences of the pages that are made from what there is: lengths, dates, standings, counts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from quietleaf.delivery.report_words import KEPT, begun, counted, length, size_words
from quietleaf.planning.words import MONTHS, WEEKDAYS, names_in_words, written_date
from quietleaf.web.texts import FILE_KINDS
from quietleaf.work.finishings import SeenFinishing
from quietleaf.work.see_day import CAME_IN_MOST, CameIn, SeenDay, SeenMessage, SeenSlot
from quietleaf.work.see_disk import DiskSeen
from quietleaf.work.see_reading import MadeFile, SeenReading
from quietleaf.work.summary import Summary

DOT = f"{KEPT}· "
"""Between facts on one line; it stays with the fact before it."""

NAMED_HOLES = 3
"""Holes that are named by their times; more are counted."""
_SOME = (
    ("ready", "is ready", "are ready"),
    ("attention", "needs the desk", "need the desk"),
    ("open", "is not read yet", "are not read yet"),
    ("unread", "was not read", "were not read"),
)
_ONE_OR_ALL = {
    "ready": ("it is ready", "all are ready"),
    "attention": ("it needs the desk", "all need the desk"),
    "open": ("it is not read yet", "none is read yet"),
    "unread": ("it was not read", "none was read"),
    "hole": ("nobody reads it yet", "nobody reads any of them yet"),
}

Mark = Literal["", "fix", "hear", "note"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How far a slot or a reading has got: its words, and the kind of rule under them."""

    words: str
    mark: Mark = ""


def disk_words(disk: DiskSeen) -> str:
    """Say for how long the disk has room.

    Examples
    --------
    >>> disk_words(DiskSeen(hours=15.4, days=9.6)).replace(KEPT, " ").partition(". ")[0]
    'The disk has room for about 15 hours of reading, or nine days as it goes now'
    >>> disk_words(DiskSeen(hours=13.2, days=92.0)).replace(KEPT, " ")
    'The disk has room for about 13 hours of reading, or three months as it goes now.'
    """
    hours = int(disk.hours)
    room = f"about {counted(hours, 'hour', 'hours')}" if hours else "less than an hour"
    days = "" if disk.days is None else f", or {_days_words(disk.days)} as it goes now"
    told = f"The disk has room for {room} of reading{days}."
    if not disk.is_short:
        return told
    return f"{told} Tell the steward: what was recorded is safe, and new readings need room."


def _days_words(days: float) -> str:
    if days >= 3653.0:
        return "more than ten years"
    for unit, one, more in ((365.25, "year", "years"), (30.44, "month", "months")):
        if days >= 2 * unit:
            return counted(int(days / unit), one, more)
    return counted(int(days), "day", "days")


def list_words(page: int, pages: int, count: int) -> str:
    """Say which page of a list this is.

    Examples
    --------
    >>> list_words(2, 8, 400)
    'Page 2 of 8; 400 in all'
    """
    return f"Page {page} of {pages}; {count} in all"


def roughly(time_s: float) -> str:
    """Write a difference of lengths as people say it.

    Examples
    --------
    >>> roughly(0.2), roughly(12.2), roughly(61.0), roughly(184.0)
    ('one second', 'twelve seconds', 'one minute', 'three minutes')
    """
    if time_s < 55.0:
        return counted(max(1, round(time_s)), "second", "seconds")
    return counted(max(1, round(time_s / 60.0)), "minute", "minutes")


def short_date(day: date) -> str:
    """Write a day as a heading has it.

    Examples
    --------
    >>> short_date(date(2026, 11, 25))
    'Wednesday 25 November'
    """
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]}"


def day_beside(day: date, shown: date) -> str:
    """Write the day before or after the one that is shown; its month where that is another.

    Examples
    --------
    >>> day_beside(date(2026, 12, 1), date(2026, 11, 30))
    'Tuesday 1 December'
    >>> day_beside(date(2026, 12, 2), date(2026, 12, 1))
    'Wednesday 2'
    """
    return short_date(day) if day.month != shown.month else f"{WEEKDAYS[day.weekday()]} {day.day}"


def time_of_day(moment: datetime) -> str:
    """Write a time of day: ``18:00``."""
    return f"{moment:%H:%M}"


def until(moment: datetime) -> str:
    """Name the end of a slot, under its beginning."""
    return f"to {time_of_day(moment)}"


def open_reading(of: Summary, newest: bool) -> tuple[str, str]:
    """Word the way to a reading's page: what is seen, and what is heard after it."""
    mark = standing(of).mark
    if not newest:
        return "An earlier reading", f"of {of.programme_title}"
    if of.verdict is None or mark == "fix":
        return "See it", f"for {of.programme_title}"
    if mark == "hear" and of.things_to_hear and of.review != "whole":
        return "Hear it" if of.things_to_hear == 1 else "Hear them", f"in {of.programme_title}"
    return "Listen", f"to {of.programme_title}"


def asks(slot: SeenSlot) -> bool:
    """Say whether a slot asks somebody to do something before its time is over."""
    return not slot.is_over and bool(slot.readings) and slot_standing(slot).mark in ("fix", "hear")


def standing(of: Summary) -> Standing:
    """Say how far a reading has got."""
    if of.state == "in the booth":
        return Standing(words=f"In the booth, {length(of.duration_s)} read", mark="note")
    if of.state == "returned":
        return Standing(words="Returned to its reader", mark="note")
    if of.state in ("cleared", "placed", "aired"):
        return Standing(words=begun(of.state))
    if of.verdict is None:
        return Standing(words="Handed in, not finished yet", mark="note")
    if of.verdict == "read again":
        return Standing(words="To be read again", mark="fix")
    if of.misfit_s:
        return Standing(words=begun(f"{roughly(abs(of.misfit_s))} {_too(of)}"), mark="fix")
    if of.verdict == "needs an ear":
        if of.review == "whole":
            return Standing(words="To be heard whole", mark="hear")
        if of.review == "none":
            return Standing(words="Cannot go out as it is", mark="hear")
        things = counted(of.things_to_hear, "thing to hear", "things to hear")
        return Standing(words=begun(things) if of.things_to_hear else "Needs an ear", mark="hear")
    return Standing(words="Ready for the air")


def late(slot: SeenSlot) -> str:
    """Say what should be in, or begun, by now."""
    if not slot.readings and slot.reads_at is not None and slot.reads_at < slot.starts_at:
        return f"Late: to be read at {time_of_day(slot.reads_at)}"
    if slot.readings and slot.readings[0].state == "in the booth":
        return f"Late: begun, {length(slot.readings[0].duration_s)} read"
    return "Late: not in yet"


def slot_standing(slot: SeenSlot) -> Standing:
    """Say how far a slot has got."""
    if slot.writer is not None:
        where = f"In {slot.writer.where}" if slot.writer.where else "At home"
        so_far = length(slot.readings[0].duration_s)
        return Standing(words=f"{where} just now, {so_far} so far", mark="note")
    if slot.is_late:
        return Standing(words=late(slot), mark="fix")
    if slot.readings:
        newest = slot.readings[0]
        if newest.state != "in the booth":
            return standing(newest)
        if slot.has_begun and not slot.is_over:
            return Standing(words="On the air now, and not handed in", mark="fix")
        return Standing(words=f"Begun, {length(newest.duration_s)} read", mark="note")
    if not slot.readers:
        return Standing(words=hole(slot))
    if slot.has_begun and not slot.is_over:
        return Standing(words="On the air now, and not read", mark="fix")
    return Standing(words="Was not read" if slot.is_over else "Not read yet", mark="note")


def slot_news(slot: SeenSlot) -> str:
    """Say how far a slot has got, so that it changes only when there is something to tell."""
    title = slot.programme_title
    if slot.writer is None:
        if slot.readings and slot.readings[0].state == "in the booth" and not slot.is_late:
            return f"{title}: begun, and nobody is reading just now."
        return f"{title}: {slot_standing(slot).words.rstrip('.')}."
    return f"{title}: {slot.writer.reader} is reading just now."


def hole(slot: SeenSlot) -> str:
    """Say that nobody reads a slot."""
    if slot.has_begun and not slot.is_over:
        return "On the air now, and nobody read this."
    return "Nobody read this." if slot.is_over else "Nobody reads this yet."


def message_words(message: SeenMessage) -> str:
    """Say what the desk is told."""
    where = message.where or "A reader at home"
    return {
        "help": f"{where} asks for help.",
        "paper-missing": "A paper did not come.",
        "issue-differs": "Another issue was in the reader’s hand.",
        "remark": "A remark for the desk.",
        "late-sound": "Sound came late, and lies as a reading of its own.",
        "taken": "Somebody took what was short.",
    }[message.kind]


def message_facts(message: SeenMessage) -> str:
    """Say from whom a message comes, and about what."""
    told = ", ".join(part for part in (message.reader, message.programme_title) if part)
    where = f", {message.where}" if message.where and message.kind != "help" else ""
    return f"{told}{where}."


def finishing_step(seen: SeenFinishing) -> str:
    """Say what is being done with one of the readings that are being finished."""
    return "waits for its turn." if seen.before else f"{seen.step or 'begun'}."


def finishing_news(seen: SeenFinishing) -> str:
    """Say that a reading is being finished, so that it changes only when there is news."""
    return f"{seen.title} is being finished."


def calls(slot: SeenSlot, messages: Sequence[SeenMessage]) -> list[SeenMessage]:
    """Give the calls for help about a slot."""
    return [
        message
        for message in messages
        if message.kind == "help"
        and message.assignment_key is not None
        and message.assignment_key == slot.assignment_key
    ]


def for_programme(slot: SeenSlot) -> str:
    """End a link's name for those who hear the page."""
    return f"for {slot.programme_title}, {time_of_day(slot.starts_at)}"


def verdict(of: Summary) -> str:
    """Say in a sentence what is to be done with a reading."""
    if of.state == "in the booth":
        return "This is being read."
    if of.state == "returned":
        return "This went back to its reader."
    if of.verdict is None:
        return "This is handed in, and not finished yet."
    if of.verdict == "read again":
        return "This should be read again."
    if of.verdict == "needs an ear":
        if of.review == "whole":
            return "To be heard whole before this is cleared."
        if of.review == "none":
            return "This cannot go out as it is."
        if of.things_to_hear:
            things = counted(of.things_to_hear, "thing", "things")
            return begun(f"{things} to hear before this is cleared.")
        return "Somebody should listen before this is cleared."
    return "Ready for the air." if not of.misfit_s else "This does not fit its window."


def fit(of: SeenReading) -> str:
    """Say how a finished reading fits its window; empty where length is free."""
    if of.report is None or of.report.window is None:
        return ""
    if not of.summary.misfit_s:
        return f"fits its window of {of.report.window}"
    by = roughly(abs(of.summary.misfit_s))
    return f"{by} {_too(of.summary)} for its window of {of.report.window}"


def reading_facts(of: SeenReading) -> str:
    """Sum up what a reading is, but for the publication's title."""
    facts = [
        f"part {of.part}" if of.part is not None else issue(of.summary.issue_date),
        f"read by {names_in_words(of.summary.readers)}",
    ]
    if of.airs_at is not None:
        same = of.part is None and of.airs_at.date() == of.summary.issue_date
        day = "that day" if same else f"on {short_date(of.airs_at.date())}"
        facts.append(f"airs {day} at {time_of_day(of.airs_at)}")
    facts.append(length(of.summary.duration_s))
    if fitting := fit(of):
        facts[-1] = f"{facts[-1]}, {fitting}"
    return DOT.join(facts)


def player_name(of: Summary) -> str:
    """Name the player for those who hear the page."""
    return f"{of.programme_title}, {issue(of.issue_date)}"


def file_line(of: MadeFile) -> str:
    """Say what a file is and how large."""
    kind = FILE_KINDS.get(of.kind) or f"For {of.kind.partition(':')[2]}"
    return f"{kind}, {size_words(of.bytes)}"


def issue(day: date, shown: date | None = None) -> str:
    """Name an issue by its date; with its year unless it is the shown day's."""
    return f"issue of {short_date(day) if shown and day.year == shown.year else written_date(day)}"


def slot_facts(slot: SeenSlot, shown: date) -> str:
    """Sum up what is read in a slot, but for the publication's title."""
    facts = []
    if slot.part is not None:
        facts.append(f"part {slot.part}")
    elif slot.issue_date is not None and slot.issue_date != shown:
        facts.append(issue(slot.issue_date, shown))
    if slot.readers:
        facts.append(names_in_words(slot.readers))
    if slot.readings:
        facts.append(length(slot.readings[0].duration_s))
    return DOT.join(facts)


def day_in_words(slots: Sequence[SeenSlot]) -> str:
    """Sum up a day: what is ready, what asks for somebody, and where nobody reads."""
    if not slots:
        return "Nothing is on the air this day."
    stands = Counter(_group(slot) for slot in slots)
    whole = begun(counted(len(slots), "programme", "programmes"))
    if len(stands) == 1:
        (group,) = stands
        return f"{whole}; {_ONE_OR_ALL[group][len(slots) > 1]}."
    parts = [counted(stands[group], one, more) for group, one, more in _SOME if stands[group]]
    holes = [time_of_day(slot.starts_at) for slot in slots if _group(slot) == "hole"]
    told = f"{whole}: {names_in_words(parts)}"
    if not holes:
        return f"{told}."
    many = len(holes) > NAMED_HOLES
    where = counted(len(holes), "", "of them") if many else f"at{KEPT}{names_in_words(holes)}"
    return f"{told}, and {where} nobody reads yet."


def came_in_words(day: SeenDay) -> str:
    """Say what was handed in since one last looked.

    The moment is left out where that was today: then it is the visit before this one.
    """
    assert day.since is not None, "without a look before there is nothing to tell"
    on = "" if day.since.date() == day.today else f" on {short_date(day.since.date())}"
    when = f"You looked{on} at {time_of_day(day.since)}."
    if not day.came_in:
        return f"{when} Nothing came in since."
    more = "or more " if len(day.came_in) == CAME_IN_MOST else ""
    count = counted(len(day.came_in), "reading", "readings")
    return f"{when} {begun(count)} {more}came in since."


def came_in_facts(one: CameIn, day: SeenDay) -> str:
    """Say of a reading that came in by whom, when, and how it stands."""
    on = "" if one.at.date() == day.today else f"{short_date(one.at.date())}, "
    stands = standing(one.summary).words
    who = names_in_words(one.summary.readers)
    return DOT.join((who, f"in at {on}{time_of_day(one.at)}", stands))


def day_title(day: date, today: date) -> str:
    """Head a column of programmes.

    Examples
    --------
    >>> day_title(date(2026, 11, 26), date(2026, 11, 25))
    'Tomorrow, Thursday 26 November'
    >>> day_title(date(2026, 11, 25), date(2026, 11, 25))
    'Today'
    """
    if day == today:
        return "Today"
    return f"Tomorrow, {short_date(day)}" if (day - today).days == 1 else "Programmes"


def nearest(day: date) -> str:
    """Word the way from a day without assignments to one that has some."""
    return f"To {written_date(day)}, the nearest day with assignments"


def in_the_log(request: str) -> str:
    """Say by which number the station's log tells of a fault."""
    return f"In the station’s log it has the number {request}."


def own_addresses(names: Sequence[str]) -> str:
    """Say under which names this station answers."""
    return (
        f"This station answers under {names_in_words(names)} alone, so that no page elsewhere can "
        "ask for its readings. Open it under one of these names."
    )


def words_of_now(moment: datetime) -> str:
    """Name the present moment on the line across the column."""
    return f"now, {time_of_day(moment)}"


def _group(slot: SeenSlot) -> str:
    if not slot.readers:
        return "unread" if slot.is_over else "hole"
    if slot.is_late and slot.writer is None:
        return "attention"
    if not slot.readings:
        return "unread" if slot.is_over else "open"
    mark = slot_standing(slot).mark
    if mark == "note" and slot.writer is None and slot.readings[0].state != "in the booth":
        return "attention"  # handed in: the next step is the desk's
    return {"": "ready", "note": "open", "fix": "attention", "hear": "attention"}[mark]


def _too(of: Summary) -> str:
    return "too long" if of.misfit_s > 0 else "too short"
