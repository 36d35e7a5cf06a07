"""See a reading as whoever clears it does: what is heard, what is to decide, what was decided."""

from __future__ import annotations

from dataclasses import dataclass

from quietleaf.booth.edits import ArticleStarted, Decided, Edit, Remarked, StateSet, Undo
from quietleaf.booth.reading import ReadingState
from quietleaf.booth.replay import counting
from quietleaf.booth.review import Observation, Review, review
from quietleaf.planning.programme import USUAL_REVIEW, Programme, ReviewDepth
from quietleaf.planning.station import Station
from quietleaf.storage.finishing_marks import read_mark
from quietleaf.storage.index_rows import ReadingRow
from quietleaf.storage.reading_folder import ReadingFolder, find_reading
from quietleaf.work.clearing import DESK, is_own, speaks_against, what_hinders
from quietleaf.work.heard_sound import HeardSound, heard_sound
from quietleaf.work.see_reading import SeenReading, see_reading
from quietleaf.work.summary import Summary, summary_of
from quietleaf.work.things_to_decide import Thing, things_to_decide
from quietleaf.work.told_index import index_as_it_is
from quietleaf.work.tools import Tools

AWAY: tuple[ReadingState, ...] = ("cleared", "returned")
"""Where the desk sends a reading."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenReview:
    """A reading on the desk.

    Attributes
    ----------
    zone : str
        The station's.
    heard : HeardSound
        What is played, and what was found in it.
    state : ReadingState
        As the folder says.
    state_set : Edit or None
        The entry that set it; None before there was one.
    revision : int
        What whoever decides has seen.
    things : tuple of Thing
        In the order in which they are heard.
    observations : tuple of (float, Observation)
        With the second at which each is heard.
    last : int or None
        The number of the latest entry that can be taken back by whoever asks; None where there is
        none.
    hindrances : tuple of str
        Why it cannot be cleared yet; a sentence each.
    is_under_way : bool
        It is being finished.
    despite : tuple of str
        What speaks against sending it out, whatever is decided; it can be cleared in spite of it.
    is_own : bool
        Whoever asks read it, and the programme wants another reviewer.
    next_on_desk : Summary or None
        Once it left the desk: another reading for the same day that is on it.
    """

    zone: str
    seen: SeenReading
    heard: HeardSound
    review: ReviewDepth
    state: ReadingState
    state_set: Edit | None
    revision: int
    things: tuple[Thing, ...]
    observations: tuple[tuple[float, Observation], ...]
    last: int | None
    hindrances: tuple[str, ...]
    is_under_way: bool
    despite: tuple[str, ...]
    is_own: bool
    next_on_desk: Summary | None

    @property
    def wants_finishing(self) -> bool:
        """Something is to be carried out, or heard, that finishing does."""
        is_unheard = not self.heard.is_heard and self.review != "none"
        unmade = any(not one.is_made and one not in self.to_read_again for one in self.things)
        return not self.is_under_way and (self.heard.is_outdated or is_unheard or unmade)

    @property
    def last_state(self) -> int | None:
        """The number of the clearing or return that it stands on; None elsewhere."""
        if self.state not in AWAY or self.state_set is None:
            return None
        return self.state_set.number

    @property
    def to_read_again(self) -> tuple[Thing, ...]:
        """What its reader is to read again."""
        return tuple(
            one for one in self.things if one.decided and one.decided.what.decision == "read again"
        )


def see_review(reading_id: str, who: str, tools: Tools) -> SeenReview:
    """Gather what the page of a reading shows to whoever clears it.

    Parameters
    ----------
    who : str
        The account that asks; empty at a station without accounts.

    Raises
    ------
    NotFound
        If there is no such reading.
    Damaged
        If a file of it is not as it was written.
    """
    folder = find_reading(tools.data, reading_id)
    row = index_as_it_is(folder, tools)
    seen = see_reading(reading_id, tools)
    station = tools.database.load_station()
    programme = programme_in(station, row.programme_key)
    depth = programme.review if programme else USUAL_REVIEW
    heard = heard_sound(row, folder, seen.report, seen.words, tools)
    things = things_to_decide(heard, folder.standing)
    mark = read_mark(folder.path)
    is_under_way = mark is not None and mark.ending is None
    return SeenReview(
        zone=station.zone,
        seen=seen,
        heard=heard,
        review=depth,
        state=folder.state,
        state_set=_state_set(folder),
        revision=folder.revision,
        things=things,
        observations=_observations(review(folder.standing), heard),
        last=last_of(folder, who or DESK),
        hindrances=what_hinders(things, heard, depth, is_under_way=is_under_way),
        is_under_way=is_under_way,
        despite=speaks_against(heard, seen.report),
        is_own=is_own(folder.facts, programme, who),
        next_on_desk=_next_on_desk(row, tools) if folder.state in AWAY else None,
    )


def programme_in(station: Station, key: str) -> Programme | None:
    """Give a programme as the plan has it now; None where it is not in there any more."""
    return next((one for one in station.programmes if one.key == key), None)


def last_of(folder: ReadingFolder, author: str) -> int | None:
    """Give the number of the last entry of somebody at the desk that can be taken back."""
    desk = _desk_entries(folder)
    mine = [edit.number for edit in desk if edit.author == author]
    if folder.state != "handed in":
        # Once it is cleared or returned, that comes first.
        mine = [number for number in mine if desk and number == desk[-1].number]
    return mine[-1] if mine else None


def _next_on_desk(row: ReadingRow, tools: Tools) -> Summary | None:
    if row.air_date is None:
        return None
    waiting = tools.database.readings(air_date=row.air_date, state="handed in")
    first = next((other for other in waiting if other.reading_id != row.reading_id), None)
    return None if first is None else summary_of(first)


def _desk_entries(folder: ReadingFolder) -> list[Edit]:
    """Give what counts of all that was entered since the reading was handed in."""
    found: list[Edit] = []
    for edit in counting(folder.standing):
        match edit.what:
            case StateSet(state="cleared" | "returned") | Decided() | Remarked() | ArticleStarted():
                found.append(edit)
            case Undo():
                pass
            case _:
                found.clear()
    return found


def _state_set(folder: ReadingFolder) -> Edit | None:
    set_to = [edit for edit in counting(folder.standing) if isinstance(edit.what, StateSet)]
    return set_to[-1] if set_to else None


def _observations(decided: Review, heard: HeardSound) -> tuple[tuple[float, Observation], ...]:
    return tuple(
        (heard.seconds(one.what.place, one.what.place)[0], one) for one in decided.observations
    )
