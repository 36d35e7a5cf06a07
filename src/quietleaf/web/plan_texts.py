"""The words of the desk's plan."""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo

from quietleaf.delivery.report_words import counted, moment_words
from quietleaf.planning.programme import Programme
from quietleaf.planning.words import MONTHS, WEEKDAYS, names_in_words
from quietleaf.storage.tokens import Token
from quietleaf.units import clock
from quietleaf.work.see_plan import SeenAssignment

PLAN = "The plan"
LEAD = "Who reads what, from which paper, and when."
WAYS = "More pages"
TO_DAY = "Today’s programmes"
TO_PLAN = "The plan"
TO_STATION = "The station itself"
TO_ACCOUNTS = "Accounts"
EXAMPLE = "This is the example station, and everything in it is invented."
EXAMPLE_DO = "Throw the example away and work with your own"

COMING = "Coming assignments"
NOTHING_COMES = "Nothing is assigned from today on."
ADD_ASSIGNMENT = "Assign a reading"
PROGRAMME_FIRST = "A reading is assigned to a programme; make one first."
PAGES = "Pages of coming assignments"
EARLIER_PAGE = "Sooner"
LATER_PAGE = "Later"
PROGRAMMES = "Programmes"
ADD_PROGRAMME = "Add a programme"
PUBLICATION_FIRST = "A programme is read from a publication; make one first."
PUBLICATIONS = "Publications"
ADD_PUBLICATION = "Add a publication"
READERS = "Readers"
ADD_READER = "Add a reader"
BOOTHS = "Booths"
ADD_BOOTH = "Add a booth"
NONE_YET = "None yet."

TITLES_NEW = {
    "programmes": "A new programme",
    "publications": "A new publication",
    "readers": "A new reader",
    "booths": "A new booth",
    "assignments": "A new assignment",
}
KEEP = "Keep it"
KEPT = "It is kept."
REFUSED = "It is not kept yet. What is needed is said at its place below."
REMOVE = "Remove from the plan"
REMOVE_ASK = "It goes out of the plan for good. This is possible while nothing hangs on it."
REMOVE_READER_ASK = (
    "They are offered for nothing any more, and their links end. Where they have read they stay "
    "named. To have them back, add the name again."
)
RETIRED = "No longer read here"
REMOVE_DO = "Yes, remove it"
REMOVED = "It is removed."

TITLE = "Title"
NAME = "Name"
PUBLICATION = "Publication"
CHOOSE = "Choose one"
SLOT = "Length of its time on the air"
SLOT_HINT = "Minutes, such as 60, or 29:30. Leave it empty for a private request."
WINDOW = "How long a reading may be"
SHORTEST = "At least"
LONGEST = "At most"
WINDOW_HINT = "Minutes, such as 56, or 56:30. An hour left empty is read to 56 to 58 minutes."
ON_AIR = "Days on the air"
AIR_TIMES = "Times on the air"
AIR_TIMES_HINT = "On each of those days, by the station’s clock: 19:00, or several: 9:30, 23:45."
SERIAL = "A serial: each reading goes on from the one before"
REVIEW = "What is heard before it goes out"
REVIEW_HINT = (
    "By somebody at the desk. What must not go out, such as a reading too long for its time, is "
    "held in any case."
)
REVIEWS = {
    "none": "Nothing: it goes out without review",
    "things to hear": "Things to hear: what was found in it",
    "whole": "The whole of it",
}
OTHER_REVIEWER = "Somebody other than its reader decides about a reading and clears it"
WORDS = "Opening and closing words"
OPENING = "Opening words"
CLOSING = "Closing words"
WORDS_HINT = "Written out for each reading; the blanks are filled from its assignment."
BLANKS = "Blanks that you can use"
BLANK_MEANS = {
    "service": "the name of the service",
    "programme": "the title of the programme",
    "publication": "what it is read from",
    "issue_date": "the date of the issue, with its weekday",
    "reader": "who reads; both names where two do",
    "part": "which part it is; in a serial alone",
}
PREVIEW = "Preview"
PREVIEW_TITLE = "As it will be read"
PREVIEW_HINT = "What the blanks were filled with is underlined. It is not kept yet."
SOME_READER = "the reader’s name"
SOME_TITLE = "this programme"

