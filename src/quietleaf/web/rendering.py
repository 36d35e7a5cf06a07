"""How a page is made of a template, and what every handler asks of its request."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import HTTPConnection, Request
from starlette.responses import HTMLResponse, Response

from quietleaf.errors import NotFound
from quietleaf.units import clock
from quietleaf.web import phrases, texts
from quietleaf.web.entry import current_account
from quietleaf.work.tools import Tools

ON_A_PAGE = 50
"""Rows of a list; ours: what is looked through without losing one's place."""
TEMPLATES = Environment(
    loader=FileSystemLoader(Path(__file__).parent / "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
TEMPLATES.globals.update(t=texts, p=phrases, clock=clock, signed_in=current_account)


def tools_of(request: HTTPConnection) -> Tools:
    """Give the station's tools."""
    tools: Tools = request.app.state.tools
    return tools


@dataclass(frozen=True, slots=True, kw_only=True)
class ListPage:
    """One page of a long list.

    Attributes
    ----------
    asked : str
        What an address calls the page of this list.
    """

    rows: Sequence[Any]
    asked: str
    number: int
    pages: int
    count: int


def list_page(request: HTTPConnection, rows: Sequence[Any], asked: str = "page") -> ListPage:
    """Give the page of a list that an address asks for; one past the last gives the last."""
    pages = max(1, -(-len(rows) // ON_A_PAGE))
    number = min(max(page_asked(request, asked), 1), pages)
    return ListPage(
        rows=rows[(number - 1) * ON_A_PAGE : number * ON_A_PAGE],
        asked=asked,
        number=number,
        pages=pages,
        count=len(rows),
    )


def page_asked(request: HTTPConnection, name: str = "page") -> int:
    """Give the page of a long list that an address asks for."""
    return page_of_text(request.query_params.get(name, "1"))


def page_of_text(text: str) -> int:
    """Read the number of a page; what is none is the first."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 7 else 1


def set_cookie(
    request: Request, answer: Response, name: str, secret: str, *, keep_s: int | None = None
) -> None:
    """Give a browser a secret that scripts cannot read and other sites cannot use."""
    answer.set_cookie(
        name,
        secret,
        max_age=keep_s,
        path="/",
        secure=request.url.scheme == "https",
        httponly=True,
        samesite="strict",
    )


def page(
    request: HTTPConnection, template: str, *, status: int = 200, **values: object
) -> HTMLResponse:
    """Make a page of the station that the request came to.

    Parameters
    ----------
    template : str
        Its path among the templates.
    values : object
        What the template asks for, beside the station's name and note.
    """
    try:
        station = tools_of(request).database.load_station()
        name, note = station.name, station.note
    except NotFound:
        name, note = "", ""
    text = TEMPLATES.get_template(template).render(
        {"station_name": name, "station_note": note, **values}
    )
    return HTMLResponse(text, status)
