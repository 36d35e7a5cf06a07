"""The station in a browser: which address leads to which page."""

from __future__ import annotations

import mimetypes
from collections.abc import AsyncIterator, Iterable
from contextlib import asynccontextmanager
from pathlib import Path

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import Receive, Scope, Send

from quietleaf.errors import QuietleafError
from quietleaf.settings import read_settings
from quietleaf.storage.database import database_url
from quietleaf.web import (
    account_pages,
    coming_pages,
    finishing_pages,
    hand_in_pages,
    own_account_pages,
    pages,
    people_pages,
    plan_pages,
    practice_pages,
    repair_pages,
    review_pages,
    room_pages,
    sound_pages,
    stand_pages,
    token_pages,
    trust_pages,
    wire,
)
from quietleaf.web.api.mount import ApiMount
from quietleaf.web.entry import Entry
from quietleaf.web.guard import Guard
from quietleaf.web.log import Log
from quietleaf.web.roles import API
from quietleaf.web.visits import Visits
from quietleaf.work.finish_request import FinishProgramme
from quietleaf.work.finishings import Finishings
from quietleaf.work.recorders import Recorders
from quietleaf.work.sign_in import Doorkeeper
from quietleaf.work.tools import Tools

OWN_NAMES = ("127.0.0.1", "localhost", "[::1]")
STATIC = Path(__file__).parent / "static"


def make_app(tools: Tools, hosts: Iterable[str] | None = OWN_NAMES, outside: str = "") -> Starlette:
    """Make the pages of one station.

    Parameters
    ----------
    hosts : iterable of str or None
        The host names that are answered, without port; None answers any.
    outside : str
        Scheme, name and port under which booths and homes reach the station; empty where they
        do not.
    """
    # Python's own table lacks it, and a bare machine has no other.
    mimetypes.add_type("font/woff2", ".woff2")
    answered = None if hosts is None else frozenset(hosts)

    async def refuse(scope: Scope, receive: Receive, send: Send) -> None:
        await pages.other_address(answered or frozenset())(scope, receive, send)

    recorders = Recorders(tools)
    finishings = _finishings(tools)

    @asynccontextmanager
    async def open_for_work(_app: Starlette) -> AsyncIterator[None]:
        await run_in_threadpool(finishings.resume)
        yield
        await run_in_threadpool(finishings.close)
        await run_in_threadpool(recorders.close)

    app = Starlette(
        lifespan=open_for_work,
        routes=[
            Route("/", pages.day_page),
            Route("/day/{day}", pages.day_page),
            *review_pages.ROUTES,
            Route("/reading/{reading_id}/files/{name}", pages.made_file),
            *repair_pages.ROUTES,
            *sound_pages.ROUTES,
            *finishing_pages.ROUTES,
            Route("/health", pages.health),
            *people_pages.ROUTES,
            *token_pages.ROUTES,
            *account_pages.ROUTES,
            *own_account_pages.ROUTES,
            *plan_pages.ROUTES,
            *coming_pages.ROUTES,
            *room_pages.ROUTES,
            *stand_pages.ROUTES,
            *hand_in_pages.ROUTES,
            *practice_pages.ROUTES,
            *trust_pages.ROUTES,
            *wire.ROUTES,
            Mount(API, ApiMount(tools, recorders, finishings, outside)),
            Mount("/static", StaticFiles(directory=STATIC)),
        ],
        middleware=[
            Middleware(Log),
            Middleware(Guard, hosts=answered, refuse=refuse),
            Middleware(
                Entry,
                tools=tools,
                refuse_outside=pages.desk_only,
                refuse_role=pages.other_role,
                refused=pages.refused,
            ),
        ],
        exception_handlers={
            HTTPException: pages.no_such_page,
            QuietleafError: pages.refused,
            Exception: pages.broken,
        },
    )
    app.state.tools = tools
    app.state.outside = outside
    app.state.recorders = recorders
    app.state.finishings = finishings
    app.state.doorkeeper = Doorkeeper()
    app.state.visits = Visits(recorders.pool)
    return app


def _finishings(tools: Tools) -> Finishings:
    settings = read_settings()
    usual = FinishProgramme(
        source="",
        loudness=settings["loudness"],
        ceiling_dbtp=settings["true_peak_ceiling_dbtp"],
        head_s=settings["head_s"],
        tail_s=settings["tail_s"],
        dead_air_s=settings["dead_air_s"],
        mp3_kbps=settings["mp3_kbps"],
    )
    return Finishings(tools, usual, database_url(tools.data, settings["database"]))
