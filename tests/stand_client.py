"""A stand without a browser: a journal in memory, and a line that sends it until it is kept."""

from __future__ import annotations

import json
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray
from websockets.exceptions import ConnectionClosed, WebSocketException
from websockets.sync.client import ClientConnection, connect

from quietleaf.booth.wire import (
    ENTRY,
    SOUND,
    Again,
    Article,
    Entry,
    Missing,
    Record,
    Rolled,
    Sealed,
    Words,
    entry_bytes,
    record_bytes,
)
from quietleaf.storage.pcm24 import pcm24_of_samples

CHUNK = 2_048


@dataclass
class Journal:
    """What a browser keeps: records in their order."""

    name: str = field(default_factory=lambda: uuid.uuid4().hex)
    records: list[Record] = field(default_factory=list)
    entries: int = 0
    first: int = 0
    sent_sound: list[list[NDArray[np.float64]]] = field(default_factory=list)
    agains: dict[int, Again] = field(default_factory=dict)

    def roll(
        self,
        sample_rate_hz: int = 48_000,
        origin: str = "a test",
        *,
        read_for: int | None = None,
        fresh: bool = False,
    ) -> None:
        """Begin a take."""
        self._entry(
            Rolled(sample_rate_hz=sample_rate_hz, origin=origin, read_for=read_for, fresh=fresh)
        )
        self.first = 0
        self.sent_sound.append([])

    def sound(self, samples: NDArray[np.float64]) -> None:
        """Record sound, cut into chunks as a stand cuts it."""
        self.sent_sound[-1].append(samples)
        for at in range(0, len(samples), CHUNK):
            pcm = pcm24_of_samples(samples[at : at + CHUNK])
            self._add(SOUND, self.first, pcm)
            self.first += len(pcm) // 3

    def seal(self) -> None:
        """End the take."""
        self._entry(Sealed(samples=self.first))

    def article(self, title: str = "") -> None:
        """Mark an article here."""
        self._entry(Article(sample=self.first, title=title))

    def words(self) -> None:
        """Mark the closing words here."""
        self._entry(Words(which="closing", sample=self.first))

    def missing(self, samples: int) -> None:
        """Say that sound went missing here."""
        self._entry(Missing(sample=self.first, samples=samples, reason="paused"))

    def again(
        self, back: tuple[int, int], mark: int | None = None, *, instead: bool = False
    ) -> None:
        """Go back to a place (take as counted here, sample); the programme goes on from now."""
        replaced = max(self.agains) if instead and self.agains else None
        if replaced is not None:
            del self.agains[replaced]
        asked = Again(
            take=len(self.sent_sound),
            mark=self.first if mark is None else mark,
            back_take=back[0],
            back_sample=back[1],
            resume=self.first,
            lead_in=min(back[1], 144_000),
            instead=replaced,
        )
        self.agains[self.entries] = asked
        self._entry(asked)

    def takes(self) -> list[NDArray[np.float64]]:
        """Give what was recorded, take by take."""
        return [np.concatenate([*parts, np.empty(0)]) for parts in self.sent_sound]

    def after(self, entries: int, samples: int) -> Iterator[Record]:
        """Give the records that are not kept yet."""
        for record in self.records:
            done = record.entries < entries or (
                record.entries == entries
                and record.kind == SOUND
                and record.first + record.samples <= samples
            )
            if not done:
                yield record

    def _entry(self, entry: Entry) -> None:
        self._add(ENTRY, 0, entry_bytes(entry))
        self.entries += 1

    def _add(self, kind: int, first: int, payload: bytes) -> None:
        self.records.append(
            Record(
                kind=kind,
                number=len(self.records),
                entries=self.entries,
                first=first,
                payload=payload,
                whole=True,
            )
        )


class Stand:
    """A line to a station.

    Attributes
    ----------
    kept : tuple of int
        Entries and samples that the station has confirmed, over all lines so far.
    """

    def __init__(self, address: str, secret: str, journal: Journal) -> None:
        self.address = address.replace("http", "ws", 1) + "/stand/wire"
        self.secret = secret
        self.journal = journal
        self.kept = (0, 0)
        self.told: list[dict[str, Any]] = []

    def send(self, *, take_over: bool = False, batch: int = 8, wait_s: float = 20.0) -> bool:
        """Open a line and send what is not kept, until all is; False if the line broke."""
        try:
            with connect(self.address, open_timeout=wait_s) as line:
                line.send(self._hello(take_over))
                welcome = self.hear(line, wait_s)
                if welcome["kind"] != "welcome":
                    return False
                self.pour(line, batch)
                while not self.all_kept:
                    told = self.hear(line, wait_s)
                    if told["kind"] == "resend":
                        self.pour(line, batch)
                    elif told["kind"] not in ("kept", "pong"):
                        return False
                return True
        except (OSError, WebSocketException, TimeoutError):
            return False

    @property
    def all_kept(self) -> bool:
        """Say whether the station has confirmed every record."""
        return next(self.journal.after(*self.kept), None) is None

    @contextmanager
    def line(self, *, take_over: bool = False) -> Iterator[ClientConnection]:
        """Open a line, say who is there and hear the answer; it stays until the block ends."""
        with connect(self.address) as line:
            line.send(self._hello(take_over))
            self.hear(line)
            yield line

    def _hello(self, take_over: bool) -> str:
        return json.dumps(
            {
                "kind": "hello",
                "pass": self.secret,
                "journal": self.journal.name,
                "takeOver": take_over,
            }
        )

    def pour(self, line: ClientConnection, batch: int = 8) -> None:
        """Send all that is not kept."""
        rest = list(self.journal.after(*self.kept))
        for at in range(0, len(rest), batch):
            line.send(b"".join(record_bytes(record) for record in rest[at : at + batch]))
            self._listen(line)

    def _listen(self, line: ClientConnection) -> None:
        """Hear what the station has said meanwhile, without waiting for more."""
        try:
            while True:
                self.hear(line, 0)
        except TimeoutError:
            return

    def hear_until(self, line: ClientConnection, kind: str) -> dict[str, Any]:
        """Hear until the station says something of this kind."""
        while (told := self.hear(line))["kind"] != kind:
            pass
        return told

    def hear(self, line: ClientConnection, wait_s: float = 20.0) -> dict[str, Any]:
        """Hear one message of the station."""
        try:
            told: dict[str, Any] = json.loads(line.recv(wait_s))
        except ConnectionClosed as closed:
            raise OSError("the line closed") from closed
        self.told.append(told)
        if told["kind"] in ("welcome", "kept", "resend"):
            self.kept = (told["entries"], told["samples"])
        return told
