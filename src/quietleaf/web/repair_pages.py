"""Repairs to compare: the sound before and now, as a browser asks for it."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from quietleaf.web.rendering import tools_of
from quietleaf.web.wave_bytes import wave_bytes
from quietleaf.work.hear_repair import hear_repair


async def before_sound(request: Request) -> Response:
    """Give the sound around a repair as it came, as loud as the master."""
    return await _sound(request, is_before=True)


async def now_sound(request: Request) -> Response:
    """Give the same place of the master."""
    return await _sound(request, is_before=False)


ROUTES = [
    Route("/reading/{reading_id}/repairs/{number}/before", before_sound),
    Route("/reading/{reading_id}/repairs/{number}/now", now_sound),
]


async def _sound(request: Request, *, is_before: bool) -> Response:
    named = request.path_params
    heard = await run_in_threadpool(
        hear_repair, named["reading_id"], named["number"], tools_of(request)
    )
    sound = wave_bytes(heard.before if is_before else heard.now, heard.sample_rate_hz)
    return Response(sound, media_type="audio/wav", headers={"cache-control": "no-store"})
