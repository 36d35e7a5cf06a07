"""Words of the stand's page that stand there before its script runs; see texts/stand.js."""

from __future__ import annotations

from quietleaf.planning.words import MONTHS, WEEKDAYS, names_in_words
from quietleaf.units import Window
from quietleaf.web.phrases import DOT, short_date, time_of_day
from quietleaf.work.see_stand import SeenStand

OPENING_WORDS = "Opening words"
CLOSING_WORDS = "Closing words"
RECAP = "Then the story so far"
NO_RECAP = "Nobody wrote down what came before."
LEFT_OFF = "left off at"
PRACTICE = "Practice"
PRACTICE_NOTE = "Nobody else hears this. It is deleted when you leave."
GETTING_READY = "Getting the microphone ready."
NO_SCRIPT = (
    "This page records with a script, and the browser does not run it. Switch scripts on for this "
    "address, or ask the desk."
)
STATE = "How things stand"
CONTROLS = "Controls"
AGAIN = "Again"
UNDO = "Undo"
NEW_ARTICLE = "New article"
HEAR_IT = "Hear it"
ASK_FOR_HELP = "Ask for help"
CHOOSE_ANOTHER = "Choose another microphone"
HAND_IN = "Hand in"
HAND_IN_PRACTICE = "See how it went"
WHAT_IS_HEARD = "What is heard and kept"
NO_CLOCK = "Take the time it needs."

HEADPHONES = "Headphones"
VOLUME = "Headphone volume"
VOLUME_CAUTION = (
    "Start low. Loud headphones harm hearing for good, and what leaks out of them is heard by the "
    "microphone. This page stays under half of full level, whatever is played."
)
KEYS = "Keys and pedal"
KEYS_NOTE = (
    "Every control has a key. None acts while you type, or move a slider, on this page. A foot "
    "pedal that sends a key can begin and hold, or take a sentence again; press it once here and "
    "it is known."
)
KEYS_ON = "Keys that type a character act on this page"
KEYS_FIRST = "All as they were at first"
PEDAL = "Foot pedal: begin, hold, read on"
PEDAL_AGAIN = "Another pedal: Again"
PEDAL_LEARN = "Set up a pedal"
PEDAL_FORGET = "Forget the pedal"
CHANGE = "Change"
REMINDERS_TITLE = "While you read"
REMINDERS = (
    "Doses, prices and warnings: word for word, and twice.",
    "Hold before you turn a page. What rustles just before the hold or just after you read on is "
    "left out.",
    "After a slip press Again: you hear what comes before the sentence; then read it from its "
    "start.",
    "Keep 15 to 20 cm from the microphone, a little to the side.",
    "Read what is printed, to one person in the same room.",
)

ROOM_CHECK = "Room check"


def issue_words(seen: SeenStand) -> str:
    """Name what is read from: a part of a serial, an issue, or what somebody sent in.

    The year is left out where it is this year's.
    """
    if seen.part is not None:
        return f"{seen.publication}, part {seen.part}"
    joined = " of" if seen.window is not None else ", asked for on"
    day = seen.issue_date
    date_words = f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]}"
    if day.year != seen.today.year:
        date_words = f"{date_words} {day.year}"
    return f"{seen.publication}{joined} {date_words}"


def head_facts(seen: SeenStand) -> str:
    """Sum up what is read, when it airs and who reads, under the programme's title."""
    if seen.is_practice:
        return PRACTICE_NOTE
    facts = [issue_words(seen)]
    if seen.airs_at is not None:
        facts.append(f"airs {_day_words(seen)} at {time_of_day(seen.airs_at)}")
    facts.append(f"read by {names_in_words(seen.readers)}")
    return DOT.join(facts)


def window_words(window: Window) -> str:
    """Name a window under the ruled column.

    Examples
    --------
    >>> window_words(Window(shortest_s=3360.0, longest_s=3480.0))
    '56 to 58 minutes'
    >>> window_words(Window(shortest_s=225.0, longest_s=285.0))
    '3:45 to 4:45'
    """
    shortest, longest = window.shortest_s, window.longest_s
    if shortest % 60 or longest % 60:
        return str(window)
    return f"{round(shortest / 60)} to {round(longest / 60)} minutes"


def left_off_words(seen: SeenStand) -> str:
    """Say where the part before left off; empty where nobody wrote it down."""
    left = seen.left_off
    if left is None:
        return ""
    page = f"page {left.place_page}" if left.place_page else ""
    headline = f"“{left.place_headline}”" if left.place_headline else ""
    return ", ".join(part for part in (page, headline) if part)


def _day_words(seen: SeenStand) -> str:
    assert seen.airs_at is not None
    days = (seen.airs_at.date() - seen.today).days
    near = {0: "today", 1: "tomorrow"}
    return near.get(days, f"on {short_date(seen.airs_at.date())}")
