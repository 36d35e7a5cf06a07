"""A practice reading, or trying it with one's own voice: never aired, never indexed, deleted.

All of it lies in ``practice/`` of the data folder, and nothing else does.
"""

from __future__ import annotations

import shutil
import uuid
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from quietleaf.booth.reading import ReadingFacts
from quietleaf.errors import NotFound, QuietleafError, Unavailable
from quietleaf.storage import disk
from quietleaf.storage.reading_folder import (
    ReadingFolder,
    create_reading,
    reading_paths,
    sweep_unfinished,
)
from quietleaf.storage.reading_places import PRACTICE, folder_of, place_of, root_of
from quietleaf.storage.tokens import TokenPurpose
from quietleaf.storage.zones import zone_named
from quietleaf.work.practice_words import (
    PROGRAMME_KEY,
    PUBLICATION,
    TITLES,
    VISITOR,
    PracticeKind,
)
from quietleaf.work.tools import Tools

KEPT_FOR = timedelta(days=1)
MOST_AT_ONCE = 20
"""So many at once; beyond, whoever finds the page could fill the disk."""
LARGEST_BYTES = 300_000_000
"""Of sound in one, 35 minutes at 48 kHz, and so often `MOST_AT_ONCE` in all: who finds the page may
practise without an account."""
_BEGINNING = timedelta(hours=1)
"""So long one may stand that nobody has sat down to."""
_LONG_AGO = datetime(1970, 1, 1, tzinfo=UTC)
_OPENING: tuple[TokenPurpose, ...] = ("pass", "sitting")
_GOING = ".leaving-"
_ID_LETTERS = 8
_DATE_LETTERS = 11
"""A folder's name begins with a date of 10 letters and a hyphen."""


def begin_practice(kind: PracticeKind, tools: Tools, reader: str = VISITOR) -> ReadingFolder:
    """Open a practice reading or a try-out.

    Raises
    ------
    Unavailable
        If too many are open already.
    NotFound
        If no station is planned here yet.
    """
    sweep_practice(tools)
    if len(reading_paths(tools.data / PRACTICE)) >= MOST_AT_ONCE:
        raise Unavailable(
            "practice/full",
            f"{MOST_AT_ONCE} people are practising at this station just now, which is all it "
            "takes at once. Please come back in a while.",
        )
    now = tools.clock()
    zone = zone_named(tools.database.load_station().zone)
    facts = ReadingFacts(
        reading_id=f"{kind}-{uuid.uuid4().hex[:_ID_LETTERS]}",
        programme_key=PROGRAMME_KEY,
        programme_title=TITLES[kind],
        publication=PUBLICATION,
        issue_date=now.astimezone(zone).date(),
        readers=(reader,),
        air_date=None,
    )
    place = place_of(PRACTICE, facts.reading_id)
    return create_reading(root_of(tools.data, place), facts, now, reader)


def practice_folder(place: str, tools: Tools) -> ReadingFolder:
    """Open a practice reading.

    Raises
    ------
    NotFound
        If it is gone, or is no practice reading.
    """
    if place.partition(":")[0] != PRACTICE:
        raise NotFound("practice/none", "This is no practice reading.")
    try:
        return folder_of(tools.data, place)
    except NotFound:
        raise NotFound(
            "practice/gone", "This practice reading is deleted. Begin another one if you like."
        ) from None


def room_for_sound(path: Path, tools: Tools) -> int:
    """Say how many bytes of sound a practice reading may still have."""
    all_of_them = _sound_bytes((tools.data / PRACTICE / "readings").glob("*/*/takes/*.wav"))
    own = _sound_bytes((path / "takes").glob("*.wav"))
    return min(LARGEST_BYTES - own, MOST_AT_ONCE * LARGEST_BYTES - all_of_them)


def _sound_bytes(takes: Iterable[Path]) -> int:
    return sum(path.stat().st_size for path in takes)


def leave_practice(place: str, tools: Tools) -> bool:
    """Delete a practice reading with all that belongs to it; say whether it was there.

    Nobody can send sound to it or sit before it any more, then it is moved out of reach, then its
    files go: at whatever point that stops, a sweep finishes it.
    """
    path = _path_of(place, tools.data)
    if path is None:
        return False
    now = tools.clock()
    for purpose in _OPENING:
        for token in tools.database.tokens(purpose=purpose, reading=place):
            if token.ended_at is None:
                tools.database.end_token(token.sha256, now)
    _delete(path)
    return True


def sweep_practice(tools: Tools) -> int:
    """Delete what nobody has open any more, or was begun more than a day ago; count it.

    Only folders of practice readings are touched, and no link is followed.
    """
    root = tools.data / PRACTICE
    if not _is_own(root) or not _is_own(root / "readings"):
        return 0
    now = tools.clock()
    swept = sweep_unfinished(root)
    for path in (root / "readings").glob(f"*/{_GOING}*"):
        if _is_own(path):
            shutil.rmtree(path, ignore_errors=True)
            swept += 1
    for path in _own_paths(tools.data):
        place = place_of(PRACTICE, path.name[_DATE_LETTERS:])
        sittings = tools.database.tokens(purpose="sitting", reading=place)
        age = now - _begun(path)
        left = not any(token.is_live(now) for token in sittings)
        if age > KEPT_FOR or (left and (sittings or age > _BEGINNING)):
            swept += leave_practice(place, tools)
    return swept


def _is_own(path: Path) -> bool:
    return path.is_dir() and not path.is_symlink()


def _own_paths(data: Path) -> list[Path]:
    return [
        path
        for path in reading_paths(data / PRACTICE)
        if _is_own(path) and _is_own(path.parent) and _is_own(path.parent.parent)
    ]


def _path_of(place: str, data: Path) -> Path | None:
    """Find a practice reading by its name alone, so that a damaged one is found too."""
    kind, _, reading_id = place.partition(":")
    if kind != PRACTICE:
        return None
    found = (path for path in _own_paths(data) if path.name[_DATE_LETTERS:] == reading_id)
    return next(found, None)


def _begun(path: Path) -> datetime:
    try:
        return ReadingFolder(path).ledger()[0].at
    except QuietleafError:
        # Nobody can open it: it is as good as old.
        return _LONG_AGO


def _delete(path: Path) -> None:
    going = path.with_name(f"{_GOING}{path.name}")
    disk.move(path, going)
    with disk.refusing(going):
        shutil.rmtree(going)
    disk.sync_folder(path.parent)
