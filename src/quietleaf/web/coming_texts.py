"""The words of coming in: booths, names, personal links, today's reading, the paper."""

from __future__ import annotations

from calendar import monthrange
from datetime import date, datetime

from quietleaf.delivery.report_words import KEPT, begun, counted, length
from quietleaf.planning.booth import Booth
from quietleaf.planning.message import Message
from quietleaf.planning.publication import PublicationKind
from quietleaf.planning.words import MONTHS, WEEKDAYS, names_in_words
from quietleaf.storage.index_rows import ReadingRow
from quietleaf.units import Window
from quietleaf.web import sent_back_texts
from quietleaf.web.phrases import DOT, time_of_day
from quietleaf.work.coming_in import LeftOff, SeenAssignment, SeenPaper, SeenShort, SeenToday
from quietleaf.work.enrol_booth import SeenEnrolment
from quietleaf.work.personal_links import PersonalLink
from quietleaf.work.see_reader import SeenBefore, SeenReader

# Booth and names.
WHO_ARE_YOU = "Who is reading?"
READ_TODAY = "They read today"
EVERYBODY = "Everybody else"
ALL_READERS = "All readers"
FIND_NAME = "Find your name"
FIND_NAME_HINT = "Type its first letters, or choose it from the list."
NO_NAME = "Choose a name"
THIS_IS_ME = "This is me"
NEW_HERE = "You are new here, or would like to practise?"
PRACTISE = "Practise first"
NO_BOOTH_TITLE = "This browser is no booth yet"
NO_BOOTH = (
    "Readers come in at one of the station’s booths, or from home by a personal link.",
    "At the station: ask the desk to make this browser a booth. It takes a minute.",
    "At home: open the link that the desk sent you. If you have none, ask for one.",
)
TRY_IT = "Try it with your own voice"
ENROL_HINT = (
    "Whoever reads here then chooses their name. The browser that was this booth before is none "
    "from then on."
)
FEW_NAMES = 12
"""So many names are all shown as buttons; beyond, those of others are found in a list."""

# From home.
COME_IN = "Come in"
LINK_HINT = "This link is yours alone. Please do not pass it on."

# Nobody sits here.
NOT_CHOSEN = "Choose"
NO_SITTING_TITLE = "Please come in first"
TO_BOOTH = "To the names"
LEFT_TITLE = "Goodbye, and thank you"
LEFT = "You have left the stand. To come in again, open your personal link."
REFUSED_TITLE = "That does not go just now"
TO_TODAY = "Back to what you read today"

# Today.
TODAY_TITLE = "Today you read this"
NEXT_TITLE = "You read this next"
ELSE_TITLE = "What else can be read"
NOTHING_TITLE = "Nothing is planned for you today"
NOTHING_SHORT = "Nobody is short of a reader today or tomorrow either. Thank you for coming."
SHORT_LEAD = "If you take one, the desk is told."
TIME_FOR_MORE = "You have time for more? Nobody reads these yet"
READ_THIS = "Read this"
GO_ON = "Go on reading"
ALSO = "Also yours"
SHORT_TITLE = "Nobody reads these yet"
TAKE_THIS = "I take this one"
LEFT_OFF = "Left off last time"
RECAP = "The story so far"
OPENING_WORDS = "Opening words"
CLOSING_WORDS = "Closing words"
WORDS_OF = "The words to say"
BEFORE = "What became of your earlier readings"
BECAME = "What you read lately"
ASK_FOR_HELP = "Ask for help"
HAS_COME = "It has come after all"
LEAVE = "Leave"
OTHER_WAYS = "What else you can do"
MISSED = "Its time on the air is over. Ask the desk whether it is still wanted before you read it."
ANY_LENGTH = "any length: take the time it needs"
SEEN_BY_DESK = "The desk has seen it."

# The paper.
YES = "Yes"
SAYS_OTHER = "No, it says something else"
NOT_THIS = "No, ask the desk"
TELL_THE_DESK = "Tell the desk"
WHAT_DOES_IT_SAY = "What does your paper say?"
ANOTHER_DATE = "Another date"
DAY, MONTH = "Day", "Month"
DATE_ON_PAPER = "The date on the paper"
CHOOSE_DATE = "Choose the date that your paper says, or its day and month at the end."
_DAYS_CHOSEN = tuple(str(number) for number in range(1, 32))
_MONTHS_CHOSEN = tuple(str(number) for number in range(1, 13))
_LEAP_YEAR = 2024
GO_ON_STEP = "Go on"
LOOK_AGAIN = "Look at the paper again"
READ_ISSUE = "Read this issue"
READ_ISSUE_HINT = "Opening and closing words then say this date, and the desk is told."
ASK_DESK = "Ask the desk"
BEGUN_ISSUE = (
    "This reading has been begun, and its opening words name the issue. Another issue cannot be "
    "put in its place."
)
BACK = "Back"

