"""The receipt of a reading that was handed in: what the station has, and that it is safe."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from quietleaf.booth.corrections import corrections
from quietleaf.booth.edits import SoundMissing, StateSet
from quietleaf.booth.reading import HandIn
from quietleaf.booth.replay import counting
from quietleaf.booth.replay import hand_in as hand_in_of
from quietleaf.errors import Conflict, NotAllowed, NotFound
from quietleaf.planning.programme import USUAL_REVIEW, Programme, ReviewDepth
from quietleaf.planning.station import Station, programme_named
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.reading_places import READINGS, folder_of, place_of
from quietleaf.storage.tokens import sha256_of
from quietleaf.units import Window
from quietleaf.work.checked_takes import CheckedTakes, checked_takes
from quietleaf.work.hand_in import HANDED_IN
from quietleaf.work.hearings import Hearings, SeenHearing
from quietleaf.work.reading_words import set_words
from quietleaf.work.see_hand_in import length_of
from quietleaf.work.tools import Tools

_SHOWN = timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Receipt:
    """What a reader takes home.

    Attributes
    ----------
    handed_in_at : datetime
        Aware UTC.
    length_s : float
        Of the programme as it stands.
    window : Window or None
        None where any length will do.
    missing_s : float
        Sound that was spoken and never captured, as far as clocks can tell.
    checked : CheckedTakes
        Every take, read back from the disk.
    read_again : bool
        The desk had given it back, and places of it were read again.
    """

    reading_id: str
    programme_title: str
    publication: str
    issue_date: date
    part: int | None
    readers: tuple[str, ...]
    air_date: date | None
    handed_in_at: datetime
    left: HandIn
    length_s: float
    window: Window | None
    missing_s: float
    checked: CheckedTakes
    review: ReviewDepth
    hearing: SeenHearing
    read_again: bool


def whose_receipt(secret: str | None, wanted: str | None, tools: Tools) -> tuple[str, str]:
    """Give the reader and the reading whose receipt a browser may see.

    Parameters
    ----------
    secret : str or None
        The browser's sitting. Handing in ended it; for a day it still opens that one receipt.
    wanted : str or None
        A reading's id; None means the one of the sitting.

    Raises
    ------
    NotAllowed
        If the sitting opens no receipt, or not this one.
    """
    try:
        token = tools.database.token(sha256_of(secret or ""))
    except NotFound:
        raise _nobody() from None
    now = tools.clock()
    live = token.is_live(now)
    ended_at = token.ended_at or now
    if token.purpose != "sitting" or token.reader is None or not (live or now - ended_at < _SHOWN):
        raise _nobody()
    own = None
    if token.reading is not None and token.reading.startswith(f"{READINGS}:"):
        own = token.reading.partition(":")[2]
    reading_id = wanted or own
    if reading_id is None:
        raise _nobody()
    if reading_id != own:
        readers = folder_of(tools.data, place_of(READINGS, reading_id)).facts.readers
        if not live or token.reader not in readers:
            raise _nobody()
    return token.reader, reading_id


def see_receipt(reading_id: str, hearings: Hearings, tools: Tools) -> Receipt:
    """Gather a receipt; where nobody has listened to the reading yet, that begins.

    Raises
    ------
    NotFound
        If there is no such reading.
    Conflict
        If it has not been handed in.
    """
    folder = _handed_in(reading_id, tools)
    facts = folder.facts
    station = tools.database.load_station()
    programme = _programme(folder, station)
    handed_in = [
        edit.at
        for edit in counting(folder.standing)
        if isinstance(edit.what, StateSet) and edit.what.state == "handed in"
    ]
    rates = {take.take: take.sample_rate_hz for take in folder.takes()}
    return Receipt(
        reading_id=reading_id,
        programme_title=facts.programme_title,
        publication=facts.publication,
        issue_date=facts.issue_date,
        part=facts.part,
        readers=facts.readers,
        air_date=facts.air_date,
        handed_in_at=handed_in[-1],
        left=hand_in_of(folder.standing) or HandIn(),
        length_s=length_of(folder),
        window=programme.window if programme else None,
        missing_s=sum(
            edit.what.samples / rates[edit.what.take]
            for edit in counting(folder.standing)
            if isinstance(edit.what, SoundMissing)
        ),
        checked=checked_takes(folder, tools),
        review=_review(programme),
        hearing=_ask(folder, programme, station, hearings),
        read_again=any(one.patch is not None for one in corrections(folder.standing)),
    )


def see_verdict(reading_id: str, hearings: Hearings, tools: Tools) -> SeenHearing:
    """Say how far listening to a reading has got; refusals as in `see_receipt`."""
    folder = _handed_in(reading_id, tools)
    station = tools.database.load_station()
    return _ask(folder, _programme(folder, station), station, hearings)


def _handed_in(reading_id: str, tools: Tools) -> ReadingFolder:
    folder = folder_of(tools.data, place_of(READINGS, reading_id))
    if folder.state not in HANDED_IN:
        raise _not_yet()
    return folder


def _nobody() -> NotAllowed:
    return NotAllowed(
        "receipt/nobody",
        "A receipt is for whoever read it, and nobody who did sits here. Choose your name once "
        "more, or open your personal link, and look at what you read before.",
    )


def _not_yet() -> Conflict:
    return Conflict(
        "receipt/not-yet", "There is a receipt when the reading is handed in; this one is not yet."
    )


def _ask(
    folder: ReadingFolder, programme: Programme | None, station: Station, hearings: Hearings
) -> SeenHearing:
    words = set_words(folder.facts, programme, station)
    return hearings.ask(folder, _review(programme), words)


def _programme(folder: ReadingFolder, station: Station) -> Programme | None:
    try:
        return programme_named(station, folder.facts.programme_key)
    except NotFound:
        # The programme is not in the plan any more: any length will do.
        return None


def _review(programme: Programme | None) -> ReviewDepth:
    return programme.review if programme else USUAL_REVIEW
