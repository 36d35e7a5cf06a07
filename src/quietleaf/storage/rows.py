"""Rows become records here, and records rows, by hand."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import datetime, time
from typing import Any

from sqlalchemy import Row, Table

from quietleaf.booth.reading import HandIn
from quietleaf.planning.assignment import Assignment, with_keys
from quietleaf.planning.booth import Booth
from quietleaf.planning.message import Message
from quietleaf.planning.outlet import Outlet
from quietleaf.planning.programme import Programme
from quietleaf.planning.publication import Publication
from quietleaf.planning.station import Station
from quietleaf.storage.index_rows import MasterRow, ReadingRow
from quietleaf.storage.schema import tables
from quietleaf.storage.tokens import Token
from quietleaf.units import Window

Values = list[dict[str, Any]]


def rows_of_station(station: Station) -> list[tuple[Table, Values]]:
    """Write all that is planned as rows, in the order in which they can be put in."""
    return [
        (
            tables.STATION,
            [
                {
                    "id": 1,
                    "name": station.name,
                    "note": station.note,
                    "zone": station.zone,
                    "originator": station.originator,
                    "place": station.place,
                    "tidy_list": json.dumps(station.tidy_list, ensure_ascii=False),
                    "outlets": json.dumps([asdict(one) for one in station.outlets]),
                }
            ],
        ),
        (
            tables.PUBLICATIONS,
            [
                {
                    "key": publication.key,
                    "position": position,
                    "title": publication.title,
                    "kind": publication.kind,
                    "appears": publication.appears,
                    "author": publication.author,
                    "publisher": publication.publisher,
                    "year": publication.year,
                }
                for position, publication in enumerate(station.publications)
            ],
        ),
        (
            tables.PROGRAMMES,
            [
                _row_of_programme(position, programme)
                for position, programme in enumerate(station.programmes)
            ],
        ),
        (
            tables.READERS,
            [
                {"name": reader, "position": position}
                for position, reader in enumerate(station.readers)
            ],
        ),
        (
            tables.BOOTHS,
            [
                {"key": booth.key, "position": position, "name": booth.name}
                for position, booth in enumerate(station.booths)
            ],
        ),
        (
            tables.ASSIGNMENTS,
            [
                {
                    "key": assignment.key,
                    "position": position,
                    "programme_key": assignment.programme_key,
                    "issue_date": assignment.issue_date,
                    "air_date": assignment.air_date,
                    "readers": json.dumps(assignment.readers, ensure_ascii=False),
                    "part": assignment.part,
                    "booth": assignment.booth,
                    "reads_at": _text_of_moment(assignment.reads_at),
                }
                for position, assignment in enumerate(with_keys(station.assignments))
            ],
        ),
    ]


def station_of_rows(found: Mapping[str, Sequence[Row[Any]]]) -> Station:
    """Read all that is planned from each table's rows."""
    (head,) = found["station"]
    return Station(
        name=head.name,
        note=head.note,
        zone=head.zone,
        originator=head.originator,
        place=head.place,
        tidy_list=tuple(json.loads(head.tidy_list)),
        outlets=tuple(Outlet(**one) for one in json.loads(head.outlets)),
        booths=tuple(Booth(key=row.key, name=row.name) for row in found["booths"]),
        publications=tuple(
            Publication(
                key=row.key,
                title=row.title,
                kind=row.kind,
                appears=row.appears,
                author=row.author,
                publisher=row.publisher,
                year=row.year,
            )
            for row in found["publications"]
        ),
        programmes=tuple(_programme_of_row(row) for row in found["programmes"]),
        readers=tuple(row.name for row in found["readers"]),
        assignments=tuple(
            Assignment(
                programme_key=row.programme_key,
                issue_date=row.issue_date,
                air_date=row.air_date,
                readers=tuple(json.loads(row.readers)),
                part=row.part,
                key=row.key,
                booth=row.booth,
                reads_at=_moment_of_text(row.reads_at),
            )
            for row in found["assignments"]
        ),
    )


def row_of_reading(reading: ReadingRow) -> dict[str, Any]:
    """Write a reading of the index as a row; its masters have their own."""
    return {
        "reading_id": reading.reading_id,
        "programme_key": reading.programme_key,
        "programme_title": reading.programme_title,
        "publication": reading.publication,
        "issue_date": reading.issue_date,
        "readers": json.dumps(reading.readers, ensure_ascii=False),
        "air_date": reading.air_date,
        "folder": reading.folder,
        "state": reading.state,
        "revision": reading.revision,
        "takes": reading.takes,
        "duration_s": reading.duration_s,
        "assignment_key": reading.assignment_key,
        "hand_in": None
        if reading.hand_in is None
        else json.dumps(asdict(reading.hand_in), ensure_ascii=False),
    }