# Before.
BEFORE_TITLE = "Your earlier readings"
NOTHING_BEFORE = "Nothing has been handed in yet. The first one is always the hardest."
RECEIPT = "Receipt"

# At the desk.
BOOTH_ADDRESS = "Make an address"
BOOTH_ADDRESS_HINT = (
    "Open the address in the browser that is to be this booth. It works once, within an hour. "
    "Until then the booth stays as it is."
)
ADDRESS = "Address"
SHOWN_ONCE = "It is shown here this once. Copy it now."
THIS_MACHINE = (
    "127.0.0.1 and localhost mean this computer. For a booth or a reader elsewhere put the "
    "station’s own name and port in their place, as “quietleaf run --tls” shows them."
)
END_BOOTH = "End it: no browser is this booth then"
OPEN_HERE = "Make this very browser the booth"
LINK_TITLE = "Personal links"
LINK_WHAT = (
    "By a personal link a reader comes in from home. It opens what this reader reads, and nothing "
    "else; it ends by itself, and you can revoke it."
)
LINK_DAYS = "Days that it is good for"
MAKE_LINK = "Make a link"
LINKS_THERE = "Links that were made"
NO_LINKS = "None yet."
REVOKE = "Revoke"
NEEDED_DAYS = "Days are written as a whole number, like 14."
TO_PLAN = "To the plan"


def reads(titles: tuple[str, ...]) -> str:
    """Say under a name what its reader reads today."""
    return names_in_words(titles)


def no_such_day(day_of: str, month_of: str) -> str:
    """Say that a month never has a day that was chosen; nothing where it may have it.

    Examples
    --------
    >>> no_such_day("31", "2")
    'February has no day 31. Look at the date again, and choose the day and month that it says.'
    >>> no_such_day("29", "2"), no_such_day("31", "")
    ('', '')
    """
    if not (day_of in _DAYS_CHOSEN and month_of in _MONTHS_CHOSEN):
        return ""
    if int(day_of) <= monthrange(_LEAP_YEAR, int(month_of))[1]:
        return ""
    return (
        f"{MONTHS[int(month_of) - 1]} has no day {day_of}. Look at the date again, and choose the "
        "day and month that it says."
    )


def make_booth(booth: Booth) -> str:
    """Ask whether this browser is to be a booth."""
    return f"Make this browser {booth.name}"


def welcome(reader: str) -> str:
    """Greet who comes in by a link."""
    return f"Welcome, {reader}"


def who_where(seen: SeenToday) -> str:
    """Name who sits here, and where."""
    return DOT.join(part for part in (seen.reader, seen.booth_name) if part)


def not_me(reader: str) -> str:
    """Name the way out for somebody who sits before another one's page."""
    return f"I am not {reader}"


def today_title(seen: SeenToday, missing: str | None) -> str:
    """Head the page of today."""
    left = [each for each in seen.mine if each.to_read.assignment.key != missing]
    if not left:
        return NOTHING_TITLE if missing is None else ELSE_TITLE
    if missing is not None:
        return ELSE_TITLE
    first = left[0].to_read
    if left[0].sent_back:
        return sent_back_texts.PLEASE
    return NEXT_TITLE if first.when == "soon" and not first.begun else TODAY_TITLE


def issue(each: SeenAssignment | SeenShort, now: datetime) -> str:
    """Name what is read from: a part of a serial, loose pages, or an issue."""
    if isinstance(each, SeenAssignment):
        issue_date, part = each.to_read.assignment.issue_date, each.to_read.assignment.part
    else:
        issue_date = each.issue_date
        part = None if each.short.assignment is None else each.short.assignment.part
    if part is not None:
        return f"{each.publication}, part {part}"
    if not each.dated:
        return f"{each.publication}, {day(issue_date, now.date())}"
    return f"{each.publication} of {day(issue_date, now.date())}"


def facts(each: SeenAssignment, reader: str, now: datetime) -> str:
    """Sum up what is read, with whom, and when it airs."""
    told = [issue(each, now)]
    if each.to_read.airs_at is not None:
        told.append(f"on the air {moment(each.to_read.airs_at, now)}")
    reads_at = each.to_read.assignment.reads_at
    if reads_at is not None:
        local = reads_at.astimezone(now.tzinfo)
        if local.date() != now.date():
            told.append(f"to be read {moment(local, now)}")
    others = [name for name in each.to_read.assignment.readers if name != reader]
    if others:
        told.append(f"together with {names_in_words(others)}")
    return DOT.join(told)


