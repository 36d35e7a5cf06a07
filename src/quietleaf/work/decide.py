"""Decide about a place of a reading, remark on it, mark an article, and take any of that back.

Each is one entry in the ledger, decided on the revision that the author saw: whoever comes second
is told who decided what meanwhile, and nothing of theirs is entered.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import get_args

from quietleaf.booth.edits import (
    DECISIONS,
    REMARK_KINDS,
    ArticleStarted,
    Decided,
    Edit,
    Happening,
    Remarked,
    StateSet,
    Undo,
)
from quietleaf.booth.timeline import Place
from quietleaf.delivery.report_words import FINDING_WORDS
from quietleaf.errors import Conflict, Invalid
from quietleaf.listening.findings import FindingKind
from quietleaf.storage.reading_folder import ReadingFolder, find_reading
from quietleaf.units import clock
from quietleaf.work.clearing import DESK, refuse_elsewhere, refuse_own
from quietleaf.work.see_review import (
    SeenReview,
    last_of,
    programme_in,
    see_review,
)
from quietleaf.work.things_to_decide import CLOSING, OPENING
from quietleaf.work.told_index import index_as_it_is
from quietleaf.work.tools import Tools

NOTE_LETTERS = 1000
TITLE_LETTERS = 200
_KINDS: tuple[str, ...] = ("", *get_args(FindingKind), OPENING, CLOSING)
_WORDS = {OPENING: "Opening words", CLOSING: "Closing words", "": "A place"}
_DECIDED = {
    "leave": "left as it is",
    "repair": "to be repaired",
    "cut": "to be cut",
    "read again": "to be read again",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class AtTheDesk:
    """Whose wish it is, about which reading, and what they had before them.

    Attributes
    ----------
    who : str
        The account; empty at a station without accounts.
    revision : int
        Of the reading, as they saw it.
    asked_id : str
        Made by the page, so that asking twice enters it once.
    """

    reading_id: str
    who: str
    revision: int
    asked_id: str

    @property
    def author(self) -> str:
        """The name in the ledger."""
        return self.who or DESK


def decide(desk: AtTheDesk, what: Decided, tools: Tools) -> Edit:
    """Enter a decision about a place.

    Raises
    ------
    Conflict
        If the reading has changed since it was seen, or is not on the desk.
    Invalid
        If there is no such decision, kind or place, or the note is too long.
    NotAllowed
        If the programme wants another reviewer than its reader.
    """
    if what.finding not in _KINDS or what.decision not in DECISIONS:
        raise Invalid(
            "review/decision",
            f"A decision is one of {', '.join(DECISIONS)}, about something that was found; "
            f"{what.decision!r} about {what.finding!r} came. Open the page again.",
        )
    if what.remark not in REMARK_KINDS:
        raise Invalid(
            "review/remark",
            f"A remark is about {', '.join(REMARK_KINDS[1:])}; {what.remark!r} came.",
        )
    _refuse_long(what.note, NOTE_LETTERS)
    return _enter(desk, what, tools)


def observe(desk: AtTheDesk, at_s: float, text: str, tools: Tools) -> Edit:
    """Keep an observation at a time of what is heard; raises as `decide`."""
    _refuse_long(text, NOTE_LETTERS)
    if not text:
        raise Invalid("review/empty", "An observation has words. Write what you noticed.")
    return _enter(desk, Remarked(place=_place(desk, at_s, tools), text=text), tools)


def mark_article(desk: AtTheDesk, at_s: float, title: str, tools: Tools) -> Edit:
    """Let an article begin at a time of what is heard; raises as `decide`."""
    _refuse_long(title, TITLE_LETTERS)
    take, sample = _place(desk, at_s, tools)
    return _enter(desk, ArticleStarted(take=take, sample=sample, title=title), tools)


def sentence_at(desk: AtTheDesk, at_s: float, tools: Tools) -> tuple[Place, Place]:
    """Give where the sentence at a time of what is heard lies in the takes."""
    heard = _seen(desk, at_s, tools).heard
    return heard.take_range(*heard.sentence_at(at_s))


def take_back(desk: AtTheDesk, number: int, tools: Tools) -> Edit:
    """Take back what was entered at the desk, a clearing and a return too.

    Raises
    ------
    Conflict
        If the reading has changed since it was seen, or that was taken back already.
    Invalid
        If it is nothing that the desk entered.
    NotAllowed
        If the programme wants another reviewer than its reader.
    """
    folder = _opened(desk, tools)
    entered = _entered(folder, desk)
    if entered is None:
        target = folder.ledger()[number - 1] if 1 <= number <= folder.revision else None
        _refuse_not_of_the_desk(folder, target)
        entered = _append(folder, desk, Undo(of=number), tools)
    index_as_it_is(folder, tools)
    return entered


def enter_state(
    desk: AtTheDesk,
    what: StateSet,
    tools: Tools,
    refuse: Callable[[SeenReview], None],
) -> ReadingFolder:
    """Send a reading to another state, unless something refuses it; done twice it is done once."""
    folder = _opened(desk, tools)
    if _entered(folder, desk) is None:
        refuse(see_review(desk.reading_id, desk.who, tools))
        _append(folder, desk, what, tools)
    index_as_it_is(folder, tools)
    return folder


def _enter(desk: AtTheDesk, what: Happening, tools: Tools) -> Edit:
    folder = _opened(desk, tools)
    entered = _entered(folder, desk)
    if entered is None:
        refuse_elsewhere(folder.state)
        entered = _append(folder, desk, what, tools)
    index_as_it_is(folder, tools)
    return entered


def _opened(desk: AtTheDesk, tools: Tools) -> ReadingFolder:
    folder = find_reading(tools.data, desk.reading_id)
    station = tools.database.load_station()
    refuse_own(folder.facts, programme_in(station, folder.facts.programme_key), desk.who)
    return folder


def _entered(folder: ReadingFolder, desk: AtTheDesk) -> Edit | None:
    """Give what was asked before under this id; one that was taken back is not asked for again."""
    for edit in folder.ledger():
        if edit.edit_id == desk.asked_id:
            if edit.number in folder.standing.undone:
                raise Conflict(
                    "review/asked-before",
                    "Nothing was entered: this was entered before, and taken back. Open the page "
                    "again to enter it once more.",
                )
            return edit
    return None


def _append(folder: ReadingFolder, desk: AtTheDesk, what: Happening, tools: Tools) -> Edit:
    try:
        return folder.append(
            what,
            author=desk.author,
            at=tools.clock(),
            revision=desk.revision,
            edit_id=desk.asked_id,
        )
    except Conflict as refusal:
        if refusal.code != "ledger/stale":
            raise
        raise _changed(folder.reload(), desk, tools) from refusal


def _changed(folder: ReadingFolder, desk: AtTheDesk, tools: Tools) -> Conflict:
    """Say who did what since somebody saw the reading."""
    edit = folder.ledger()[-1]
    who = "You" if edit.author == desk.author else edit.author
    return Conflict(
        "review/changed",
        f"Nothing of yours was entered. {who} came before, at {edit.at:%H:%M} UTC: "
        f"{_told(edit, desk, tools)} Look at it here, then decide.",
    )


def _told(edit: Edit, desk: AtTheDesk, tools: Tools) -> str:
    match edit.what:
        case Decided(finding=finding, decision=decision, start=start, stop=stop):
            heard = see_review(desk.reading_id, desk.who, tools).heard
            words = _WORDS.get(finding) or FINDING_WORDS[_kind(finding)]
            at_s, _ = heard.seconds(start, stop)
            return f"{words} at {clock(at_s)} is {_DECIDED[decision]}."
        case StateSet(state=state):
            return f"the reading is {state}."
        case Remarked():
            return "an observation was kept."
        case ArticleStarted(title=title):
            return f"an article begins, {title or 'without a title yet'}."
        case Undo(of=of):
            return f"entry {of} was taken back."
        case _:
            return "the reading goes on."


def _kind(finding: str) -> FindingKind:
    return next(kind for kind in get_args(FindingKind) if kind == finding)


def _refuse_not_of_the_desk(folder: ReadingFolder, target: Edit | None) -> None:
    match target:
        case Edit(what=Decided() | Remarked() | ArticleStarted()):
            refuse_elsewhere(folder.state)
        case Edit(what=StateSet(state="cleared" | "returned"), author=author, number=number):
            # As long as it is the state: not under what came after it.
            if last_of(folder, author) != number:
                raise Conflict(
                    "review/undo-late",
                    f"Nothing was taken back: the reading is {folder.state} by now.",
                )
        case _:
            raise Invalid(
                "review/undo", "That was not entered at the desk, and is not taken back from here."
            )


def _place(desk: AtTheDesk, at_s: float, tools: Tools) -> Place:
    start, _ = _seen(desk, at_s, tools).heard.take_range(at_s, at_s)
    return start


def _seen(desk: AtTheDesk, at_s: float, tools: Tools) -> SeenReview:
    seen = see_review(desk.reading_id, desk.who, tools)
    if not 0.0 <= at_s < seen.heard.duration_s:
        raise Invalid(
            "review/time",
            f"This reading goes from 0:00 to {clock(seen.heard.duration_s)}; "
            f"{clock(at_s)} was asked for.",
        )
    return seen


def _refuse_long(text: str, letters: int) -> None:
    if len(text) > letters:
        raise Invalid(
            "review/long",
            f"This holds at most {letters} letters; {len(text)} came. Shorten it a little.",
        )
