"""A reading is a folder: its ledger, its takes, what was measured, what was made.

::

    readings/<programme key>/<issue date>-<id>/
      ledger.jsonl            booth.ledger
      takes/0001.wav, .sums   storage.takes, storage.take_reader
      measures/…              recomputable
      masters/…               recomputable; masters/made.json says what is there

A new reading is made under a name that begins with a dot and gets its own name in one step, when
all that belongs to it is on the disk: nobody ever sees half of one.
"""

from __future__ import annotations

import os
import re
import shutil
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Self

from quietleaf.booth.edits import Edit, Happening, Opened, TakeRolled, TakeSealed
from quietleaf.booth.reading import ReadingFacts, ReadingState
from quietleaf.booth.replay import Standing, TakeFacts, facts, replay, state, takes, timeline
from quietleaf.booth.timeline import Timeline
from quietleaf.errors import Conflict, Damaged, Invalid, NotFound
from quietleaf.storage import disk
from quietleaf.storage.ledger_file import append_edit, read_ledger_file
from quietleaf.storage.take_reader import TakeReader
from quietleaf.storage.take_sums import read_sums
from quietleaf.storage.takes import TakeWriter, begin_take, resume_take

LEDGER = "ledger.jsonl"
_NAME = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_UNFINISHED = ".opening-"


