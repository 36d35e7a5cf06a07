"""Late readings: what comes from a journal after its reading has gone on elsewhere."""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from quietleaf.booth.edits import TakeRolled, TakeSealed
from quietleaf.booth.replay import state
from quietleaf.booth.wire import SOUND, Progress, Record
from quietleaf.errors import NotFound
from quietleaf.planning.message import Message
from quietleaf.storage.reading_folder import ReadingFolder, create_reading, find_reading
from quietleaf.storage.tokens import Token
from quietleaf.work.record_again import CARRIED, takes_of_journal
from quietleaf.work.record_reading import (
    Recorder,
    journal_of,
    journal_seen,
    seal_as_arrived,
)
from quietleaf.work.tools import Tools

OPEN_STATES = ("assigned", "in the booth", "returned")
"""In these a reading takes what comes from a stand."""


def has_gone_on(
    folder: ReadingFolder, journal: str, token: Token, *, is_asked: bool = False
) -> bool:
    """Say whether a reading went on without this journal, so that its rest must not be mixed in.

    Parameters
    ----------
    token : Token
        The pass that the journal was begun with: what another journal rolled since then, its
        reader did not know of.
    is_asked : bool
        Whether its reader is told who records, and took the reading over or may do so.
    """
    if state(folder.standing) not in OPEN_STATES:
        return True
    rolled = [edit for edit in folder.ledger() if isinstance(edit.what, TakeRolled)]
    if not rolled or journal_of(rolled[-1]) == journal:
        return False
    is_known = any(journal_of(edit) == journal for edit in folder.ledger())
    return is_known or (not is_asked and rolled[-1].at > token.made_at)


class LateRecorder:
    """Takes what is left of a journal into a reading of its own, made when the first of it comes.

    Parameters
    ----------
    root : Path
        The folder that holds ``readings/``.
    recorder_of : callable
        Opens a recorder on a reading's folder, for so many earlier entries and takes.
    """

    def __init__(
        self,
        root: Path,
        folder: ReadingFolder,
        journal: str,
        token: Token,
        tools: Tools,
        recorder_of: Callable[[ReadingFolder, int, int], Recorder],
    ) -> None:
        self._root = root
        self._folder = folder
        self._journal = journal
        self._token = token
        self._tools = tools
        self._reader = token.reader or ""
        self._recorder_of = recorder_of
        here = journal_seen(folder.ledger(), journal)
        if here.take is not None:
            # A later roll would have sealed it, so it is the last, and nobody writes it.
            seal_as_arrived(folder, self._reader, tools)
        self._here = Progress(entries=here.entries, samples=_cut_short_at(folder, journal))
        self._inner: Recorder | None = None
        # Without one, nothing of it has come yet; perhaps nothing is left.
        with suppress(NotFound):
            self._inner = self._recorder_on(find_reading(root, self._reading_id))

    @property
    def is_rolling(self) -> bool:
        """Say whether a take is open."""
        return self._inner is not None and self._inner.is_rolling

    def progress(self) -> Progress:
        """Say how far the journal is on the disk."""
        return self._here if self._inner is None else self._inner.progress()

    def take_and_confirm(self, records: Sequence[Record]) -> Progress:
        """Take records as `Recorder.take_and_confirm` does."""
        if self._inner is None:
            if all(self._came_before(record) for record in records):
                return self._here
            facts = replace(self._folder.facts, reading_id=self._reading_id)
            late = create_reading(self._root, facts, self._tools.clock(), self._reader)
            self._inner = self._recorder_on(late)
        return self._inner.take_and_confirm(records)

    def close(self) -> None:
        """Let go of the take."""
        if self._inner is not None:
            self._inner.close()

    @property
    def _reading_id(self) -> str:
        return f"late-{hashlib.sha256(self._journal.encode()).hexdigest()[:8]}"

    def _came_before(self, record: Record) -> bool:
        if record.entries != self._here.entries:
            return record.entries < self._here.entries
        return record.kind == SOUND and record.first + record.samples <= self._here.samples

    def _recorder_on(self, late: ReadingFolder) -> Recorder:
        """Open the late reading; what a stop left out between its first steps is done here."""
        began = any(isinstance(edit.what, TakeRolled) for edit in late.ledger())
        takes = takes_of_journal(self._folder.ledger(), self._journal)
        if self._here.samples and not began:
            last = self._folder.takes()[takes[-1].take - 1]
            late.roll(
                last.sample_rate_hz,
                author=self._reader,
                at=self._tools.clock(),
                origin=last.origin,
                edit_id=f"{self._journal}:{CARRIED}{self._here.samples}",
            ).close()
        self._tell_desk(late)
        # The end of one that was cut short lies here, so it is the first here.
        return self._recorder_of(
            late, self._here.entries, len(takes) - (1 if self._here.samples else 0)
        )

    def _tell_desk(self, late: ReadingFolder) -> None:
        told = self._tools.database.messages(since=late.ledger()[0].at)
        if any(each.kind == "late-sound" and each.reading_id == self._reading_id for each in told):
            return
        self._tools.database.add_message(
            Message(
                message_id=uuid.uuid4().hex,
                kind="late-sound",
                at=self._tools.clock(),
                booth=self._token.booth,
                reader=self._reader,
                assignment_key=late.facts.assignment_key,
                reading_id=self._reading_id,
                text="",
                seen_at=None,
            )
        )


def _cut_short_at(folder: ReadingFolder, journal: str) -> int:
    """Give the length of the journal's last take if the station sealed it; 0 if it came whole."""
    takes = takes_of_journal(folder.ledger(), journal)
    for edit in folder.ledger():
        what = edit.what
        if takes and isinstance(what, TakeSealed) and what.take == takes[-1].take:
            return 0 if journal_of(edit) == journal else what.samples
    return 0
