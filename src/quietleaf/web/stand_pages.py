"""The stand: the page a reader sits in front of."""

from __future__ import annotations

import json

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from quietleaf.errors import Invalid, NotFound
from quietleaf.planning.words import WordsPart
from quietleaf.settings import read_settings
from quietleaf.web import coming_pages, sent_back_texts, stand_texts
from quietleaf.web.rendering import page, tools_of
from quietleaf.web.wave_bytes import wave_bytes
from quietleaf.work.hear_last import LastHeard, hear_last
from quietleaf.work.hear_sent_back import hear_before, hear_in_place
from quietleaf.work.see_stand import SeenStand, see_stand

MOST_DIGITS = 9
LAST_S = 20.0
"""Of what was read before; enough for two or three sentences. Ours."""


async def reading(request: Request) -> Response:
    """Show the stand of the reading that was chosen; without one, what there is to choose."""
    sitting = await coming_pages.sitting(request)
    if sitting.reading is None:
        return RedirectResponse("/stand", 303)
    settings = read_settings()
    seen = await run_in_threadpool(
        see_stand,
        sitting.reading,
        sitting.reader,
        sitting.booth,
        settings["pace_wpm"],
        tools_of(request),
    )
    facts = stand_facts(
        seen, settings["warnings_min"], settings["rest_after_min"], settings["lead_in_s"]
    )
    return page(
        request,
        "stand/reading.html",
        words=stand_texts,
        again=sent_back_texts,
        seen=seen,
        facts=json.dumps(facts),
    )


async def last_sound(request: Request) -> Response:
    """Give the end of the reading that was chosen, to hear where one left off."""
    sitting = await coming_pages.sitting(request)
    if sitting.reading is None:
        raise NotFound("stand/no-reading", "No reading is open here. Choose one first.")
    return _wave(await run_in_threadpool(hear_last, sitting.reading, LAST_S, tools_of(request)))


async def before_sound(request: Request) -> Response:
    """Give what leads up to a sentence that was sent back."""
    place, number = await _sent_back(request)
    lead_in_s = read_settings()["lead_in_s"]
    heard = await run_in_threadpool(hear_before, place, number, lead_in_s, tools_of(request))
    return _wave(heard)


async def sound_in_place(request: Request) -> Response:
    """Give a sentence that was sent back, as it stands now in its place."""
    place, number = await _sent_back(request)
    return _wave(await run_in_threadpool(hear_in_place, place, number, tools_of(request)))


async def _sent_back(request: Request) -> tuple[str, int]:
    sitting = await coming_pages.sitting(request)
    if sitting.reading is None:
        raise NotFound("stand/no-reading", "No reading is open here. Choose one first.")
    number = request.query_params.get("number", "")
    if not (number.isascii() and number.isdigit() and len(number) <= MOST_DIGITS):
        raise Invalid("stand/number", f"What was sent back has a whole number; {number!r} came.")
    return sitting.reading, int(number)


def _wave(heard: LastHeard) -> Response:
    return Response(
        wave_bytes(heard.samples, heard.sample_rate_hz),
        media_type="audio/wav",
        headers={"cache-control": "no-store"},
    )


def stand_facts(
    seen: SeenStand, warnings_min: str, rest_after_min: float, lead_in_s: float
) -> dict[str, object]:
    """Give what the page's script works with, as plain values."""
    # Who reads a sentence again has no slot to fill.
    window = None if seen.sent_back else seen.window
    return {
        "place": seen.place,
        "booth": seen.booth_name,
        "practice": seen.is_practice,
        "pages": len(seen.pages),
        "window": window and {"shortestS": window.shortest_s, "longestS": window.longest_s},
        "warningsMin": minutes_of(warnings_min),
        "restAfterMin": rest_after_min,
        "paceWpm": seen.pace_wpm,
        "paceMeasured": seen.pace_measured,
        "openingWords": _count(seen.opening),
        "closingWords": _count(seen.closing),
        "openingRead": "opening" in seen.words_begun,
        "closingRead": "closing" in seen.words_begun,
        "recordedS": seen.recorded_s,
        "articles": seen.articles,
        "handIn": "/stand/hand-in",
        "leadInS": lead_in_s,
        "sentBack": [{"number": one.number, "read": one.is_read} for one in seen.sent_back],
        "sentBackUnit": "sentence"
        if all(one.sentences == 1 for one in seen.sent_back)
        else "place",
    }


def minutes_of(text: str) -> list[float]:
    """Read the minutes at which the reader is warned, the earliest warning first.

    Raises
    ------
    Invalid
        If they are not numbers above 0 with commas between.

    Examples
    --------
    >>> minutes_of("1, 5,2"), minutes_of("")
    ([5.0, 2.0, 1.0], [])
    """
    try:
        minutes = [float(part) for part in text.split(",") if part.strip()]
    except ValueError:
        minutes = [0.0]
    if not all(0.0 < minute < 600.0 for minute in minutes):
        raise Invalid(
            "settings/warnings",
            f"Warnings are minutes with commas between, like 5, 2, 1; the setting says {text!r}.",
        )
    return sorted(set(minutes), reverse=True)


def _count(words: tuple[WordsPart, ...]) -> int:
    return len("".join(part.text for part in words).split())


ROUTES: list[BaseRoute] = [
    Route("/stand/reading", reading),
    Route("/stand/reading/last", last_sound),
    Route("/stand/reading/before", before_sound),
    Route("/stand/reading/in-place", sound_in_place),
]
