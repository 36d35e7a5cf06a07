"""Sound that is made as it is asked for: a reading as it stands, and a place with a cut."""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator

import numpy as np
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse
from starlette.routing import Route

from quietleaf.finishing.plan import RATE_HZ
from quietleaf.storage.reading_folder import find_reading
from quietleaf.storage.timeline_sound import TimelineSound
from quietleaf.web.forms import place_of_text
from quietleaf.web.rendering import tools_of
from quietleaf.web.wave_bytes import wave_bytes
from quietleaf.work.hear_cut import hear_cut

_HEADER_BYTES = 44
_SAMPLE_BYTES = 2
_BLOCK_SAMPLES = 65_536
_LARGEST = 0xFFFFFFFF
_RANGE = re.compile(r"bytes=(?!-$)([0-9]{0,18})-([0-9]{0,18})")


async def reading_sound(request: Request) -> Response:
    """Give a reading as it stands, as a WAV of 16 bits: whole, or a range of its bytes."""
    folder = await run_in_threadpool(
        find_reading, tools_of(request).data, request.path_params["reading_id"]
    )
    sound = await run_in_threadpool(TimelineSound, folder, RATE_HZ)
    size = _HEADER_BYTES + _SAMPLE_BYTES * sound.info.frames
    asked = range_of(request.headers.get("range", ""), size)
    headers = {"accept-ranges": "bytes", "cache-control": "no-store"}
    if asked is None:
        sound.close()
        return Response(status_code=416, headers={**headers, "content-range": f"bytes */{size}"})
    start, stop = asked
    is_part = _RANGE.fullmatch(request.headers.get("range", "")) is not None
    if is_part:
        headers["content-range"] = f"bytes {start}-{stop - 1}/{size}"
    headers["content-length"] = str(stop - start)
    return StreamingResponse(
        _bytes(sound, start, stop),
        status_code=206 if is_part else 200,
        headers=headers,
        media_type="audio/wav",
    )


async def cut_sound(request: Request) -> Response:
    """Give the sound around a place, with a cut or without."""
    asked = request.query_params
    start, stop = place_of_text(asked.get("start", "")), place_of_text(asked.get("stop", ""))
    heard = await run_in_threadpool(
        hear_cut,
        request.path_params["reading_id"],
        start,
        stop,
        request.path_params["version"] == "out",
        tools_of(request),
    )
    return Response(
        wave_bytes(heard, RATE_HZ), media_type="audio/wav", headers={"cache-control": "no-store"}
    )


def range_of(text: str, size: int) -> tuple[int, int] | None:
    """Read what part of so many bytes is asked for; None where that is not there.

    Where none is asked for, several are, or it cannot be read, it is the whole (RFC 9110, 14.2).

    Examples
    --------
    >>> range_of("", 100), range_of("bytes=10-", 100), range_of("bytes=10-19", 100)
    ((0, 100), (10, 100), (10, 20))
    >>> range_of("bytes=-30", 100), range_of("bytes=100-", 100), range_of("bytes=0-1,5-6", 100)
    ((70, 100), None, (0, 100))
    >>> range_of("bytes=-0", 100), range_of(f"bytes=0-{'9' * 5000}", 100)
    (None, (0, 100))
    """
    match = _RANGE.fullmatch(text)
    if match is None:
        return 0, size
    first, last = match.groups()
    if not first:
        return (max(0, size - int(last)), size) if int(last) else None
    start, stop = int(first), int(last) + 1 if last else size
    if start >= size:
        return None
    return (start, min(stop, size)) if start < stop else (0, size)


def _bytes(sound: TimelineSound, start: int, stop: int) -> Iterator[bytes]:
    """Give a range of the file, made a second or so at a time, as it is sent."""
    with sound:
        if start < _HEADER_BYTES:
            yield _header(sound.info.frames)[start:stop]
        at = max(start, _HEADER_BYTES) - _HEADER_BYTES
        end = stop - _HEADER_BYTES
        while at < end:
            first = at // _SAMPLE_BYTES
            last = min(first + _BLOCK_SAMPLES, -(-end // _SAMPLE_BYTES))
            samples = np.clip(sound.read(first, last)[:, 0], -1.0, 1.0)
            part = np.rint(samples * 32_767).astype("<i2").tobytes()
            skip = at - first * _SAMPLE_BYTES
            given = part[skip : skip + end - at]
            yield given
            at += len(given)


def _header(frames: int) -> bytes:
    size = _SAMPLE_BYTES * frames
    return struct.pack(
        "<4sI4s4sIHHIIHH4sI",
        b"RIFF",
        min(size + _HEADER_BYTES - 8, _LARGEST),
        b"WAVE",
        b"fmt ",
        16,
        1,
        1,
        RATE_HZ,
        RATE_HZ * _SAMPLE_BYTES,
        _SAMPLE_BYTES,
        8 * _SAMPLE_BYTES,
        b"data",
        min(size, _LARGEST),
    )


ROUTES = [
    Route("/reading/{reading_id}/sound", reading_sound),
    Route("/reading/{reading_id}/cut/{version}", cut_sound),
]
