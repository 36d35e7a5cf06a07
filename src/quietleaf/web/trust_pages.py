"""How a computer comes to trust a station that makes its own certificates."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import BaseRoute, Route

from quietleaf.errors import NotFound
from quietleaf.web import trust_texts
from quietleaf.web.rendering import page, tools_of
from quietleaf.work.see_authority import find_authority, see_authority


async def trust_page(request: Request) -> Response:
    """Say what to do, and with which fingerprint the file is compared."""
    try:
        fingerprint = await run_in_threadpool(see_authority, tools_of(request))
    except NotFound:
        fingerprint = ""
    return page(request, "trust.html", words=trust_texts, fingerprint=fingerprint)


async def authority(request: Request) -> Response:
    """Give the certificate that is to be trusted."""
    path = await run_in_threadpool(find_authority, tools_of(request))
    return FileResponse(
        path, media_type="application/x-x509-ca-cert", filename="quietleaf-station.crt"
    )


ROUTES: list[BaseRoute] = [
    Route("/trust", trust_page),
    Route("/trust/quietleaf-station.crt", authority),
]