def short_facts(each: SeenShort, now: datetime) -> str:
    """Sum up what nobody reads yet."""
    return DOT.join((issue(each, now), f"on the air {moment(each.short.airs_at, now)}"))


def how_long(each: SeenAssignment | SeenShort) -> str:
    """Say how long the reading is to be, and what that is in words.

    The number is rounded: it is a measure for marking the paper, not a promise.
    """
    if each.window is None or each.words is None:
        return begun(ANY_LENGTH) + "."
    at_pace = " at your pace" if isinstance(each, SeenAssignment) and each.pace_measured else ""
    return f"{begun(window_words(each.window))} to read: about {each.words:,} words{at_pace}."


def window_words(window: Window) -> str:
    """Name a window as people say it.

    Examples
    --------
    >>> window_words(Window(shortest_s=3360.0, longest_s=3480.0))
    '56 to 58 minutes'
    >>> window_words(Window(shortest_s=225.0, longest_s=285.0))
    '3:45 to 4:45 minutes'
    """
    if window.shortest_s % 60 or window.longest_s % 60:
        return f"{window} minutes"
    shortest, longest = round(window.shortest_s / 60), round(window.longest_s / 60)
    if shortest == longest:
        return counted(shortest, "minute", "minutes")
    return f"{shortest} to {longest} minutes"


def recorded(each: SeenAssignment) -> str:
    """Say what is there already of a reading that was begun."""
    assert each.recorded_s is not None
    return f"You have {length(each.recorded_s)} of it already. It goes on from there."


def left_off(left: LeftOff, now: datetime) -> str:
    """Say where the reading before this one stopped."""
    page = f"page {left.place_page}" if left.place_page else ""
    headline = f"“{left.place_headline}”" if left.place_headline else ""
    where = ", ".join(part for part in (page, headline) if part)
    of = f"part {left.part}" if left.part is not None else day(left.issue_date, now.date())
    return f"{begun(where)} ({of})" if where else ""


def paper_did_not_come(kind: PublicationKind) -> str:
    """Name the way to tell the desk that what is to be read is not there."""
    return {
        "newspaper": "My paper did not come",
        "magazine": "My magazine did not come",
        "book": "The book is not here",
        "cuttings": "The pages are not here",
    }[kind]


def told_desk(message: Message) -> str:
    """Say what the desk has been told."""
    return {
        "help": "The desk knows that you ask for help. Somebody will come, or call.",
        "paper-missing": "The desk knows that it did not come.",
        "issue-differs": "The desk has your question. Please wait for an answer before you read.",
        "taken": "The desk knows that you read this.",
        "remark": "The desk has your remark.",
        "late-sound": "The desk knows.",
    }[message.kind]


def paper_question(seen: SeenPaper) -> str:
    """Ask whether the right thing lies before the reader."""
    each = seen.seen
    assignment = each.to_read.assignment
    if each.dated:
        thing = "magazine" if each.publication_kind == "magazine" else "paper"
        return f"Does your {thing} say {day(assignment.issue_date, seen.today)}?"
    if each.publication_kind == "cuttings":
        return f"Are these the pages of {day(assignment.issue_date, seen.today)}?"
    return f"Is this the book: {each.publication}?"


def paper_hint(seen: SeenPaper) -> str:
    """Say where to look."""
    each = seen.seen
    assignment = each.to_read.assignment
    if each.dated:
        return (
            f"{each.publication}, for {each.to_read.programme.title}. The date is at the top of "
            "the front page."
        )
    if each.publication_kind == "cuttings":
        return (
            f"For {each.to_read.programme.title}. The desk wrote the date on them when they came."
        )
    if assignment.part is not None:
        return f"Part {assignment.part}, for {each.to_read.programme.title}."
    return f"For {each.to_read.programme.title}."


def paper_says(seen: SeenPaper) -> str:
    """Repeat what the paper says, where that is not what is planned."""
    assert seen.says is not None
    thing = "magazine" if seen.seen.publication_kind == "magazine" else "paper"
    return f"Your {thing} says {day(seen.says, seen.today)}"


def planned_issue(seen: SeenPaper) -> str:
    """Say which issue is planned."""
    each = seen.seen
    planned = day(each.to_read.assignment.issue_date, seen.today)
    return f"For {each.to_read.programme.title} the issue of {planned} is planned."


