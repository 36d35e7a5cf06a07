"""Hand a reading in: when all of it is whole on the station's disk, with what the reader leaves."""

from __future__ import annotations

import logging
import uuid
from contextlib import suppress
from dataclasses import dataclass

from quietleaf.booth.edits import HandedIn, StateSet
from quietleaf.booth.reading import HandIn, ReadingState
from quietleaf.booth.replay import counting
from quietleaf.errors import Conflict, Invalid, NotFound, QuietleafError, Refused
from quietleaf.planning.message import Message, MessageKind
from quietleaf.storage.index_rows import reading_row
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.reading_places import READINGS, folder_of
from quietleaf.work.checked_takes import check_takes
from quietleaf.work.reading_pace import keep_pace_of
from quietleaf.work.record_reading import seal_as_arrived
from quietleaf.work.see_hand_in import copy_of
from quietleaf.work.tools import Tools

LOG = logging.getLogger(__name__)
PAGE_LETTERS, HEADLINE_LETTERS, RECAP_LETTERS, REMARK_LETTERS = 40, 300, 2000, 3000
"""So much of each field is kept. A form of letters that take three bytes each fits 64 kB then."""
_LETTERS = {
    "place_page": PAGE_LETTERS,
    "place_headline": HEADLINE_LETTERS,
    "recap": RECAP_LETTERS,
    "remark": REMARK_LETTERS,
}
OPEN_TAKE = "hand-in/open-take"
"""The refusal that a reader may answer by handing in what has arrived."""
HANDED_IN: tuple[ReadingState, ...] = ("handed in", "cleared", "placed", "aired")
_TRIES = 5
_MESSAGES = uuid.UUID("2b0d4d0e-6f0c-4a6f-9a52-0f9a6c5f5a11")
_DAMAGED_TEXT = "A take is not on the disk as it was recorded"


@dataclass(frozen=True, slots=True, kw_only=True)
class HandInReading:
    """What a reader hands in.

    Attributes
    ----------
    place : str
        ``readings:<id>``.
    sitting : str
        Checksum of the sitting's token, which ends with this.
    unsent_s : float
        What the reader's page says it still has to send; 0 where it says nothing.
    as_arrived : bool
        Takes that never came to their end are closed where they broke off: the browser that had
        the rest of them will not come back.
    """

    place: str
    reader: str
    booth: str | None
    sitting: str
    left: HandIn
    unsent_s: float = 0.0
    as_arrived: bool = False


def hand_in(request: HandInReading, tools: Tools) -> ReadingFolder:
    """Hand a reading in; done twice it is done once.

    Raises
    ------
    Conflict
        If nothing was recorded, the reader's page has something to send, a take has not come to
        its end (`OPEN_TAKE`) or is not whole on the station's disk, or the desk has the reading in
        another state.
    Invalid
        If what is left is too long, or is no text; nothing is entered.
    """
    left = checked_hand_in(request.left)
    if request.place.partition(":")[0] != READINGS:
        raise NotFound("hand-in/no-reading", "A practice reading is not handed in.")
    folder = folder_of(tools.data, request.place)
    if folder.state not in HANDED_IN:
        _enter(request, left, folder, tools)
        keep_pace_of(folder, request.reader, tools)
    # What follows is made of the ledger, so that a second try finishes what a first one began.
    _file(request, folder, tools)
    return folder


def _enter(request: HandInReading, left: HandIn, folder: ReadingFolder, tools: Tools) -> None:
    if not folder.takes():
        raise Conflict(
            "hand-in/nothing",
            "Nothing has been recorded yet, so that there is nothing to hand in. Go back to "
            "reading, or tell the desk that it will not be read.",
        )
    _refuse_behind(request, folder)
    if request.as_arrived:
        _close_takes(request, folder, tools)
    _refuse_damaged(request, folder, tools)
    _place_what_was_read_again(folder, tools)
    folder.append(HandedIn(hand_in=left), author=request.reader, at=tools.clock())
    _set_state(request, folder, tools)


def _file(request: HandInReading, folder: ReadingFolder, tools: Tools) -> None:
    tools.database.index_reading(reading_row(folder))
    reading_id = folder.facts.reading_id
    for edit in counting(folder.standing):
        # Two readers may have handed in at one moment; what was told before is not told again.
        if isinstance(edit.what, HandedIn) and (remark := edit.what.hand_in.remark):
            _tell_desk(request, "remark", remark, f"{reading_id} remark {remark}", folder, tools)
    tools.database.end_token(request.sitting, tools.clock())