class ReadingFolder:
    """One reading on the disk, as it stood when it was opened or last added to.

    Attributes
    ----------
    path : Path
        The folder.
    standing : Standing
        Its entries, replayed.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.standing: Standing = replay(read_ledger_file(path / LEDGER).edits)
        if not self.standing.edits:
            raise Damaged(
                "reading/empty",
                f"The ledger of {path.name} has no whole line. "
                "Bring this reading's folder back from a backup.",
            )
        if not isinstance(self.standing.edits[0].what, Opened):
            raise Damaged(
                "reading/not-opened",
                f"The ledger of {path.name} does not begin with what the reading is for. "
                "Bring this reading's folder back from a backup.",
            )

    @property
    def facts(self) -> ReadingFacts:
        """What the reading is for."""
        return facts(self.standing)

    @property
    def state(self) -> ReadingState:
        """Where it has got to."""
        return state(self.standing)

    @property
    def revision(self) -> int:
        """The number of its last entry."""
        return self.standing.revision

    def ledger(self) -> tuple[Edit, ...]:
        """Give all entries, in order."""
        return self.standing.edits

    def takes(self) -> tuple[TakeFacts, ...]:
        """Give every take that the ledger knows, in order."""
        return tuple(takes(self.standing).values())

    def timeline(self) -> Timeline:
        """Give the reading as it stands; a take that is still recorded counts as confirmed."""
        recorded = {
            take.take: sum(record.samples for record in read_sums(self.take_path(take.take)))
            for take in self.takes()
            if take.samples is None
        }
        return timeline(self.standing, recorded)

    def reload(self) -> Self:
        """See what others have added since."""
        self.standing = replay(read_ledger_file(self.path / LEDGER).edits)
        return self

    def append(
        self,
        what: Happening,
        *,
        author: str,
        at: datetime,
        revision: int | None = None,
        edit_id: str | None = None,
    ) -> Edit:
        """Add an entry; come back when it is on the disk.

        Parameters
        ----------
        what : Happening
            One of the kinds in `quietleaf.booth.edits`.
        at : datetime.datetime
            Aware UTC.
        revision : int, optional
            What the author had seen; without it, what this object had.
        edit_id : str, optional
            The author's own id for it, so that asking twice enters it once; without it, a new one.

        Raises
        ------
        Conflict
            If the reading has changed and that matters, or its state does not allow it.
        Invalid
            If it does not hold together.
        """
        seen = self.revision if revision is None else revision
        chosen_id = edit_id or uuid.uuid4().hex

        def propose(standing: Standing) -> Edit:
            return Edit(
                number=standing.revision + 1,
                edit_id=chosen_id,
                author=author,
                at=at,
                revision=seen,
                what=what,
            )

        self.standing = append_edit(self.path / LEDGER, propose)
        return next(edit for edit in self.standing.edits if edit.edit_id == chosen_id)

    def take_path(self, take: int) -> Path:
        """Name the WAV of a take."""
        return self.path / "takes" / f"{take:04d}.wav"

    def next_take(self, sample_rate_hz: int) -> TakeWriter:
        """Begin the take after those that the ledger knows; the ledger hears of it by `seal`.

        For what is brought in whole. What is recorded live uses `roll`, so that it is known from
        its first sample on.
        """
        return begin_take(self.take_path(len(self.takes()) + 1), sample_rate_hz)

    def roll(
        self,
        sample_rate_hz: int,
        *,
        author: str,
        at: datetime,
        origin: str = "",
        edit_id: str | None = None,
        read_for: int | None = None,
        first_take: int | None = None,
    ) -> TakeWriter:
        """Begin the next take, and tell the ledger that it rolls.

        Parameters
        ----------
        read_for, first_take : int, optional
            Of a take that stands apart; see `TakeRolled`.
        """
        take = len(self.takes()) + 1
        writer = self.next_take(sample_rate_hz)
        try:
            rolled = TakeRolled(
                take=take,
                sample_rate_hz=sample_rate_hz,
                origin=origin,
                read_for=read_for,
                first_take=first_take,
            )
            self.append(rolled, author=author, at=at, edit_id=edit_id)
        except BaseException:
            writer.close()
            raise
        return writer

    def resume(self, take: int) -> TakeWriter:
        """Go on with a take that rolled and is not sealed.

        Raises
        ------
        Conflict
            If it is sealed, or somebody is writing it.
        NotFound
            If the ledger does not know it.
        """
        known = self._known(take)
        if known.samples is not None:
            raise Conflict("take/sealed", f"Take {take} is complete; begin a new one.")
        return resume_take(self.take_path(take), known.sample_rate_hz)

    def seal(
        self,
        writer: TakeWriter,
        *,
        origin: str,
        author: str,
        at: datetime,
        edit_id: str | None = None,
    ) -> Edit:
        """Complete a take and tell the ledger."""
        sealed = writer.seal()
        return self.append(
            TakeSealed(
                take=int(writer.path.stem),
                sample_rate_hz=sealed.sample_rate_hz,
                samples=sealed.samples,
                sha256=sealed.sha256,
                origin=origin,
            ),
            author=author,
            at=at,
            edit_id=edit_id,
        )

    def open_take(self, take: int) -> TakeReader:
        """Open a take to read.

        Raises
        ------
        NotFound
            If the ledger does not know it.
        Damaged
            If it is not as long as the ledger says, or not at that rate.
        """
        known = self._known(take)
        reader = TakeReader(self.take_path(take))
        found = reader.info
        if found.sample_rate_hz != known.sample_rate_hz or (
            known.samples is not None and found.frames != known.samples
        ):
            reader.close()
            raise Damaged(
                "reading/take",
                f"Take {take} of {self.path.name} was {known.samples} samples at "
                f"{known.sample_rate_hz} Hz when it was complete; the disk has {found.frames} at "
                f"{found.sample_rate_hz} Hz. Bring the folder back from a backup.",
            )
        return reader

    def check_place(self, data: Path) -> None:
        """Refuse a folder that does not lie where its ledger says.

        Raises
        ------
        Damaged
            If it was moved or renamed.
        """
        belongs = reading_path(data, self.facts)
        if belongs != self.path:
            raise Damaged(
                "reading/place",
                f"By its ledger this folder belongs at {belongs.relative_to(data).as_posix()}. "
                "Put it back there.",
            )

    def _known(self, take: int) -> TakeFacts:
        known = takes(self.standing).get(take)
        if known is None:
            raise NotFound(
                "reading/no-take", f"Reading {self.facts.reading_id} has no take {take}."
            )
        return known


def create_reading(data: Path, facts: ReadingFacts, at: datetime, author: str) -> ReadingFolder:
    """Make the folder of a new reading, with its first entry.

    Raises
    ------
    Conflict
        If the reading is there already.
    Invalid
        If its key or id cannot name a folder.
    """
    with new_reading(data, facts, at=at, author=author) as folder:
        pass
    return folder


@contextmanager
def new_reading(
    data: Path, facts: ReadingFacts, *, at: datetime, author: str
) -> Iterator[ReadingFolder]:
    """Make a new reading with all that is put in it, or nothing at all.

    Within the context the folder can be filled (takes, entries); it appears under its own name
    when the context ends well, and leaves nothing when it does not, by refusal or by Ctrl-C. What
    a crash leaves behind goes with the next `sweep_unfinished`.
    """
    final = reading_path(data, facts)
    if final.exists():
        raise Conflict("reading/there", f"Reading {facts.reading_id} is there already.")
    making = final.with_name(f"{_UNFINISHED}{final.name}")
    if making.exists():
        _sweep(making)
    with disk.refusing(making):
        making.mkdir(parents=True)
    # Held while it is made: by this a sweep knows it from one that a crash left.
    held = disk.open_to_read(making)
    try:
        disk.lock(held, making)
        folder = _fill(making, facts, at, author)
        yield folder
        for name in ("takes", "."):
            disk.sync_folder(making / name)
        disk.move(making, final)
    except BaseException:
        shutil.rmtree(making, ignore_errors=True)
        raise
    finally:
        os.close(held)
    for parent in (final.parent, final.parent.parent, data):
        disk.sync_folder(parent)
    folder.path = final


def _fill(making: Path, facts: ReadingFacts, at: datetime, author: str) -> ReadingFolder:
    with disk.refusing(making):
        for name in ("takes", "measures", "masters"):
            (making / name).mkdir()
    edit = Edit(
        number=1,
        edit_id=uuid.uuid4().hex,
        author=author,
        at=at,
        revision=0,
        what=Opened(facts=facts),
    )
    append_edit(making / LEDGER, lambda _standing: edit)
    return ReadingFolder(making)


def reading_path(data: Path, facts: ReadingFacts) -> Path:
    """Name a reading's folder.

    Raises
    ------
    Invalid
        If key or id are anything but lower-case letters, digits and single hyphens.
    """
    for what, name in (("programme key", facts.programme_key), ("id", facts.reading_id)):
        if not _NAME.fullmatch(name):
            raise Invalid(
                "reading/name",
                f"A {what} has lower-case letters, digits and hyphens; {name!r} came.",
            )
    folder = f"{facts.issue_date.isoformat()}-{facts.reading_id}"
    return data / "readings" / facts.programme_key / folder


def reading_paths(data: Path) -> list[Path]:
    """Find the folders of all readings, sorted; what is unfinished is not among them."""
    return sorted(
        path
        for path in (data / "readings").glob("*/*")
        if path.is_dir() and not path.name.startswith(".")
    )


def find_reading(data: Path, reading_id: str) -> ReadingFolder:
    """Open a reading by its id alone.

    Raises
    ------
    NotFound
        If no folder ends in it.
    """
    # Thousands are looked through on every page of a stand: by name alone, and unsorted.
    for programme in _folders_in(data / "readings"):
        for path in _folders_in(programme):
            # The folder's name begins with a date of 10 characters and a hyphen.
            if path.name[11:] == reading_id:
                return ReadingFolder(Path(path))
    raise NotFound("reading/not-found", f"There is no reading {reading_id} at this station.")


def _folders_in(path: os.PathLike[str]) -> Iterator[os.DirEntry[str]]:
    try:
        with os.scandir(path) as found:
            yield from (each for each in found if each.is_dir())
    except FileNotFoundError:
        return  # nothing was ever read here


def sweep_unfinished(data: Path) -> int:
    """Remove what was being made when something stopped, and was never a reading; count it."""
    return sum(_sweep(path) for path in (data / "readings").glob(f"*/{_UNFINISHED}*"))


def _sweep(making: Path) -> bool:
    held = disk.open_to_read(making)
    try:
        disk.lock(held, making, wait_s=0.0)
    except Conflict:
        # Somebody is making it at this moment.
        return False
    else:
        shutil.rmtree(making)
        return True
    finally:
        os.close(held)
