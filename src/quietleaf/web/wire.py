"""The WebSocket by which sound comes from the stand, and on which it is confirmed."""

from __future__ import annotations

import asyncio
import json
import math
from collections.abc import Callable
from typing import Any, TypeVar

from starlette.routing import BaseRoute, WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect, WebSocketState

from quietleaf.booth.wire import LARGEST_MESSAGE_BYTES, Progress, records_of
from quietleaf.errors import (
    Conflict,
    Damaged,
    Invalid,
    NotAllowed,
    NotFound,
    QuietleafError,
    Unavailable,
)
from quietleaf.web.forms import refuse_other_site
from quietleaf.web.log import tell_code
from quietleaf.web.visits import Visits
from quietleaf.work.record_reading import SendAgain
from quietleaf.work.recorders import Line, Recorders

CONFIRM_EVERY_S = 0.4
"""What came is synced and confirmed so often: with the way there and back well within 2 s."""
SILENT_S = 12.0
"""A stand says something twice a second; one silent for so long is gone."""
HELLO_S = 20.0
WAITING_BYTES_MAX = 4 << 20
"""Of one stand, before its line is read on; a stand that catches up sends as fast as it can."""
LARGEST_TEXT = 4_096

CLOSE_GOING_AWAY = 1001
CLOSE_TRY_AGAIN = 1013
CLOSE_REFUSED = 4401
CLOSE_UNFIT = 4400
CLOSE_OTHER_SITE = 4403
CLOSE_BUSY = 4409

_Result = TypeVar("_Result")


async def stand_line(socket: WebSocket) -> None:
    """Serve one line from a stand until it closes."""
    try:
        refuse_other_site(socket)
    except NotAllowed:
        await socket.close(CLOSE_OTHER_SITE)
        return
    await socket.accept()
    try:
        state = socket.app.state
        await _Talk(socket, state.recorders, state.visits).run()
    except WebSocketDisconnect:
        # The stand has gone, which it may at any moment; it comes again by itself.
        return


