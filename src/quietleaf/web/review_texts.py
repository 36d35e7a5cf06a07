"""The words of the ear page: what there is to hear, decisions, clearing and returning."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from quietleaf.booth.edits import Decision, Edit, RemarkKind, StateSet
from quietleaf.booth.review import DecisionEntry
from quietleaf.delivery.report_words import (
    FINDING_WORDS,
    KEPT,
    begun,
    counted,
    length,
    measured_words,
    signed,
)
from quietleaf.listening.findings import Finding
from quietleaf.listening.verdict import HEARD_WHOLE as HEARD_WHOLE_FIRST
from quietleaf.listening.verdict import NO_REVIEW
from quietleaf.planning.words import names_in_words
from quietleaf.units import clock
from quietleaf.web import phrases, words_texts
from quietleaf.web.phrases import short_date
from quietleaf.web.texts import NOT_FINISHED, OPENING_WORDS
from quietleaf.web.type_page import Article, Part
from quietleaf.work.see_review import SeenReview
from quietleaf.work.things_to_decide import CLOSING, OPENING, Thing

THE_PAGE = "The reading as a page"
BEFORE_ARTICLES = "Before the first article"
WITHOUT_ARTICLES = "The whole of it"
GOES_ON = "goes on"
UNHEARD = "Nobody has listened yet, so that there are no lines to show."
OUTDATED = "It was changed since it was finished: what is heard here is the reading as it stands."
THINGS = "Things to hear"
CUT_ALREADY = "Cut out already"
CUT_HINT = "Finishing cut out first tries that it was sure of. Leave puts one back."
OBSERVATIONS = "Observations"
DECISIONS: dict[Decision, str] = {
    "leave": "Leave",
    "repair": "Repair",
    "cut": "Cut",
    "read again": "Read again",
}
DECIDED: dict[Decision, str] = {
    "leave": "Left as it is",
    "repair": "To be repaired",
    "cut": "To be cut",
    "read again": "To be read again",
}
MADE: dict[Decision, str] = {**DECIDED, "repair": "Repaired", "cut": "Cut"}
GOOD_NOW = "Good now"
HEAR_IT = "Hear it"
HEAR_IT_CUT = "Hear it cut"
HEAR_AS_READ = "Hear it as it was read"
ELSEWHERE = "To the next part in which something is not decided"
NEXT, PREVIOUS = "next", "before"
DECIDE_OTHERWISE = "Decide otherwise"
TAKE_BACK = "Take it back"
UNDO = "Undo"
WRITE_REMARK = "Write a remark"
REMARK = "It is about"
REMARKS: dict[RemarkKind, str] = {
    "": "Nothing in particular",
    "text": "The text",
    "sound": "The sound",
    "performance": "The performance",
    "form": "The form",
}
NOTE = "In words, for the reader"
OWN_MARK = "A mark of your own"
OWN_HINT = "At a time of the reading: its whole sentence is meant."
OWN_AT = "At"
OWN_WHAT = "What"
OWN_WHATS = {
    "read again": "To be read again",
    "cut": "To be cut",
    "article": "An article begins",
    "observation": "An observation",
}
OWN_WORDS = "In words"
OWN_WORDS_HINT = "Write a note for the reader, the title of the article, or what you noticed."
ENTER_MARK = "Enter it"
CLEAR = "Clear it"
FINISH_AGAIN = "Finish it again"
CLEAR_HEAD = "Clear it, or return it"
OUTCOMES = {"cleared": "Cleared", "returned": "Returned"}
HEARD_WHOLE = "I heard all of it"
DESPITE = "It may go out all the same"
RETURN = "Return it"
RETURN_NOTE = "A word with it"
TAKE_CLEARING_BACK = "Take the clearing back"
TAKE_RETURN_BACK = "Take the return back"
OWN_READING = (
    "You read this yourself. Somebody else decides about it and clears it: the programme wants "
    "another reviewer than its reader."
)
MORE = "More about this reading"
PARTS = "Parts of this page"
TRANSPORT = "Listening"
PLAY, PAUSE = "Play", "Pause"
SENTENCE_BACK, SENTENCE_ON = "Sentence back", "Sentence on"
SPEED = "Speed"
SPEEDS = ("0.75", "1", "1.25", "1.5", "1.75", "2")
KEYS = "Keys"
KEYS_ON = "Keys that type a letter act on this page"
KEYS_FIRST = "The keys as they were at first"
KEYS_NOTE = "None acts while you write in a field. A pedal is a key: change one, and press it."

_REMARK_OF: dict[str, RemarkKind] = {
    "restart": "text",
    "dead-air": "performance",
    OPENING: "form",
    CLOSING: "form",
    "": "text",
}


def what(thing: Thing) -> str:
    """Name a thing to hear."""
    if thing.finding == "":
        return "Marked at the desk"
    for finding, words in ((OPENING, "Opening words"), (CLOSING, "Closing words")):
        if thing.finding == finding:
            return words
    name = next(words for kind, words in FINDING_WORDS.items() if kind == thing.finding)
    return f"{name}, read again" if thing.is_second_look else name


def where(thing: Thing) -> str:
    """Say where it is."""
    start, end = clock(thing.start_s), clock(thing.end_s)
    return f"at{KEPT}{start}" if start == end else f"at{KEPT}{start} to{KEPT}{end}"


def advice(thing: Thing) -> str:
    """Say what was found."""
    if thing.out_s:
        return f"Begun, and read again; {length(max(1.0, thing.out_s))} went."
    if thing.is_second_look:
        return "The reader has read it again. Hear it once more."
    if isinstance(thing.of, Finding):
        return signed(thing.of.advice)
    if thing.of is not None:
        return words_texts.finding_sentence(thing.of)
    return "" if thing.finding == "" else "Not found there any more."


def measured(thing: Thing) -> str:
    """Say what was measured; empty if nothing was."""
    return measured_words(thing.of) if isinstance(thing.of, Finding) else ""


def choice(decision: Decision, thing: Thing) -> str:
    """Write a decision on its button."""
    if decision == "leave" and thing.is_second_look:
        return GOOD_NOW
    return DECISIONS[decision]


def decided(thing: Thing) -> str:
    """Say what was decided, and what the remark is about."""
    assert thing.decided is not None
    what = thing.decided.what
    told = MADE[what.decision] if thing.is_made else DECIDED[what.decision]
    return f"{told}, {REMARKS[what.remark].lower()}" if what.remark else told


def by_whom(entry: DecisionEntry, zone: ZoneInfo) -> str:
    """Say who decided, and when."""
    return f"{entry.author}, {entry.at.astimezone(zone):%H:%M}"


def usual_remark(thing: Thing) -> RemarkKind:
    """Say what a remark about it is likely to be about, where none was made."""
    if thing.decided is not None:
        return thing.decided.what.remark
    return _REMARK_OF.get(thing.finding, "sound")


def count_words(things: tuple[Thing, ...], review: SeenReview) -> str:
    """Say how many things there are to decide about.

    Parameters
    ----------
    things : tuple of Thing
        Those that are no notes.
    """
    if not things:
        return (
            "Nothing was found that needs an ear."
            if review.heard.is_heard
            else "Nobody has listened yet."
        )
    undecided = [thing for thing in things if thing.decided is None]
    if not undecided:
        return "It is decided." if len(things) == 1 else f"All {_number(len(things))} are decided."
    play_s = sum(stop_s - start_s for start_s, stop_s in (one.hear_s for one in undecided))
    lasts = f"{length(max(1.0, play_s))} in all."
    if len(undecided) == len(things):
        return f"{begun(_number(len(things)))}, {lasts}"
    left = counted(len(undecided), "is", "are")
    return f"{begun(left)} left of {_number(len(things))}, {lasts}"


def of_words(review: SeenReview) -> str:
    """Say how long it is in all, beside the place that is heard."""
    return f"of {clock(review.heard.duration_s)}"


def article_title(article: Article, review: SeenReview) -> str:
    """Head what stands under one heading."""
    before = OPENING_WORDS if review.seen.opening_words else BEFORE_ARTICLES
    title = article.title or (before if review.heard.articles else WITHOUT_ARTICLES)
    return f"{title}, {GOES_ON}" if article.goes_on else title


def article_words(article: Article) -> str:
    """Say what stands under a heading, for whoever does not see it."""
    sentences = counted(article.sentences, "sentence", "sentences")
    return f"{begun(sentences)}, {length(max(1.0, article.stop_s - article.start_s))}."


def thing_words(thing: Thing) -> str:
    """Name a thing in the page of type, for whoever does not see it."""
    state = (
        decided(thing)
        if thing.decided
        else {"fix": "to fix", "hear": "to hear"}.get(thing.severity, "for the record")
    )
    return f"{what(thing)} {where(thing)}, {begun(state).lower()}"


def part_words(part: Part, last_s: float) -> str:
    """Name a part of the page."""
    return f"{clock(part.start_s)} to {clock(min(part.stop_s, last_s))}"


def verdict(review: SeenReview, zone: ZoneInfo) -> str:
    """Say what is to be done with it; of one that was cleared or returned, who did that."""
    if review.state not in ("cleared", "returned") or review.state_set is None:
        return _decided_so_far(review) or phrases.verdict(review.seen.summary)
    edit = review.state_set
    at = edit.at.astimezone(zone)
    word = "Cleared" if review.state == "cleared" else f"Returned to {_readers(review)}"
    return f"{word} by {_author(edit)}, {short_date(at.date())}, {at:%H:%M}."


def verdict_mark(review: SeenReview) -> phrases.Mark:
    """Say which rule stands under it: none where nothing is open any more."""
    return "" if _decided_so_far(review) else phrases.standing(review.seen.summary).mark


def _decided_so_far(review: SeenReview) -> str:
    """Say what comes next once all is decided; empty before, and where nothing was to decide."""
    asked = [thing for thing in review.things if thing.asks(review.review)]
    is_open = any(thing.decided is None for thing in asked)
    if review.state != "handed in" or not asked or is_open:
        return ""
    if review.to_read_again:
        return "Everything is decided. It goes back to its reader."
    if review.is_under_way:
        return "Everything is decided. It is being finished."
    if review.wants_finishing:
        return "Everything is decided. It is to be finished again."
    return "Everything is decided."


def verdict_reasons(review: SeenReview) -> tuple[str, ...]:
    """Say why, but for what is in the list of things to hear; nothing once it left the desk."""
    if review.state != "handed in":
        return ()
    if review.heard.is_outdated:
        return (OUTDATED,)
    if review.seen.report is None:
        return (NOT_FINISHED, *review.despite)
    depth = {"whole": HEARD_WHOLE_FIRST, "none": NO_REVIEW}.get(review.review)
    return (*([depth] if depth else []), *review.despite)


def note_of(review: SeenReview) -> str:
    """Give what was written with a return; empty where nothing was."""
    if review.state != "returned" or review.state_set is None:
        return ""
    what = review.state_set.what
    return what.note if isinstance(what, StateSet) else ""


def way_on(review: SeenReview) -> str:
    """Give the address of what comes next: another reading on the desk, or the day."""
    summary = review.seen.summary
    if review.next_on_desk is not None:
        return f"/reading/{review.next_on_desk.reading_id}"
    return "/" if summary.air_date is None else f"/day/{summary.air_date}"


def way_on_words(review: SeenReview) -> str:
    """Say where that leads."""
    summary = review.seen.summary
    if review.next_on_desk is not None:
        return f"Next: {review.next_on_desk.programme_title}"
    return "To today" if summary.air_date is None else f"To {short_date(summary.air_date)}"


def again_words(review: SeenReview) -> str:
    """Say what goes back with a return."""
    count = len(review.to_read_again)
    if not count:
        return "Nothing is to be read again yet: write why it goes back."
    goes = counted(count, "place to be read again goes", "places to be read again go")
    return begun(f"{goes} with it.")


def return_words(review: SeenReview) -> str:
    """Write the return on its button."""
    return f"Return it to {_readers(review)}"


def _number(count: int) -> str:
    return counted(count, "", "").strip()


def _readers(review: SeenReview) -> str:
    return names_in_words(review.seen.summary.readers)


def _author(edit: Edit) -> str:
    return "the desk" if edit.author == "The desk" else edit.author
