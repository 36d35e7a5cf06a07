"""A person: everything that the station keeps under a name, and taking the name out of it.

Recordings are the station's. What their folders say, the audit list and backups keep the name; so
an erasure gives the folders, and the documents say why.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime
from typing import Literal

from quietleaf.booth.reading import HandIn, ReadingState
from quietleaf.errors import Conflict, NotFound
from quietleaf.planning.account import Deed, Role, Scope
from quietleaf.planning.message import Message
from quietleaf.planning.person import FORMER_READER
from quietleaf.planning.station import Station
from quietleaf.storage.tokens import Token, TokenPurpose
from quietleaf.work.accounts import accounts_of, end_account, refuse_last_steward
from quietleaf.work.plan_reader import WITH_READER, remove_reader
from quietleaf.work.tools import Tools

FORMAT = "quietleaf/person/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptAssignment:
    """An assignment that names the person."""

    key: str
    programme: str
    issue_date: date
    air_date: date | None
    reads_at: datetime | None
    part: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptReading:
    """A reading that names the person.

    Attributes
    ----------
    folder : str
        Inside the station's data folder: takes, ledger and masters lie there.
    """

    reading_id: str
    programme: str
    issue_date: date
    air_date: date | None
    state: ReadingState
    duration_s: float
    came_in_at: datetime | None
    hand_in: HandIn | None
    folder: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptToken:
    """Something by which the person, or a program of theirs, came in; never its secret."""

    purpose: TokenPurpose
    name: str
    scopes: tuple[Scope, ...]
    booth: str | None
    made_at: datetime
    expires_at: datetime | None
    ended_at: datetime | None
    used_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptAccount:
    """The account, without what is kept of its password and its second factor."""

    roles: tuple[Role, ...]
    made_at: datetime
    ended_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Everything that is kept under a name.

    Attributes
    ----------
    reads : {"yes", "retired", "no"}
        Whether the plan has the name among its readers.
    pace_wpm : float or None
        How many words a minute they read.
    deeds : tuple of Deed
        What their account changed, the newest first.
    """

    format: str
    name: str
    at: datetime
    reads: Literal["yes", "retired", "no"]
    pace_wpm: float | None
    account: KeptAccount | None
    assignments: tuple[KeptAssignment, ...]
    readings: tuple[KeptReading, ...]
    messages: tuple[Message, ...]
    tokens: tuple[KeptToken, ...]
    deeds: tuple[Deed, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Erased:
    """What an erasure left.

    Attributes
    ----------
    folders : tuple of str
        Readings' folders in which the name still stands, inside the station's data folder.
    """

    folders: tuple[str, ...]


def text_of_person(person: Person) -> str:
    """Write everything that is kept as JSON that people can read."""
    return (
        json.dumps(asdict(person), ensure_ascii=False, indent=2, default=lambda at: at.isoformat())
        + "\n"
    )


def people_of(tools: Tools) -> tuple[str, ...]:
    """Give the name of everybody who reads, has read, or has an account, by name."""
    station = _station(tools)
    readers = () if station is None else (*station.readers, *station.retired)
    names = {*readers, *(account.name for account in accounts_of(tools))}
    return tuple(sorted(names, key=lambda name: (name.casefold(), name)))


def see_person(name: str, tools: Tools) -> Person:
    """Gather everything that is kept under a name.

    Raises
    ------
    NotFound
        If nothing is.
    """
    database, station = tools.database, _station(tools)
    reads: Literal["yes", "retired", "no"] = "no"
    assignments: tuple[KeptAssignment, ...] = ()
    if station is not None:
        titles = {programme.key: programme.title for programme in station.programmes}
        reads = "yes" if name in station.readers else "no"
        reads = "retired" if name in station.retired else reads
        assignments = tuple(
            KeptAssignment(
                key=one.key,
                programme=titles[one.programme_key],
                issue_date=one.issue_date,
                air_date=one.air_date,
                reads_at=one.reads_at,
                part=one.part,
            )
            for one in station.assignments
            if name in one.readers
        )
    kept = Person(
        format=FORMAT,
        name=name,
        at=tools.clock(),
        reads=reads,
        pace_wpm=database.pace(name),
        account=_account(name, tools),
        assignments=assignments,
        readings=tuple(
            KeptReading(
                reading_id=row.reading_id,
                programme=row.programme_title,
                issue_date=row.issue_date,
                air_date=row.air_date,
                state=row.state,
                duration_s=row.duration_s,
                came_in_at=row.came_in_at,
                hand_in=row.hand_in,
                folder=row.folder,
            )
            for row in database.readings(reader=name)
        ),
        messages=database.people.messages(name),
        tokens=tuple(_token(token) for token in database.people.tokens(name)),
        deeds=database.accounts.deeds_of(name),
    )
    is_kept = kept.reads != "no" or kept.account is not None or kept.pace_wpm is not None
    if not (is_kept or kept.assignments or kept.readings or kept.messages or kept.tokens):
        raise NotFound("person/nobody", f"Nothing is kept here under the name {name!r}.")
    return kept


def erase_person(name: str, tools: Tools) -> Erased:
    """Take a name out of all that can be changed; asked for again, it goes on where it stopped.

    Raises
    ------
    NotFound
        If nothing is kept under it.
    Conflict
        If they are in the middle of a reading, are to read something, or are the last steward.
    """
    kept = see_person(name, tools)
    if any(reading.state in WITH_READER for reading in kept.readings):
        raise Conflict(
            "person/reads",
            f"{name} has a reading that is not done, and it goes by this name. Erase them when it "
            "is handed in.",
        )
    has_account = kept.account is not None and kept.account.ended_at is None
    if has_account:
        refuse_last_steward(name, tools)
    if kept.reads == "yes":
        remove_reader(name, tools)
    if has_account:
        end_account(name, tools)
    # First what keeps the name from coming back, then the name.
    tools.database.people.remember_erased(name, tools.clock())
    if _station(tools) is not None:
        tools.database.change_station(_without(name))
    tools.database.people.erase(name)
    return Erased(folders=tuple(reading.folder for reading in kept.readings))


def _without(name: str) -> Callable[[Station], Station]:
    def change(station: Station) -> Station:
        return replace(
            station,
            retired=tuple(one for one in station.retired if one != name),
            assignments=tuple(
                replace(
                    one,
                    readers=tuple(FORMER_READER if who == name else who for who in one.readers),
                )
                if name in one.readers
                else one
                for one in station.assignments
            ),
        )

    return change


def _station(tools: Tools) -> Station | None:
    try:
        return tools.database.load_station()
    except NotFound:
        return None


def _account(name: str, tools: Tools) -> KeptAccount | None:
    try:
        account = tools.database.accounts.find(name)
    except NotFound:
        return None
    if account.name != name:
        return None
    return KeptAccount(roles=account.roles, made_at=account.made_at, ended_at=account.ended_at)


def _token(token: Token) -> KeptToken:
    return KeptToken(
        purpose=token.purpose,
        name=token.name,
        scopes=token.scopes,
        booth=token.booth,
        made_at=token.made_at,
        expires_at=token.expires_at,
        ended_at=token.ended_at,
        used_at=token.used_at,
    )
