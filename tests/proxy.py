"""A line that misbehaves: between a stand and its station, refusing, holding, losing, doubling."""

from __future__ import annotations

import asyncio
import random
import threading
from collections.abc import AsyncIterable, Awaitable, Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from websockets.asyncio.client import connect
from websockets.asyncio.server import Server, ServerConnection, serve
from websockets.exceptions import WebSocketException

from quietleaf.booth.wire import HEADER_BYTES

MOST_DELAY_S = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Faults:
    """How often, of all messages that pass, each thing happens to one.

    Attributes
    ----------
    swallow, double, delay : float
        It never arrives; it arrives twice; it and what follows wait a moment.
    flip : float
        One bit of its first record changes, where a checksum can tell.
    cut : float
        The line breaks instead, both ways, without a word.
    """

    swallow: float = 0.0
    double: float = 0.0
    delay: float = 0.0
    flip: float = 0.0
    cut: float = 0.0


WELL = Faults()


class Proxy:
    """Passes messages on; ``mode`` and ``faults`` may be changed at any moment.

    Attributes
    ----------
    mode : str
        ``pass``; ``refuse``: whoever comes is cut off, and so are those who are there;
        ``hole``: nothing arrives any more, either way, and nothing is closed.
    happened : dict
        How often each fault came.
    """

    def __init__(self, station: str, seed: int) -> None:
        self.mode = "pass"
        self.faults = WELL
        self.happened = dict.fromkeys(("swallow", "double", "delay", "flip", "cut", "refuse"), 0)
        self.messages = 0
        self._station = station.replace("http", "ws", 1)
        self._rng = random.Random(seed)
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever)
        self._server: Server | None = None
        self.address = ""

    def start(self) -> None:
        """Listen on a free port."""
        self._thread.start()
        self._server = asyncio.run_coroutine_threadsafe(self._listen(), self._loop).result()
        port = next(iter(self._server.sockets)).getsockname()[1]
        self.address = f"http://127.0.0.1:{port}"

    def refuse(self) -> None:
        """Cut off those who are there, and whoever comes."""
        self.mode = "refuse"
        asyncio.run_coroutine_threadsafe(self._cut_off(), self._loop).result()

    def close(self) -> None:
        """Stop listening, and cut off those who are there."""

        async def stop() -> None:
            if self._server is not None:
                await self._cut_off()
                self._server.close()
                await self._server.wait_closed()

        asyncio.run_coroutine_threadsafe(stop(), self._loop).result()
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
        self._loop.close()

    async def _listen(self) -> Server:
        return await serve(self._pass_on, "127.0.0.1", 0, compression=None, ping_interval=None)

    async def _cut_off(self) -> None:
        if self._server is not None:
            for line in self._server.connections:
                line.transport.abort()

    async def _pass_on(self, stand: ServerConnection) -> None:
        if self.mode == "refuse":
            self.happened["refuse"] += 1
            stand.transport.abort()
            return
        path = stand.request.path if stand.request is not None else "/"
        try:
            async with connect(
                self._station + path, compression=None, ping_interval=None
            ) as station:
                ways = [
                    asyncio.create_task(self._one_way(stand, station.send)),
                    asyncio.create_task(self._one_way(station, stand.send)),
                ]
                await asyncio.wait(ways, return_when=asyncio.FIRST_COMPLETED)
                for way in ways:
                    way.cancel()
                await asyncio.gather(*ways, return_exceptions=True)
                if station.close_code is None:
                    station.transport.abort()
                else:
                    # The station's own word on why it closes is for the stand to hear.
                    await stand.close(station.close_code, station.close_reason or "")
        except (OSError, WebSocketException):
            # The station is not there, or its line broke: the stand sees a broken line too.
            pass
        stand.transport.abort()

    async def _one_way(
        self,
        giving: AsyncIterable[str | bytes],
        send: Callable[[str | bytes], Awaitable[None]],
    ) -> None:
        async for message in giving:
            self.messages += 1
            while self.mode == "hole":
                await asyncio.sleep(MOST_DELAY_S)
            drawn = self._fate()
            if drawn == "cut":
                return
            if drawn == "delay":
                await asyncio.sleep(self._rng.random() * MOST_DELAY_S)
            if drawn == "flip" and isinstance(message, bytes):
                message = self._flipped(message)
            if drawn != "swallow":
                await send(message)
            if drawn == "double":
                await send(message)

    def _fate(self) -> str:
        drawn = self._rng.random()
        for name in ("swallow", "double", "delay", "flip", "cut"):
            drawn -= getattr(self.faults, name)
            if drawn < 0.0:
                self.happened[name] += 1
                return name
        return ""

    def _flipped(self, message: bytes) -> bytes:
        # Not what says that it is a record, nor its size: who sends other things is refused.
        size = int.from_bytes(message[24:28], "little")
        place = self._rng.choice((*range(8, 24), *range(28, HEADER_BYTES + size)))
        changed = bytearray(message)
        changed[place] ^= 1 << self._rng.randrange(8)
        return bytes(changed)


@contextmanager
def proxy(station: str, seed: int = 1) -> Iterator[Proxy]:
    """Stand between until the block ends."""
    between = Proxy(station, seed)
    between.start()
    try:
        yield between
    finally:
        between.close()