class _Talk:
    """One line: what comes is queued here, written in a thread, and confirmed."""

    def __init__(self, socket: WebSocket, recorders: Recorders, visits: Visits) -> None:
        self._socket = socket
        self._visits = visits
        self._recorders = recorders
        self._loop = asyncio.get_running_loop()
        self._waiting: list[bytes] = []
        self._waiting_bytes = 0
        self._came = asyncio.Event()
        self._taken = asyncio.Event()
        self._superseded = ""
        self._heard_s = self._loop.time()

    async def run(self) -> None:
        """Say who is there, then take records until the line closes."""
        line = await self._enter()
        if line is None:
            return
        try:
            await self._send(kind="welcome", late=line.late, **_members(line.recorder.progress()))
            tasks = [
                asyncio.create_task(going)
                for going in (self._read(), self._write(line), self._watch())
            ]
            done, rest = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
            for task in rest:
                task.cancel()
            await asyncio.gather(*rest, return_exceptions=True)
            for task in done:
                task.result()
        finally:
            await self._in_thread(lambda: self._recorders.leave(line))

    async def _enter(self) -> Line | None:
        try:
            async with asyncio.timeout(HELLO_S):
                hello = _text_of(await self._socket.receive())
            secret, journal = hello["pass"], hello["journal"]
            if hello["kind"] != "hello" or not (
                isinstance(secret, str) and isinstance(journal, str)
            ):
                raise ValueError(hello["kind"])
        except (ValueError, KeyError, TimeoutError):
            await self._refuse(
                CLOSE_UNFIT,
                Invalid("wire/hello", "A stand begins by saying which reading it records."),
            )
            return None
        try:
            return await self._in_thread(
                lambda: self._recorders.enter(
                    secret,
                    journal,
                    take_over=hello.get("takeOver") is True,
                    superseded=self._supersede,
                )
            )
        except Conflict as refusal:
            if refusal.code == "wire/busy":
                await self._send(kind="busy", sentence=refusal.sentence)
                await self._close(CLOSE_BUSY)
            else:
                await self._trouble(refusal)
        except (NotAllowed, Invalid) as refusal:
            await self._refuse(CLOSE_REFUSED, refusal)
        except QuietleafError as refusal:
            await self._trouble(refusal)
        return None

    async def _read(self) -> None:
        while True:
            while self._waiting_bytes > WAITING_BYTES_MAX:
                # Until there is room it is the station that is slow, not the stand.
                self._heard_s = math.inf
                self._taken.clear()
                await self._taken.wait()
            self._heard_s = self._loop.time()
            message = await self._socket.receive()
            data = message.get("bytes")
            try:
                if data is not None:
                    self._queue(data)
                else:
                    asked = _text_of(message)
                    if asked["kind"] == "ping":
                        await self._send(kind="pong", id=asked["id"])
            except (ValueError, KeyError):
                await self._refuse(
                    CLOSE_UNFIT, Invalid("wire/text", "A stand sends records and short messages.")
                )
                return
            except Invalid as refusal:
                await self._refuse(CLOSE_UNFIT, refusal)
                return

    def _queue(self, data: bytes) -> None:
        if len(data) > LARGEST_MESSAGE_BYTES:
            raise Invalid(
                "wire/message-size",
                f"A stand sends at most {LARGEST_MESSAGE_BYTES} bytes at once; {len(data)} came.",
            )
        self._waiting.append(data)
        self._waiting_bytes += len(data)
        self._came.set()

    async def _watch(self) -> None:
        """Close the line when nothing has come for long: a stand that is there says so."""
        while self._loop.time() - self._heard_s < SILENT_S:
            await asyncio.sleep(SILENT_S / 4)
        await self._close(CLOSE_GOING_AWAY)

    async def _write(self, line: Line) -> None:
        while True:
            await self._came.wait()
            if self._superseded:
                await self._send(kind="superseded", sentence=self._superseded)
                await self._close(CLOSE_BUSY)
                return
            messages, self._waiting = self._waiting, []
            self._waiting_bytes = 0
            self._came.clear()
            self._taken.set()
            began_s = self._loop.time()
            if not await self._write_some(line, messages):
                return
            await asyncio.sleep(max(CONFIRM_EVERY_S - (self._loop.time() - began_s), 0.0))

    async def _write_some(self, line: Line, messages: list[bytes]) -> bool:
        """Write what came; say False when the line is at its end."""
        try:
            progress = await self._visits.write(lambda: _take(line, messages))
        except SendAgain:
            # What is already on its way would only be asked for again and again.
            self._waiting.clear()
            self._waiting_bytes = 0
            await self._send(kind="resend", **_members(line.recorder.progress()))
        except Invalid as refusal:
            await self._refuse(CLOSE_UNFIT, refusal)
            return False
        except (NotFound, NotAllowed) as refusal:
            # A practice that was deleted meanwhile, or is full.
            await self._refuse(CLOSE_REFUSED, refusal)
            return False
        except Conflict:
            if not self._superseded:
                # The reading stands otherwise than a moment ago: a new hello finds out how.
                await self._close(CLOSE_TRY_AGAIN)
                return False
            self._came.set()
        except (Unavailable, Damaged) as refusal:
            await self._trouble(refusal)
            return False
        else:
            await self._send(kind="kept", **_members(progress))
        return True

    def _supersede(self, sentence: str) -> None:
        def wake() -> None:
            self._superseded = sentence
            self._came.set()

        self._loop.call_soon_threadsafe(wake)

    async def _refuse(self, code: int, refusal: QuietleafError) -> None:
        tell_code(refusal.code)
        await self._send(kind="refused", code=refusal.code, sentence=refusal.sentence)
        await self._close(code)

    async def _trouble(self, refusal: QuietleafError) -> None:
        await self._send(kind="trouble", code=refusal.code, sentence=refusal.sentence)
        await self._close(CLOSE_TRY_AGAIN)

    async def _close(self, code: int) -> None:
        if self._socket.application_state is WebSocketState.CONNECTED:
            await self._socket.close(code)

    async def _send(self, **members: Any) -> None:
        if self._socket.application_state is not WebSocketState.CONNECTED:
            raise WebSocketDisconnect
        await self._socket.send_text(json.dumps(members, ensure_ascii=False, separators=(",", ":")))

    async def _in_thread(self, call: Callable[[], _Result]) -> _Result:
        return await self._loop.run_in_executor(self._recorders.pool, call)


def _take(line: Line, messages: list[bytes]) -> Progress:
    records = [record for message in messages for record in records_of(message)]
    return line.recorder.take_and_confirm(records)


def _members(progress: Progress) -> dict[str, int]:
    return {"entries": progress.entries, "samples": progress.samples}


def _text_of(message: Any) -> dict[str, Any]:
    if message["type"] == "websocket.disconnect":
        raise WebSocketDisconnect(message.get("code", 1006))
    text = message.get("text")
    if text is None or len(text) > LARGEST_TEXT:
        raise ValueError(message["type"])
    try:
        members = json.loads(text)
    except RecursionError as fault:
        raise ValueError(text) from fault
    if not isinstance(members, dict):
        raise ValueError(text)
    return members


ROUTES: list[BaseRoute] = [WebSocketRoute("/stand/wire", stand_line)]
