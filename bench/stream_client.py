"""Many stands at once, in a process of their own: `python -m bench.stream_client ADDRESS …`.

Each sends what a stand would have recorded, at the pace at which it would, and notes when the
station has confirmed it.
"""

from __future__ import annotations

import asyncio
import json
import sys
import time
from collections import deque
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from websockets.asyncio.client import ClientConnection, connect

from quietleaf.booth.wire import ENTRY, SOUND, Record, Rolled, entry_bytes, record_bytes

RATE_HZ = 48_000
CHUNK = 2_048
CHUNK_S = CHUNK / RATE_HZ
SOUNDS = 64
"""So many chunks of noise are made, and sent in turn."""
PATIENCE_S = 120.0
_AT_ONCE = 20


def chunk_of(stream: int, number: int, sounds: list[bytes]) -> bytes:
    """Give what a stream sends as its chunk of this number."""
    return sounds[(7 * stream + number) % SOUNDS]


def make_sounds() -> list[bytes]:
    """Make the chunks of noise, 24 bits."""
    return [np.random.default_rng(seed).bytes(3 * CHUNK) for seed in range(SOUNDS)]


@dataclass
class Client:
    """What all streams share."""

    address: str
    seconds: float
    batch: int
    sounds: list[bytes] = field(default_factory=make_sounds)
    waits_s: list[float] = field(default_factory=list)
    slips_s: list[float] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    kept: int = 0
    begun_s: float = 0.0

    async def run(self, doors: list[tuple[str, str]]) -> None:
        """Open all lines, then let all stands read."""
        opening = asyncio.Semaphore(_AT_ONCE)
        start, opened = asyncio.Event(), asyncio.Semaphore(0)

        async def begin() -> None:
            for _ in doors:
                await opened.acquire()
            self.begun_s = time.monotonic() + 0.5
            start.set()

        await asyncio.gather(
            begin(),
            *(
                self._stand(number, secret, journal, opening, opened, start)
                for number, (secret, journal) in enumerate(doors)
            ),
        )

    async def _stand(
        self,
        number: int,
        secret: str,
        journal: str,
        opening: asyncio.Semaphore,
        opened: asyncio.Semaphore,
        start: asyncio.Event,
    ) -> None:
        async with opening:
            line = await connect(
                self.address, compression=None, ping_interval=None, open_timeout=PATIENCE_S
            )
            await line.send(json.dumps({"kind": "hello", "pass": secret, "journal": journal}))
            told = json.loads(await line.recv())
            if told["kind"] != "welcome":
                self.faults.append(str(told))
            rolled = entry_bytes(Rolled(sample_rate_hz=RATE_HZ, origin="a bench"))
            await line.send(_record(ENTRY, 0, 0, 0, rolled))
        pending: deque[tuple[int, float]] = deque()
        hearing = asyncio.create_task(self._hear(line, pending))
        opened.release()
        await start.wait()
        await self._read(line, number, pending)
        until_s = time.monotonic() + PATIENCE_S
        while pending and time.monotonic() < until_s:
            await asyncio.sleep(0.05)
        await line.close()
        await hearing
        if pending:
            self.faults.append(f"{len(pending)} messages were never confirmed")

    async def _read(
        self, line: ClientConnection, stream: int, pending: deque[tuple[int, float]]
    ) -> None:
        message_s = self.batch * CHUNK_S
        phase_s = message_s * (stream * 0.6180339887 % 1.0)
        for first in range(0, round(self.seconds / CHUNK_S), self.batch):
            due_s = self.begun_s + phase_s + (first + self.batch) * CHUNK_S
            await self._ping_until(line, due_s)
            self.slips_s.append(max(time.monotonic() - due_s, 0.0))
            message = b"".join(
                _record(SOUND, 1 + number, 1, number * CHUNK, chunk_of(stream, number, self.sounds))
                for number in range(first, first + self.batch)
            )
            pending.append(((first + self.batch) * CHUNK, due_s))
            await line.send(message)

    async def _ping_until(self, line: ClientConnection, due_s: float) -> None:
        """Wait for the moment; say twice a second that the stand is there."""
        while (left_s := due_s - time.monotonic()) > 0.5:
            await asyncio.sleep(0.5)
            await line.send('{"kind":"ping","id":1}')
        await asyncio.sleep(max(left_s, 0.0))

    async def _hear(self, line: ClientConnection, pending: deque[tuple[int, float]]) -> None:
        async for text in line:
            told = json.loads(text)
            now_s = time.monotonic()
            if told["kind"] == "kept":
                while pending and told["entries"] and pending[0][0] <= told["samples"]:
                    _, due_s = pending.popleft()
                    self.waits_s.append(now_s - due_s)
                    self.kept += self.batch * CHUNK
            elif told["kind"] != "pong":
                self.faults.append(str(told))


def _record(kind: int, number: int, entries: int, first: int, payload: bytes) -> bytes:
    return record_bytes(
        Record(kind=kind, number=number, entries=entries, first=first, payload=payload, whole=True)
    )


def main() -> None:
    """Run, and print what was measured."""
    address, doors, seconds, batch = sys.argv[1:]
    client = Client(address, float(seconds), int(batch))
    processor_s = time.process_time()
    asyncio.run(client.run(json.loads(Path(doors).read_text())))
    # Of a message's records the first has waited longest: it was recorded before the others.
    older_s = CHUNK_S * np.arange(client.batch)
    waits_s = (np.array(client.waits_s)[:, None] + older_s).ravel()
    print(
        json.dumps(
            {
                "median_s": float(np.median(waits_s)),
                "p99_s": float(np.quantile(waits_s, 0.99)),
                "longest_s": float(waits_s.max()),
                "slip_p99_s": float(np.quantile(client.slips_s, 0.99)),
                "kept": client.kept,
                "faults": client.faults[:5],
                "processor_s": time.process_time() - processor_s,
            }
        )
    )


if __name__ == "__main__":
    main()
