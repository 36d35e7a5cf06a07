"""Record a reading: records of a journal become takes and entries on the disk, in their order.

How far a journal has got is read from the ledger and the sums of its take, and kept nowhere else;
so what is on the disk and what is said of it cannot disagree after a crash.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from quietleaf.booth.corrections import is_sent_back
from quietleaf.booth.edits import (
    ArticleStarted,
    Edit,
    Happening,
    SoundMissing,
    TakeSealed,
    WordsBegun,
)
from quietleaf.booth.wire import (
    BYTES_A_SAMPLE,
    SOUND,
    Again,
    Article,
    Entry,
    Missing,
    Progress,
    Record,
    Rolled,
    Sealed,
    Words,
    entry_of,
    joined,
)
from quietleaf.errors import Conflict, Invalid, NotAllowed
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.takes import TakeWriter
from quietleaf.work.record_again import enter_again, takes_of_journal
from quietleaf.work.tools import Tools

ARRIVED = "as far as it had arrived"


class SendAgain(Exception):
    """Something is missing or not as it was sent: the journal is asked for again from here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JournalSeen:
    """What a ledger has of a journal.

    Attributes
    ----------
    entries : int
        Of its numbered ones.
    take : int or None
        The take that it rolled last; None if none, or if that is sealed.
    shift : int
        Which sample of the journal's take is that take's first: 0, unless its beginning lies in
        another reading.
    """

    entries: int
    take: int | None
    shift: int


def journal_of(edit: Edit) -> str:
    """Name the journal that an entry came from; empty or another word where it came otherwise."""
    return edit.edit_id.partition(":")[0]


def journal_seen(edits: Sequence[Edit], journal: str) -> JournalSeen:
    """Read from a ledger how far a journal has got in it."""
    which = [edit.edit_id.partition(":")[2] for edit in edits if journal_of(edit) == journal]
    entries = max((int(index) + 1 for index in which if index.isdigit()), default=0)
    sealed = {edit.what.take for edit in edits if isinstance(edit.what, TakeSealed)}
    last = takes_of_journal(edits, journal)[-1:]
    if not last or last[0].take in sealed:
        return JournalSeen(entries=entries, take=None, shift=0)
    return JournalSeen(entries=entries, take=last[0].take, shift=last[0].shift)


def seal_as_arrived(folder: ReadingFolder, author: str, tools: Tools) -> None:
    """Seal every take that is open, at what the disk has of it: nobody goes on with them.

    Raises
    ------
    Conflict
        If somebody is writing one.
    """
    for take in folder.reload().takes():
        if take.samples is None:
            origin = f"{take.origin}, {ARRIVED}" if take.origin else ARRIVED
            folder.seal(folder.resume(take.take), origin=origin, author=author, at=tools.clock())