def row_of_master(reading_id: str, master: MasterRow) -> dict[str, Any]:
    """Write a master of the index as a row."""
    return {
        "reading_id": reading_id,
        "kind": master.kind,
        "path": master.path,
        "bytes": master.bytes,
        "sha256": master.sha256,
        "facts": json.dumps(dict(master.facts), ensure_ascii=False, allow_nan=False),
    }


def reading_of_row(row: Row[Any], masters: Sequence[Row[Any]]) -> ReadingRow:
    """Read a reading of the index from its row and those of its masters."""
    return ReadingRow(
        reading_id=row.reading_id,
        programme_key=row.programme_key,
        programme_title=row.programme_title,
        publication=row.publication,
        issue_date=row.issue_date,
        readers=tuple(json.loads(row.readers)),
        air_date=row.air_date,
        folder=row.folder,
        state=row.state,
        revision=row.revision,
        takes=row.takes,
        duration_s=row.duration_s,
        assignment_key=row.assignment_key,
        hand_in=_hand_in_of_text(row.hand_in),
        masters=tuple(
            MasterRow(
                kind=master.kind,
                path=master.path,
                bytes=master.bytes,
                sha256=master.sha256,
                facts=json.loads(master.facts),
            )
            for master in masters
        ),
    )


def row_of_token(token: Token) -> dict[str, Any]:
    """Write a token as a row."""
    return {
        "sha256": token.sha256,
        "purpose": token.purpose,
        "booth": token.booth,
        "reader": token.reader,
        "reading": token.reading,
        "account": token.account,
        "made_at": _text_of_moment(token.made_at),
        "expires_at": _text_of_moment(token.expires_at),
        "ended_at": _text_of_moment(token.ended_at),
    }


def token_of_row(row: Row[Any]) -> Token:
    """Read a token."""
    return Token(
        sha256=row.sha256,
        purpose=row.purpose,
        booth=row.booth,
        reader=row.reader,
        reading=row.reading,
        account=row.account,
        made_at=datetime.fromisoformat(row.made_at),
        expires_at=_moment_of_text(row.expires_at),
        ended_at=_moment_of_text(row.ended_at),
    )


def row_of_message(message: Message) -> dict[str, Any]:
    """Write a message as a row."""
    return {
        **asdict(message),
        "at": _text_of_moment(message.at),
        "seen_at": _text_of_moment(message.seen_at),
    }


def message_of_row(row: Row[Any]) -> Message:
    """Read a message."""
    return Message(
        message_id=row.message_id,
        kind=row.kind,
        at=datetime.fromisoformat(row.at),
        booth=row.booth,
        reader=row.reader,
        assignment_key=row.assignment_key,
        reading_id=row.reading_id,
        text=row.text,
        seen_at=_moment_of_text(row.seen_at),
    )


def text_of_moment(moment: datetime) -> str:
    """Write a moment so that texts sort as moments do.

    Examples
    --------
    >>> from datetime import UTC
    >>> text_of_moment(datetime(2026, 11, 25, 9, 30, tzinfo=UTC))
    '2026-11-25T09:30:00.000000+00:00'
    """
    return moment.isoformat(timespec="microseconds")


def _text_of_moment(moment: datetime | None) -> str | None:
    return None if moment is None else text_of_moment(moment)


def _moment_of_text(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)


def _hand_in_of_text(text: str | None) -> HandIn | None:
    if text is None:
        return None
    members = json.loads(text)
    return HandIn(**{**members, "tidied": tuple(members["tidied"])})


def _row_of_programme(position: int, programme: Programme) -> dict[str, Any]:
    window = programme.window
    return {
        "key": programme.key,
        "position": position,
        "title": programme.title,
        "publication": programme.publication,
        "slot_s": programme.slot_s,
        "window_shortest_s": None if window is None else window.shortest_s,
        "window_longest_s": None if window is None else window.longest_s,
        "opening_words": programme.opening_words,
        "closing_words": programme.closing_words,
        "weekdays": json.dumps(programme.weekdays),
        "air_times": json.dumps([at.isoformat() for at in programme.air_times]),
        "serial": programme.serial,
        "review": programme.review,
        "other_reviewer": programme.other_reviewer,
    }


def _programme_of_row(row: Row[Any]) -> Programme:
    window = (
        None
        if row.window_shortest_s is None
        else Window(shortest_s=row.window_shortest_s, longest_s=row.window_longest_s)
    )
    return Programme(
        key=row.key,
        title=row.title,
        publication=row.publication,
        slot_s=row.slot_s,
        window=window,
        opening_words=row.opening_words,
        closing_words=row.closing_words,
        weekdays=tuple(json.loads(row.weekdays)),
        air_times=tuple(time.fromisoformat(at) for at in json.loads(row.air_times)),
        serial=row.serial,
        review=row.review,
        other_reviewer=row.other_reviewer,
    )