KIND = "What it is"
KINDS = {
    "newspaper": "A newspaper",
    "magazine": "A magazine",
    "book": "A book",
    "cuttings": "Cuttings, or pages that a listener sent in",
}
APPEARS = "How often it appears"
APPEARANCES = {"daily": "Daily", "weekly": "Weekly", "once": "Once"}
OF_A_BOOK = "Of a book"
AUTHOR = "Author"
PUBLISHER = "Publisher"
YEAR = "Year it came out"

READER_HINT = "As it is spoken in the opening words."
RENAME_HINT = "As it is spoken. Personal links under the name before end when you change it."
LINKS = "Personal links"
LINKS_WHAT = (
    "A personal link lets this reader in from home. It opens their own readings and nothing else."
)
NO_LINKS = "No link opens anything just now."
TO_LINKS = "Make a personal link, or end one"
LINK_MADE = "Made"

BOOTH_HINT = "As people call it, such as Booth 2."
BROWSERS = "Browsers in this booth"
BROWSERS_WHAT = (
    "The computer in the booth is told once that it is this booth. Its page then shows the names "
    "of today’s readers."
)
NO_BROWSERS = "No browser is this booth yet."
ENROL = "Enrol a browser, or end one"
BROWSER_MADE = "Enrolled"
ADDRESS_MADE = "An address not opened yet, made"

PROGRAMME = "Programme"
ISSUE_DATE = "Date of the issue"
ISSUE_DATE_HINT = (
    "As printed. For a book, the day on which this part first airs; for a request, when it came."
)
AIR_DATE = "Date on the air"
AIR_DATE_HINT = "Leave it empty for a programme that never airs, such as a private request."
WHO = "Who reads"
READER = "Reader"
SECOND_READER = "Second reader"
SECOND_READER_HINT = "Where two share the programme."
NOBODY = "Nobody yet"
NO_SECOND = "Nobody"
BOOTH = "Booth"
NO_BOOTH = "At home, or where it does not matter"
WHEN = "When it is read"
READS_DAY = "Day"
READS_TIME = "Time"
READS_HINT = "By the station’s clock. Leave both empty where nothing is agreed."
PART = "Part"
PART_HINT = "Of a serial; elsewhere leave it empty."

STATION = "The station itself"
PLACE = "Place"
PLACE_HINT = "Where the service is; it may stay empty."
ZONE = "Time zone"
ZONE_HINT = "Its name in the world’s table of zones, such as Europe/London."
ORIGINATOR = "Name in sound files"
ORIGINATOR_HINT = "At most 32 plain letters without accents; it goes into every master."
TIDY = "Before they go, readers are asked"
TIDY_HINT = "One thing a line, such as: The headphones hang on their hook."
OWN = "A station of your own"
OWN_WHAT = (
    "The plan begins empty. The example’s readings are moved whole into the folder put-away beside "
    "it, and nothing is destroyed."
)
OWN_FIRST = "Say whose station this is. The plan begins empty; you can change all of this later."
OWN_DO = "Begin my own station"
OWN_DONE = "Your station is here. Begin with a publication, then a programme and its readers."
NO_STATION = (
    "No station is here yet. Begin your own, look round the example first, or just hear yourself."
)
NO_STATION_EXAMPLE = (
    "The example comes with a day of programmes and one reading. Make it with this command in "
    "another window, then load this page again."
)
TRY_OUT = "Try it with your own voice"
PRACTICE = "A first visit: a practice reading"

NEEDS_TITLE = "A title is needed: what is said on the air. Write it here."
NEEDS_NAME = "A name is needed. Write it here."
NEEDS_ZONE = "A time zone is needed, such as Europe/London. Write its name here."
NEEDS_PUBLICATION = "A programme is read from a publication. Choose one."
NEEDS_PROGRAMME = "An assignment is for a programme. Choose one."
NEEDS_ISSUE_DATE = "The date of the issue is needed, as it is printed. Write it here."
NEEDS_CHOICE = "One of these is needed. Choose it."
WINDOW_HALF = "At least and at most belong together. Give both, or neither."
READS_HALF = "Day and time belong together. Give both, or neither."
PART_OUTSIDE_SERIAL = (
    "The blank {part} is for a serial, and this programme is none. Take it out, or make the "
    "programme a serial."
)


