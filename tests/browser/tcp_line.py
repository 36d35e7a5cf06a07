"""A line between a browser and a station that can refuse, and can swallow what it is given."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress


class TcpLine:
    """Passes bytes on, pages and sound alike, until it is told otherwise."""

    def __init__(self, station: int) -> None:
        self._station = station
        self._mode = "pass"
        self._open: set[asyncio.StreamWriter] = set()
        self._tasks: set[asyncio.Task[None]] = set()
        self._ended = asyncio.Event()
        self.port = 0

    @property
    def address(self) -> str:
        """Give the address that leads to the station by this line."""
        return f"http://127.0.0.1:{self.port}"

    def let_pass(self) -> None:
        """Work; what was swallowed is lost, and whoever was there must come again."""
        self._mode = "pass"

    def refuse(self) -> None:
        """Cut off everybody, and whoever comes."""
        self._mode = "refuse"
        self._loop.call_soon_threadsafe(self._cut)

    def swallow(self) -> None:
        """Close nothing and let nothing through, either way."""
        self._mode = "swallow"

    async def serve(self, ready: threading.Event) -> None:
        """Serve until ended."""
        self._loop = asyncio.get_running_loop()
        server = await asyncio.start_server(self._come, "127.0.0.1", 0)
        self.port = server.sockets[0].getsockname()[1]
        ready.set()
        await self._ended.wait()
        server.close()
        self._cut()
        await asyncio.gather(*self._tasks, return_exceptions=True)

    def end(self) -> None:
        """Stop serving."""
        self._loop.call_soon_threadsafe(self._ended.set)

    async def _come(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        task = asyncio.current_task()
        assert task is not None
        self._tasks.add(task)
        self._open.add(writer)
        with suppress(OSError):
            if self._mode == "pass":
                there, back = await asyncio.open_connection("127.0.0.1", self._station)
                self._open.add(back)
                await asyncio.gather(self._pass_on(reader, back), self._pass_on(there, writer))
            elif self._mode == "swallow":
                await self._ended.wait()
        writer.close()
        self._tasks.discard(task)

    async def _pass_on(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        is_whole = True
        with suppress(OSError):
            while data := await reader.read(65_536):
                # After a hole the rest of a stream makes no sense: nothing of it is passed on.
                is_whole = is_whole and self._mode != "swallow"
                if is_whole:
                    writer.write(data)
                    await writer.drain()
        writer.close()

    def _cut(self) -> None:
        for writer in self._open:
            writer.transport.abort()
        self._open.clear()


@contextmanager
def tcp_line(station: int) -> Iterator[TcpLine]:
    """Run a line to a station's port until the block ends."""
    line = TcpLine(station)
    ready = threading.Event()
    thread = threading.Thread(target=lambda: asyncio.run(line.serve(ready)))
    thread.start()
    ready.wait()
    try:
        yield line
    finally:
        line.end()
        thread.join()
