"""Rows of all but the plan become records here, and records rows, by hand."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Row

from quietleaf.booth.reading import HandIn
from quietleaf.planning.message import Message
from quietleaf.storage.index_rows import MasterRow, ReadingRow
from quietleaf.storage.tokens import Token


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
        "came_in_at": _text_of_moment(reading.came_in_at),
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
        came_in_at=moment_of_text(row.came_in_at),
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
        "name": token.name,
        "scopes": json.dumps(token.scopes),
        "used_at": _text_of_moment(token.used_at),
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
        expires_at=moment_of_text(row.expires_at),
        ended_at=moment_of_text(row.ended_at),
        name=row.name,
        scopes=tuple(json.loads(row.scopes)),
        used_at=moment_of_text(row.used_at),
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
        seen_at=moment_of_text(row.seen_at),
    )


def text_of_moment(moment: datetime) -> str:
    """Write a moment so that texts sort as moments do.

    Examples
    --------
    >>> text_of_moment(datetime(2026, 11, 25, 9, 30, tzinfo=UTC))
    '2026-11-25T09:30:00.000000+00:00'
    """
    return moment.astimezone(UTC).isoformat(timespec="microseconds")


def _text_of_moment(moment: datetime | None) -> str | None:
    return None if moment is None else text_of_moment(moment)


def text_of_name(name: str) -> str:
    """Write a name as it stands in a list of names.

    Examples
    --------
    >>> text_of_name("Ida “the desk” Marsh")
    '"Ida “the desk” Marsh"'
    """
    return json.dumps(name, ensure_ascii=False)


def moment_of_text(text: str | None) -> datetime | None:
    """Read a moment, if there is one."""
    return None if text is None else datetime.fromisoformat(text)


def _hand_in_of_text(text: str | None) -> HandIn | None:
    if text is None:
        return None
    members = json.loads(text)
    return HandIn(**{**members, "tidied": tuple(members["tidied"])})