def checked_hand_in(left: HandIn) -> HandIn:
    """Give what is left without the signs that no keyboard types.

    Raises
    ------
    Invalid
        If a field is longer than is kept; its code ends in the field's name.
    """
    given = {name: _plain(getattr(left, name)) for name in _LETTERS}
    for name, letters in _LETTERS.items():
        if len(given[name]) > letters:
            raise Invalid(
                f"hand-in/{name}",
                f"This holds at most {letters} letters; {len(given[name])} came. Shorten it a "
                "little; nothing of it is lost until then.",
            )
    return HandIn(tidied=left.tidied, **given)


def _plain(text: str) -> str:
    return "".join(
        letter for letter in text if letter in "\n\t" or (ord(letter) >= 32 and ord(letter) != 127)
    ).strip()


def _refuse_behind(request: HandInReading, folder: ReadingFolder) -> None:
    if request.unsent_s > 0.0:
        raise Conflict(
            "hand-in/behind",
            f"The station does not have all of your reading yet: about "
            f"{_seconds(request.unsent_s)} of it are on their way from this computer. Leave this "
            "page open, and hand in when they are there.",
        )
    open_takes = copy_of(folder).open_takes
    if open_takes and not request.as_arrived:
        first = open_takes[0]
        raise Conflict(
            OPEN_TAKE,
            f"Take {first.take} has not come to its end yet: the station has "
            f"{_seconds(first.length_s)} of it. If it is still recording, hold it. If it was "
            "read at another computer, open the stand there once more, and the rest is sent.",
        )


def _close_takes(request: HandInReading, folder: ReadingFolder, tools: Tools) -> None:
    try:
        seal_as_arrived(folder, request.reader, tools)
    except Conflict as refusal:
        raise Conflict(
            "hand-in/recording",
            "A take of this reading is being recorded at this moment. Hold it, then hand in.",
        ) from refusal


def _place_what_was_read_again(folder: ReadingFolder, tools: Tools) -> None:
    # Its arithmetic takes long to load, and most readings have nothing of it.
    if all(take.read_for is None for take in folder.takes()):
        return
    from quietleaf.work.place_patch import place_patches

    try:
        place_patches(folder, tools)
    except QuietleafError as refusal:
        # The takes are whole on the disk; the desk sees that the old sentence still stands.
        LOG.warning("%s is handed in as it is: %s", folder.path, refusal.sentence)


def _refuse_damaged(request: HandInReading, folder: ReadingFolder, tools: Tools) -> None:
    troubles = [take for take in check_takes(folder, tools).takes if take.trouble]
    if not troubles:
        return
    text = f"{_DAMAGED_TEXT}: {' '.join(take.trouble for take in troubles)}"
    _tell_desk(request, "help", text, f"{folder.facts.reading_id} {text}", folder, tools)
    raise Conflict(
        "hand-in/damaged",
        f"Take {troubles[0].take} was read back from the station's disk and is not as it was "
        "recorded. The desk has been told; please wait for somebody, or hand in another time. "
        "Everything stays as it is.",
    )


def _set_state(request: HandInReading, folder: ReadingFolder, tools: Tools) -> None:
    for _ in range(_TRIES):
        if folder.reload().state in HANDED_IN:
            return
        _refuse_behind(request, folder)
        try:
            folder.append(
                StateSet(state="handed in", note=""), author=request.reader, at=tools.clock()
            )
        except Refused as refusal:
            # Something came in between, as a cut at the last hold: look again, then hand in.
            if refusal.code != "ledger/stale":
                raise
        else:
            return
    raise Conflict(
        "hand-in/busy",
        "Something is still being entered in this reading. Hand in once more in a moment.",
    )


def _tell_desk(
    request: HandInReading,
    kind: MessageKind,
    text: str,
    about: str,
    folder: ReadingFolder,
    tools: Tools,
) -> None:
    """Tell the desk once of each thing: its id is made of what it is about."""
    message_id = uuid.uuid5(_MESSAGES, about).hex
    try:
        tools.database.message(message_id)
    except NotFound:
        # Refused where another request told it at this very moment.
        with suppress(Invalid):
            tools.database.add_message(
                Message(
                    message_id=message_id,
                    kind=kind,
                    at=tools.clock(),
                    booth=request.booth,
                    reader=request.reader,
                    assignment_key=folder.facts.assignment_key,
                    reading_id=folder.facts.reading_id,
                    text=text,
                    seen_at=None,
                )
            )


def _seconds(time_s: float) -> str:
    minutes, seconds = divmod(max(1, round(time_s)), 60)
    if not minutes:
        return f"{seconds} second{'' if seconds == 1 else 's'}"
    return f"{minutes} min {seconds:02d}"