def not_a_length(text: str) -> str:
    """Refuse a length."""
    return f"A length is minutes, such as 58, or 56:30; this says {text!r}. Write it so."


def not_a_time(text: str) -> str:
    """Refuse a time of day."""
    return f"A time of day is written like 19:00; this says {text!r}. Write it so."


def not_a_day(text: str) -> str:
    """Refuse a day."""
    return f"A day lies between 1970 and 2199; this says {text!r}. Choose one in between."


def not_a_part(text: str) -> str:
    """Refuse the number of a part."""
    return f"A part is a whole number from 1 on; this says {text!r}. Write it so."


def not_a_year(text: str) -> str:
    """Refuse a year."""
    return f"A year has four figures, such as 2019; this says {text!r}. Write it so."


def airs_words(programme: Programme) -> str:
    """Say when a programme is on the air, and for how long.

    Examples
    --------
    >>> airs_words(Programme(
    ...     key="e", title="E", publication="P", slot_s=1800.0, window=None, opening_words="",
    ...     closing_words="",
    ... ))
    'no fixed day, 30 minutes'
    """
    days = programme.weekdays
    if not days:
        when = "no fixed day"
    elif days == tuple(range(7)):
        when = "every day"
    elif len(days) > 2 and days == tuple(range(days[0], days[-1] + 1)):
        when = f"{WEEKDAYS[days[0]]} to {WEEKDAYS[days[-1]]}"
    else:
        when = names_in_words([WEEKDAYS[day] for day in days])
    times = names_in_words([f"{at:%H:%M}" for at in programme.air_times])
    long = "" if programme.slot_s is None else f", {_slot_words(programme.slot_s)}"
    return f"{when} at {times}{long}" if times else f"{when}{long}"


def day_words(day: date, today: date) -> str:
    """Write a day as the desk says it; its year where that is another."""
    if day == today:
        return "Today"
    year = "" if day.year == today.year else f" {day.year}"
    return f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]}{year}"


def assignment_facts(seen: SeenAssignment, today: date) -> str:
    """Sum up an assignment, but for its programme and its day."""
    one = seen.assignment
    facts = [names_in_words(one.readers) or NOBODY]
    if one.part is not None:
        facts.append(f"part {one.part}")
    elif one.issue_date != one.air_date:
        facts.append(f"issue of {day_words(one.issue_date, today)}")
    if seen.booth_name:
        facts.append(seen.booth_name)
    if seen.reads_at is not None:
        facts.append(f"read {day_words(seen.reads_at.date(), today)} at {seen.reads_at:%H:%M}")
    return " · ".join(facts)


def assignment_day(seen: SeenAssignment, today: date) -> str:
    """Say on which day it airs."""
    day = seen.assignment.air_date
    return "Never on the air" if day is None else day_words(day, today)


def assignment_title(programme: Programme, day: date | None) -> str:
    """Name an assignment."""
    if day is None:
        return programme.title
    return f"{programme.title}, {WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]}"


def page_words(page: int, pages: int, count: int) -> str:
    """Say which page of how many."""
    return f"Page {page} of {pages}; {counted(count, 'assignment', 'assignments')} in all"


def token_words(token: Token, zone: ZoneInfo, made: str) -> str:
    """Say since when something lets a browser in, and until when."""
    words = f"{made} {_moment(token.made_at, zone)}"
    if token.expires_at is None:
        return words
    return f"{words}, open until {_moment(token.expires_at, zone)}"


def _slot_words(slot_s: float) -> str:
    minutes, rest_s = divmod(slot_s, 60.0)
    return clock(slot_s) if rest_s else counted(int(minutes), "minute", "minutes")


def _moment(at: datetime, zone: ZoneInfo) -> str:
    return moment_words(at.astimezone(zone))
