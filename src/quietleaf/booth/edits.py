"""What can happen in a reading: one frozen record a kind, and the entry that carries it.

Places are samples of a take, counted from its start at its own rate; ranges are half-open.
Takes are numbered 1, 2, 3 in the order in which they join; those that stand apart are numbered with
them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from quietleaf.booth.reading import HandIn, ReadingFacts, ReadingState
from quietleaf.booth.timeline import Place

WhichWords = Literal["opening", "closing"]
Decision = Literal["leave", "repair", "cut", "read again"]
DECISIONS: tuple[Decision, ...] = ("leave", "repair", "cut", "read again")
RemarkKind = Literal["", "text", "sound", "performance", "form"]
REMARK_KINDS: tuple[RemarkKind, ...] = ("", "text", "sound", "performance", "form")
Wanted = Literal["made", "refused", "as planned"]
WANTED: tuple[Wanted, ...] = ("made", "refused", "as planned")


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """The reading begins: what it is for. Always the first entry, and only that."""

    facts: ReadingFacts


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeRolled:
    """A take begins to be recorded and joins at the end, growing until it is sealed.

    Attributes
    ----------
    origin : str
        Where its sound comes from, in words; kept from here until it is sealed.
    read_for : int or None
        The entry that sent a sentence back to be read again, where the take is read for that: it
        then stands apart, and is in the programme as far as a patch says so.
    first_take : int or None
        Of such a take: the one with which this try began; itself, if it does.
    """

    take: int
    sample_rate_hz: int
    origin: str = ""
    read_for: int | None = None
    first_take: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeSealed:
    """A take is complete. One that was not rolled here (brought in) joins at the end.

    Attributes
    ----------
    samples : int
        Its length for good.
    sha256 : str
        Of its samples as stored: 24-bit little-endian, without header or padding; 64 hex digits.
    origin : str
        Where the sound came from, in words: the booth's device, or a file and its channel.
    """

    take: int
    sample_rate_hz: int
    samples: int
    sha256: str
    origin: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """The reader takes a sentence from its start, and goes on in the same take.

    The programme leaves off at ``back_sample`` of ``back_take`` (where the sentence began) and
    goes on at ``resume`` of ``take``. All that lies between is outside: the sentence that
    stumbled, and what the microphone heard from the press (``mark``) until the lead-in ended.
    Placing a join anew is a second entry with better places, then an undo of the first: in
    that order nothing comes back in between.

    Attributes
    ----------
    take : int
        The take that was recording when the reader pressed.
    mark : int
        The press; kept because the join is chosen by listening to both sides of it.
    back_take : int
        ``take`` or an earlier one.
    lead_in : int
        So many samples of what comes before the place were played meanwhile, up to about
        ``resume``; 0 where that is not known.
    """

    take: int
    mark: int
    back_take: int
    back_sample: int
    resume: int
    lead_in: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """What was read again after a return stands in the midst of the programme.

    From ``begin`` to ``until``, without what is outside there, it stands in place of all from
    ``start`` to ``stop``. Of the patches for one entry the last that counts does: taken back, the
    one before it is there again, and in the end the old sentence.

    Attributes
    ----------
    read_for : int
        The entry that sent the sentence back.
    begin, until : Place
        In takes of one try for that. What is outside there from before ``begin`` on does not
        count: the patch itself says where its sound begins.
    start, stop : Place
        In earlier takes.
    """

    read_for: int
    begin: Place
    until: Place
    start: Place
    stop: Place


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """A range of a take leaves the programme."""

    take: int
    start: int
    stop: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ArticleStarted:
    """An article begins here; the title may be empty until somebody writes it."""

    take: int
    sample: int
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WordsBegun:
    """The reader begins the fixed words here."""

    which: WhichWords
    take: int
    sample: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundMissing:
    """Sound was spoken here and never captured: the computer paused, or the device fell behind.

    Attributes
    ----------
    sample : int
        The first sample after the gap.
    samples : int
        How long the gap is, as far as clocks can tell; the take does not hold them.
    reason : str
        A word: ``paused``, ``behind``.
    """

    take: int
    sample: int
    samples: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomChecked:
    """The room was measured before reading.

    Attributes
    ----------
    file : str
        Room tone inside the reading's folder, ``room/0001.wav``; empty where the check was passed
        over.
    sha256 : str
        Of that file's bytes; empty with it.
    facts : mapping
        What was measured and said, as plain JSON values.
    """

    file: str
    sha256: str
    facts: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class HandedIn:
    """What the reader left with the reading; the state follows as an entry of its own."""

    hand_in: HandIn


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """The desk decides about a place of the reading; what is heard stays as it is.

    A later one about the same finding stands in the place of an earlier one, see
    `quietleaf.booth.review`.

    Attributes
    ----------
    start, stop : Place
        What it is about, half-open.
    finding : str
        The kind of the finding; empty for a mark of one's own.
    remark : str
        What sort of thing is remarked: in the text, the sound, the performance or the form.
        Empty where nothing is.
    note : str
        In words, for whoever has the reading next.
    """

    start: Place
    stop: Place
    finding: str
    decision: Decision
    remark: RemarkKind = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Remarked:
    """An observation at a place: it asks for nothing, and stands in the way of nothing."""

    place: Place
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanDecided:
    """The desk decides what becomes of something that is planned at a place of the reading.

    Of those about one thing the last counts. The place is one of the sound, not of a plan, so
    that a decision holds in every plan that is made afterwards.

    Attributes
    ----------
    of : str
        Which sort of entry: ``repair``, ``cut`` and so on; ``length`` for that of the whole.
    what : str
        The entry's kind, or the key of a short item; empty where its sort has none.
    start, stop : Place or None
        Of one take; None for what has no place in the reading.
    wanted : {"made", "refused", "as planned"}
    value : float or None
        What it is changed to, in the unit that its sort has; None where it stays as planned.
    """

    of: str
    what: str
    start: Place | None
    stop: Place | None
    wanted: Wanted
    value: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Undo:
    """Take an entry back. Undoing an undo brings back what it took."""

    of: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StateSet:
    """The reading goes to another state; the note is for whoever has it next."""

    state: ReadingState
    note: str


Happening = (
    Opened
    | TakeRolled
    | TakeSealed
    | Again
    | Patch
    | Cut
    | ArticleStarted
    | WordsBegun
    | SoundMissing
    | RoomChecked
    | HandedIn
    | Decided
    | Remarked
    | PlanDecided
    | Undo
    | StateSet
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """One entry of the ledger.

    Attributes
    ----------
    number : int
        1, 2, 3 and so on; the revision of a reading is the number of its last entry.
    edit_id : str
        Made by whoever asks, so that asking twice enters it once.
    at : datetime.datetime
        Aware UTC.
    revision : int
        What the author had before them; 0 before the first entry.
    """

    number: int
    edit_id: str
    author: str
    at: datetime
    revision: int
    what: Happening
