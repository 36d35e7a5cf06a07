"""Who records what at this moment: one writer a reading; another is told, or takes it over."""

from __future__ import annotations

import logging
import re
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from quietleaf.booth.replay import takes
from quietleaf.errors import Conflict, Invalid, NotAllowed, NotFound, QuietleafError
from quietleaf.planning.station import booth_named
from quietleaf.storage.index_rows import reading_row
from quietleaf.storage.reading_folder import ReadingFolder
from quietleaf.storage.reading_places import PRACTICE, folder_of, root_of
from quietleaf.storage.tokens import Token, sha256_of
from quietleaf.work.late_readings import LateRecorder, has_gone_on
from quietleaf.work.practice import room_for_sound
from quietleaf.work.record_reading import Recorder
from quietleaf.work.tools import Tools

LOG = logging.getLogger(__name__)
WRITERS = 32
"""Threads that wait for the disk; a disk takes that many syncs at once with ease."""
_JOURNAL = re.compile(r"[0-9a-f]{32}")


@dataclass(frozen=True, slots=True, kw_only=True)
class WriterSeen:
    """Who records a reading just now.

    Attributes
    ----------
    booth : str or None
        The booth's key; None at home.
    since : datetime
        Aware UTC.
    samples : int
        Of the present take, on the disk; 0 while held.
    """

    booth: str | None
    reader: str
    since: datetime
    is_rolling: bool
    samples: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """An open line from a stand.

    Attributes
    ----------
    late : bool
        What it brings goes into a reading of its own, since the first has gone on.
    """

    place: str
    journal: str
    token: Token
    recorder: Recorder | LateRecorder
    late: bool
    since: datetime
    superseded: Callable[[str], None]