class Recorder:
    """Writes what one journal brings into one reading. Any thread may ask, one at a time.

    Parameters
    ----------
    earlier, takes_before : int
        Entries of the journal, and takes, that lie in another reading.
    room_bytes : int, optional
        So much more sound the reading may have.
    on_changed : callable
        Told when a take has begun or ended, and when this recorder closes.
    on_sealed : callable
        Told of each take that is complete.

    Raises
    ------
    Conflict
        If somebody else is writing the take.
    Damaged
        If it is not as it was written.
    """

    def __init__(
        self,
        folder: ReadingFolder,
        journal: str,
        author: str,
        tools: Tools,
        *,
        earlier: int = 0,
        takes_before: int = 0,
        room_bytes: int | None = None,
        on_changed: Callable[[ReadingFolder], None],
        on_sealed: Callable[[ReadingFolder, int], None],
    ) -> None:
        self.folder = folder
        self.journal = journal
        self._author = author
        self._tools = tools
        self._on_changed = on_changed
        self._on_sealed = on_sealed
        self._takes_before = takes_before
        self._one_at_a_time = threading.Lock()
        self._closed = False
        seen = journal_seen(folder.reload().ledger(), journal)
        self._entries = max(seen.entries, earlier)
        self._shift = seen.shift
        self._writer: TakeWriter | None = None
        self._samples = 0
        if seen.take is not None:
            self._writer = folder.resume(seen.take)
            self._samples = seen.shift + self._writer.durable_samples
        self._room_bytes = room_bytes

    @property
    def is_rolling(self) -> bool:
        """Say whether a take is open."""
        return self._writer is not None

    def progress(self) -> Progress:
        """Say how far the journal is on the disk."""
        durable = 0 if self._writer is None else self._shift + self._writer.durable_samples
        return Progress(entries=self._entries, samples=durable)

    def take_and_confirm(self, records: Sequence[Record]) -> Progress:
        """Take records in their order, and come back when all of them are on the disk.

        Raises
        ------
        SendAgain
            If one is missing or was damaged on its way; those before it are on the disk.
        Invalid
            If they do not hold together.
        NotAllowed
            If there would be more sound than the reading may have.
        Conflict
            If the reading does not take them any more, or this recorder was closed.
        Unavailable
            If the disk does not take them.
        """
        with self._one_at_a_time:
            if self._closed:
                raise Conflict("wire/closed", "This reading is being recorded on another line.")
            try:
                for record in joined(records):
                    self._take_one(record)
            except (SendAgain, Invalid, NotAllowed):
                self._sync()
                raise
            self._sync()
            return self.progress()

    def close(self) -> None:
        """Let go of the take; what was confirmed stays."""
        with self._one_at_a_time:
            if self._closed:
                return
            self._closed = True
            if self._writer is not None:
                self._writer.close()
                self._writer = None
            self._on_changed(self.folder)

    def _sync(self) -> None:
        if self._writer is not None:
            self._writer.sync()

    def _take_one(self, record: Record) -> None:
        if not record.whole or record.entries > self._entries:
            raise SendAgain
        if record.entries < self._entries:
            return  # it came twice
        if record.kind == SOUND:
            self._take_sound(record)
        else:
            self._take_entry(entry_of(record.payload))

    def _take_sound(self, record: Record) -> None:
        came_before = self._samples - record.first
        if came_before >= record.samples:
            return  # it came twice
        if self._writer is None:
            raise Invalid("wire/sound", "Sound came from the stand with no take begun for it.")
        if came_before < 0:
            raise SendAgain
        new = record.payload[came_before * BYTES_A_SAMPLE :]
        if self._room_bytes is not None:
            self._room_bytes -= len(new)
            if self._room_bytes < 0:
                raise NotAllowed(
                    "practice/long",
                    "A practice takes about half an hour of sound, and this one is full. What you "
                    "read so far is there: hand it in, or begin another one.",
                )
        self._samples = self._shift + self._writer.append(new)

    def _take_entry(self, entry: Entry) -> None:
        edit_id = f"{self.journal}:{self._entries}"
        match entry:
            case Rolled():
                self._roll(entry, edit_id)
            case Sealed():
                self._seal(entry, edit_id)
            case Again():
                self._again(entry)
            case _:
                self._mark(entry, edit_id)
        self._entries += 1

    def _roll(self, entry: Rolled, edit_id: str) -> None:
        if self._writer is not None:
            raise Invalid("wire/rolled", "A take was begun at the stand before the last had ended.")
        seal_as_arrived(self.folder, self._author, self._tools)
        self._writer = self.folder.roll(
            entry.sample_rate_hz,
            author=self._author,
            at=self._tools.clock(),
            origin=entry.origin,
            edit_id=edit_id,
            **self._apart(entry),
        )
        self._samples = self._shift = 0
        self._on_changed(self.folder)

    def _apart(self, entry: Rolled) -> dict[str, int]:
        """Say what a take stands apart for; nothing where this reading asked for no such thing."""
        read_for = entry.read_for
        asked = {edit.number for edit in self.folder.ledger() if is_sent_back(edit.what)}
        if read_for is None or read_for not in asked:
            return {}
        takes = self.folder.takes()
        first_take = len(takes) + 1
        if not entry.fresh and takes and takes[-1].read_for == read_for:
            first_take = takes[-1].first_take or first_take
        return {"read_for": read_for, "first_take": first_take}

    def _seal(self, entry: Sealed, edit_id: str) -> None:
        writer = self._open()
        if entry.samples > self._samples:
            raise SendAgain
        if entry.samples < self._samples:
            raise Invalid(
                "wire/sealed",
                f"The stand says that its take has {entry.samples} samples; {self._samples} came.",
            )
        take = int(writer.path.stem)
        known = {each.take: each for each in self.folder.takes()}[take]
        self.folder.seal(
            writer,
            origin=known.origin,
            author=self._author,
            at=self._tools.clock(),
            edit_id=edit_id,
        )
        self._writer = None
        self._samples = self._shift = 0
        self._on_changed(self.folder)
        self._on_sealed(self.folder, take)

    def _mark(self, entry: Article | Words | Missing, edit_id: str) -> None:
        writer = self._open()
        sample = max(entry.sample - self._shift, 0)
        if entry.sample > self._samples:
            raise SendAgain
        writer.sync()  # an entry never speaks of sound that is not on the disk
        take = int(writer.path.stem)
        what: Happening
        match entry:
            case Article():
                what = ArticleStarted(take=take, sample=sample, title=entry.title)
            case Words():
                what = WordsBegun(which=entry.which, take=take, sample=sample)
            case Missing():
                what = SoundMissing(
                    take=take, sample=sample, samples=entry.samples, reason=entry.reason
                )
        self.folder.append(what, author=self._author, at=self._tools.clock(), edit_id=edit_id)

    def _again(self, entry: Again) -> None:
        if self._writer is not None:
            if self._is_open(entry.take) and entry.mark > self._samples:
                raise SendAgain
            self._writer.sync()
        enter_again(
            self.folder,
            entry,
            journal=self.journal,
            index=self._entries,
            takes_before=self._takes_before,
            author=self._author,
            tools=self._tools,
        )

    def _is_open(self, take: int) -> bool:
        """Say whether a take, as the journal counts, is the one that is being recorded."""
        begun = takes_of_journal(self.folder.ledger(), self.journal)
        return take == self._takes_before + len(begun)

    def _open(self) -> TakeWriter:
        if self._writer is None:
            raise Invalid("wire/no-take", "Something was marked at the stand with no take begun.")
        return self._writer
