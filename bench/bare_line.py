"""The peer of the streams: a bare server that counts what comes, writes nothing and says so."""

from __future__ import annotations

import asyncio
import json
import struct

from websockets.asyncio.server import ServerConnection, serve

_KIND = 5
_SIZE = struct.Struct("<I")
_HEADER = 32


async def answer(line: ServerConnection) -> None:
    """Count samples, and tell the count as a station does."""
    entries = samples = 0
    async for message in line:
        if isinstance(message, str):
            kind = "welcome" if "hello" in message else "pong"
        else:
            kind, at = "kept", 0
            while at < len(message):
                (size,) = _SIZE.unpack_from(message, at + 24)
                entries += message[at + _KIND] == 2
                samples += size // 3 if message[at + _KIND] == 1 else 0
                at += _HEADER + size
        await line.send(json.dumps({"kind": kind, "entries": entries, "samples": samples}))


async def main() -> None:
    """Serve until killed; print where."""
    async with serve(answer, "127.0.0.1", 0, compression=None, ping_interval=None) as server:
        port = next(iter(server.sockets)).getsockname()[1]
        print(f"at http://127.0.0.1:{port}/", flush=True)
        await asyncio.Event().wait()


if __name__ == "__main__":
    asyncio.run(main())