class Recorders:
    """The lines that are open at one station. Any thread may ask.

    ``pool`` has the threads in which records are written; the loop that talks to the stands
    must never wait for a disk.
    """

    def __init__(self, tools: Tools) -> None:
        self._tools = tools
        self._lock = threading.Lock()
        self._lines: dict[str, Line] = {}
        self._chosen: dict[str, str] = {}
        """The journal with which somebody took a reading over, by place."""
        # Opening a reading waits for the disk: those of other readings need not wait for it.
        self._opening = tuple(threading.Lock() for _ in range(WRITERS))
        self.pool = ThreadPoolExecutor(WRITERS, thread_name_prefix="recorder")
        # One at a time, beside the writers: nobody's sound waits for these.
        self._listening = ThreadPoolExecutor(1, thread_name_prefix="listen")
        self._indexing = ThreadPoolExecutor(1, thread_name_prefix="index")
        self._to_index: set[Path] = set()

    def enter(
        self, secret: str, journal: str, *, take_over: bool, superseded: Callable[[str], None]
    ) -> Line:
        """Open a line for a journal.

        Parameters
        ----------
        superseded : callable
            Told with a sentence, from another thread, when somebody else takes the reading over.

        Raises
        ------
        NotAllowed
            If the pass opens nothing (any more).
        Conflict
            If another browser is recording this reading, and it is not to be taken over
            (``wire/busy``).
        """
        if not _JOURNAL.fullmatch(journal):
            raise Invalid("wire/journal", "A journal is named by 32 letters from 0 to f.")
        token = self._pass(secret)
        place = token.reading or ""
        with self._opening[hash(place) % len(self._opening)]:
            try:
                folder = folder_of(self._tools.data, place)
            except NotFound as gone:
                raise _closed_door() from gone
            if take_over:
                self._chosen[place] = journal
            before = self._line(place)
            is_other = before is not None and before.journal != journal
            # While somebody records, whoever comes is asked.
            is_asked = is_other or self._chosen.get(place) == journal
            late = has_gone_on(folder, journal, token, is_asked=is_asked)
            if before is not None and not late:
                if is_other:
                    if not take_over:
                        raise Conflict("wire/busy", self._busy(before))
                    before.superseded(self._taken_over(token))
                before.recorder.close()
            line_place = f"{place} {journal}" if late else place
            stale = self._line(line_place)
            if stale is not None:
                stale.recorder.close()
            line = Line(
                place=line_place,
                journal=journal,
                token=token,
                recorder=self._late(folder.reload(), journal, token)
                if late
                else self._recorder(folder, journal, token),
                late=late,
                since=self._tools.clock(),
                superseded=superseded,
            )
            with self._lock:
                self._lines[line_place] = line
        sealed = [take.take for take in folder.takes() if take.samples is not None]
        if sealed:
            # It may have been sealed in the moment before the station was stopped.
            self._listen(folder, sealed[-1])
        return line

    def leave(self, line: Line) -> None:
        """Close a line; its take stays open on the disk until it is gone on with."""
        # First closed, then forgotten: who comes meanwhile waits for what is still being written,
        # and finds all of it.
        line.recorder.close()
        with self._lock:
            if self._lines.get(line.place) is line:
                del self._lines[line.place]

    def writer_of(self, place: str) -> WriterSeen | None:
        """Say who is recording a reading just now; None if nobody."""
        line = self._line(place)
        if line is None:
            return None
        return WriterSeen(
            booth=line.token.booth,
            reader=line.token.reader or "",
            since=line.since,
            is_rolling=line.recorder.is_rolling,
            samples=line.recorder.progress().samples,
        )

    def close(self) -> None:
        """Close every line, and wait for what is being written."""
        with self._lock:
            lines = list(self._lines.values())
            self._lines.clear()
        for line in lines:
            line.recorder.close()
        self.pool.shutdown()
        self._listening.shutdown(cancel_futures=True)
        self._indexing.shutdown()

    def _line(self, place: str) -> Line | None:
        with self._lock:
            return self._lines.get(place)

    def _pass(self, secret: str) -> Token:
        try:
            token = self._tools.database.token(sha256_of(secret))
        except NotFound as unknown:
            raise _closed_door() from unknown
        if token.purpose != "pass" or not token.is_live(self._tools.clock()):
            raise _closed_door()
        return token

    def _recorder(
        self,
        folder: ReadingFolder,
        journal: str,
        token: Token,
        *,
        earlier: int = 0,
        takes_before: int = 0,
    ) -> Recorder:
        place = token.reading or ""
        is_practice = place.startswith(f"{PRACTICE}:")
        return Recorder(
            folder,
            journal,
            token.reader or "",
            self._tools,
            earlier=earlier,
            takes_before=takes_before,
            room_bytes=room_for_sound(folder.path, self._tools) if is_practice else None,
            on_changed=_unindexed if is_practice else self._index,
            on_sealed=self._listen,
        )

    def _late(self, folder: ReadingFolder, journal: str, token: Token) -> LateRecorder:
        return LateRecorder(
            root_of(self._tools.data, token.reading or ""),
            folder,
            journal,
            token,
            self._tools,
            lambda late, earlier, takes_before: self._recorder(
                late, journal, token, earlier=earlier, takes_before=takes_before
            ),
        )

    def _index(self, folder: ReadingFolder) -> None:
        with self._lock:
            if folder.path in self._to_index:
                return
            self._to_index.add(folder.path)
        self._indexing.submit(self._index_now, folder.path)

    def _index_now(self, path: Path) -> None:
        with self._lock:
            self._to_index.discard(path)
        try:
            self._tools.database.index_reading(reading_row(ReadingFolder(path)))
        except QuietleafError as refusal:
            # The index can be made again from the folders; recording goes on.
            LOG.warning("a reading is not in the index as it is", extra=_told(path, refusal))

    def _listen(self, folder: ReadingFolder, take: int) -> None:
        self._listening.submit(self._listen_now, ReadingFolder(folder.path), take)

    def _listen_now(self, folder: ReadingFolder, take: int) -> None:
        # Its arithmetic takes longer to load than a line to open.
        from quietleaf.work.place_again import place_agains
        from quietleaf.work.place_patch import place_patch
        from quietleaf.work.trim_take import trim_take

        stands_apart = takes(folder.standing)[take].read_for is not None
        for listen in (place_agains, place_patch if stands_apart else trim_take):
            try:
                listen(folder, take, self._tools)
            except QuietleafError as refusal:
                # The take is whole on the disk; its joins and ends can be placed by hand.
                LOG.warning("a take is left as it is", extra=_told(folder.path, refusal))

    def _busy(self, line: Line) -> str:
        return (
            f"{line.token.reader or 'Somebody'} is recording this reading just now, "
            f"{self._where(line.token)}. Wait until that is done, or take it over here."
        )

    def _taken_over(self, token: Token) -> str:
        return (
            f"This reading was taken over {self._where(token)}. What you recorded is safe; what "
            "has not arrived yet is kept here and sent, as a reading of its own."
        )

    def _where(self, token: Token) -> str:
        if token.booth is None:
            return "at home"
        try:
            return f"in {booth_named(self._tools.database.load_station(), token.booth).name}"
        except NotFound:
            return "in another booth"


def _unindexed(_practice: ReadingFolder) -> None:
    """Keep a practice out of the index."""


def _closed_door() -> NotAllowed:
    return NotAllowed(
        "wire/pass",
        "This page may not send sound for this reading any more. Come in again by the booth's page "
        "or your link; what was recorded is kept in this browser.",
    )


def _told(folder: Path, refusal: QuietleafError) -> dict[str, dict[str, str]]:
    """Say of which reading the log tells, and why; folders are named by no person."""
    return {"told": {"reading": folder.name, "code": refusal.code}}
