"""The room check before a reading."""

from __future__ import annotations

import json
import struct
from typing import Any

import numpy as np
from numpy.typing import NDArray
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from quietleaf.errors import Conflict, Invalid, NotAllowed, NotFound, QuietleafError
from quietleaf.listening.room_check import RoomCheck, RoomSound
from quietleaf.web import coming_pages, room_texts
from quietleaf.web.forms import form_of, refuse_other_site
from quietleaf.web.rendering import page, tools_of
from quietleaf.work.check_room import CheckRoom, check_room_of, pass_over_room

READING = "/stand/reading"
LONGEST_S = 60.0
RATES_HZ = (8_000, 192_000)
LARGEST_BYTES = 48_000_000
"""A minute of two channels at 96 kHz, nearly; the page's own recordings last 40 s at most."""
_HEADER_BYTES_MAX = 4_096
_PARTS = ("sentence", "still", "plosives", "played")
_NAME_LETTERS = 200
_STATUS = ((NotFound, 404), (NotAllowed, 403), (Conflict, 409), (Invalid, 422))


async def room_page(request: Request) -> Response:
    """Show the room check."""
    sat = await coming_pages.sitting(request)
    if sat.reading is None:
        return RedirectResponse("/stand", 303)
    return page(request, "stand/room.html", words=room_texts, practice=sat.practice)


async def room_sound(request: Request) -> Response:
    """Measure what the page recorded, keep it, and answer in words and numbers."""
    try:
        refuse_other_site(request)
        sat = await coming_pages.sitting(request)
        if sat.reading is None:
            raise NotFound("room/no-reading", "No reading is open here. Choose one first.")
        sound, microphone = sound_of(await _body(request))
        check = await run_in_threadpool(
            check_room_of,
            CheckRoom(
                place=sat.reading,
                reader=sat.reader,
                microphone=microphone,
                sentence_words=room_texts.sentence_words(),
                sound=sound,
            ),
            tools_of(request),
        )
    except QuietleafError as refusal:
        status = next((code for kind, code in _STATUS if isinstance(refusal, kind)), 503)
        return JSONResponse({"sentence": refusal.sentence}, status)
    return JSONResponse(answer_of(check))


async def room_passed_over(request: Request) -> Response:
    """Enter that there was no check, and go on to the reading."""
    form = await form_of(request)
    sat = await coming_pages.sitting(request)
    if sat.reading is None:
        return RedirectResponse("/stand", 303)
    as_before = form.get("as_before", "")[:_NAME_LETTERS]
    await run_in_threadpool(pass_over_room, sat.reading, sat.reader, as_before, tools_of(request))
    return RedirectResponse(READING, 303)


def answer_of(check: RoomCheck) -> dict[str, Any]:
    """Give what the page shows."""
    return {
        "overall": check.overall,
        "sentence": room_texts.overall_words(check),
        "advice": room_texts.advice_words(check),
        "codes": list(check.advice),
        "measures": [list(row) for row in room_texts.measures(check)],
        "side": check.side.side if check.side is not None else "left",
    }


def sound_of(body: bytes) -> tuple[RoomSound, str]:
    """Read what the page sent: sound, and the microphone's name.

    Parameters
    ----------
    body : bytes
        Size of the header (uint32), the header as JSON ``{"rate", "channels", "microphone",
        "parts": {"sentence": n, "still": n, "plosives": n, "played": n}}`` in samples a channel,
        then float32: part after part in that order, in each channel after channel. All
        little-endian.

    Raises
    ------
    Invalid
        If it does not hold together, is longer than a minute, or is not finite.
    """
    try:
        (size,) = struct.unpack_from("<I", body)
        header = json.loads(body[4 : 4 + min(size, _HEADER_BYTES_MAX)])
        rate, channels = header["rate"], header["channels"]
        lengths = [int(header["parts"].get(name, 0)) for name in _PARTS]
        microphone = str(header.get("microphone", ""))[:_NAME_LETTERS]
    except (struct.error, ValueError, KeyError, TypeError, AttributeError):
        raise _unlike() from None
    whole = isinstance(rate, int) and isinstance(channels, int)
    if not whole or not RATES_HZ[0] <= rate <= RATES_HZ[1] or channels not in (1, 2):
        raise _unlike()
    if min(lengths) < 0 or sum(lengths) > LONGEST_S * rate:
        raise _unlike()
    samples = body[4 + size :]
    if len(samples) != 4 * channels * sum(lengths):
        raise _unlike()
    values = np.frombuffer(samples, "<f4").astype(np.float64)
    if not np.isfinite(values).all():
        raise _unlike()
    parts: list[NDArray[np.float64]] = []
    at = 0
    for length in lengths:
        parts.append(values[at : at + channels * length].reshape(channels, length).T)
        at += channels * length
    return (
        RoomSound(
            sample_rate_hz=rate,
            sentence=parts[0],
            still=parts[1],
            plosives=parts[2],
            played=parts[3] if lengths[3] else None,
        ),
        microphone,
    )


async def _body(request: Request) -> bytes:
    body = bytearray()
    async for part in request.stream():
        body += part
        if len(body) > LARGEST_BYTES:
            raise Invalid(
                "room/size",
                f"A room check sends at most {LARGEST_BYTES // 1_000_000} MB; more came. "
                "Do it again.",
            )
    return bytes(body)


def _unlike() -> Invalid:
    return Invalid(
        "room/sound",
        "What the page sent is no room check of at most a minute. Load the page and do it again.",
    )


ROUTES: list[BaseRoute] = [
    Route("/stand/room", room_page),
    Route("/stand/room/sound", room_sound, methods=["POST"]),
    Route("/stand/room/without", room_passed_over, methods=["POST"]),
]