def read_before(row: ReadingRow, today: date) -> str:
    """Say that an issue was read for the programme already."""
    aired = ""
    if row.air_date is not None:
        was = "was" if row.air_date < today else "is"
        aired = f" It {was} for the air on {day(row.air_date, today)}."
    return (
        f"The issue of {day(row.issue_date, today)} has been read for {row.programme_title} "
        f"already, by {names_in_words(row.readers)}.{aired}"
    )


def before_lead(seen: SeenReader) -> str:
    """Thank a reader for all that they have read."""
    if not seen.handed_in:
        return NOTHING_BEFORE
    minutes = round(seen.total_s / 60)
    long = (
        counted(max(1, minutes), "minute", "minutes")
        if minutes < 90
        else counted(round(minutes / 60), "hour", "hours")
    )
    return (
        f"You have handed in {counted(seen.handed_in, 'reading', 'readings')}, {long} in all, for "
        "everyone who cannot read print. Thank you."
    )


def before_facts(each: SeenBefore, today: date) -> str:
    """Name an earlier reading: what it was read from, and how long it is."""
    return DOT.join((before_source(each, today), length(each.duration_s)))


def before_source(each: SeenBefore, today: date) -> str:
    """Name what an earlier reading was read from."""
    if each.part is not None:
        return f"{each.publication}, part {each.part}"
    return f"{each.publication} of {day(each.issue_date, today)}"


def became(each: SeenBefore, today: date) -> str:
    """Say in words what became of a reading."""
    on = "" if each.air_date is None else f" on {day(each.air_date, today)}"
    at = "" if each.airs_at is None else f" at {time_of_day(each.airs_at)}"
    again = " again" if each.was_returned else ""
    handed_in = f"It is handed in{again} and safe."
    match each.state:
        case "returned":
            return "The desk asks you to mend something. You find it under what you read today."
        case "cleared" | "placed" if each.is_over or each.air_date is None:
            return "It has been heard and is cleared. Thank you."
        case "cleared" | "placed":
            return f"It has been heard and is cleared. It is on the air{on}{at}. Thank you."
        case "aired":
            return f"It was on the air{on}{at}. Thank you."
        case _ if each.air_date is not None and not each.is_over:
            return f"{handed_in} It is meant for the air{on}{at}. Thank you."
        case _:
            return f"{handed_in} Thank you."


def enrolment(seen: SeenEnrolment, zone_now: datetime) -> str:
    """Say whether a browser is the booth."""
    if seen.since is None:
        return f"No browser is {seen.booth.name} yet."
    since = seen.since.astimezone(zone_now.tzinfo)
    return (
        f"A browser has been {seen.booth.name} since {day(since.date(), zone_now.date())}, "
        f"{time_of_day(since)}."
    )


def links_of(reader: str) -> str:
    """Head a reader's links."""
    return f"{LINK_TITLE}: {reader}"


def link_standing(link: PersonalLink, zone_now: datetime) -> str:
    """Say how a link stands."""
    made = day(link.made_at.astimezone(zone_now.tzinfo).date(), zone_now.date())
    ends = day(link.expires_at.astimezone(zone_now.tzinfo).date(), zone_now.date())
    if link.is_live:
        return f"Made on {made}, good until {ends}"
    if link.ended_at is not None:
        return f"Made on {made}, revoked"
    return f"Made on {made}, ended on {ends}"


def revoke_name(link: PersonalLink, zone_now: datetime) -> str:
    """Say which link the button beside it revokes, for those who hear the page."""
    made = day(link.made_at.astimezone(zone_now.tzinfo).date(), zone_now.date())
    return f"the link of {made}"


def day(of: date, today: date) -> str:
    """Write a date with its weekday; its year where it is another than this one.

    Examples
    --------
    >>> day(date(2026, 11, 25), date(2026, 11, 26)), day(date(2025, 1, 2), date(2026, 11, 26))
    ('Wednesday 25 November', 'Thursday 2 January 2025')
    """
    words = f"{WEEKDAYS[of.weekday()]} {of.day} {MONTHS[of.month - 1]}"
    return words if of.year == today.year else f"{words} {of.year}"


def moment(at: datetime, now: datetime) -> str:
    """Write when something is, as people say it.

    Examples
    --------
    >>> now = datetime(2026, 11, 25, 14, 20)
    >>> moment(datetime(2026, 11, 26, 19, 0), now).replace(KEPT, " ")
    'tomorrow at 19:00'
    """
    near = {0: "today", 1: "tomorrow"}
    days = (at.date() - now.date()).days
    return f"{near.get(days, 'on ' + day(at.date(), now.date()))} at{KEPT}{time_of_day(at)}"
