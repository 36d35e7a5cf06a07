"""What is kept about people: a steward sees it, saves it as a file, and erases it."""

from __future__ import annotations

from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from quietleaf.errors import Refused
from quietleaf.web import people_texts
from quietleaf.web.forms import form_of
from quietleaf.web.own_account_pages import NOT_KEPT
from quietleaf.web.pages import status_of
from quietleaf.web.rendering import list_page, page, tools_of
from quietleaf.work.persons import erase_person, people_of, see_person, text_of_person


async def people_page(request: Request) -> Response:
    """List everybody, a page at a time."""
    names = await run_in_threadpool(people_of, tools_of(request))
    said = people_texts.ERASED if request.query_params.get("done") == "erased" else ""
    return page(
        request,
        "accounts/people.html",
        words=people_texts,
        title=people_texts.PEOPLE,
        people=list_page(request, names),
        said=said,
    )


async def person_page(request: Request) -> Response:
    """Say what is kept about one person."""
    return await _person(request)


async def export(request: Request) -> Response:
    """Give all of it as a file."""
    person = await run_in_threadpool(see_person, request.path_params["name"], tools_of(request))
    named = quote(f"{person.name}.json", safe="")
    return Response(
        text_of_person(person),
        media_type="application/json; charset=utf-8",
        headers={**NOT_KEPT, "content-disposition": f"attachment; filename*=UTF-8''{named}"},
    )


async def erase(request: Request) -> Response:
    """Erase a person, and say which folders still have the name."""
    await form_of(request)
    try:
        await run_in_threadpool(erase_person, request.path_params["name"], tools_of(request))
    except Refused as refusal:
        return await _person(request, refusal)
    return RedirectResponse("/people?done=erased", 303)


async def _person(request: Request, refusal: Refused | None = None) -> Response:
    person = await run_in_threadpool(see_person, request.path_params["name"], tools_of(request))
    answer = page(
        request,
        "accounts/person.html",
        status=200 if refusal is None else status_of(refusal),
        words=people_texts,
        title=person.name,
        person=person,
        address=f"/people/{quote(person.name, safe='')}",
        refusal="" if refusal is None else refusal.sentence,
    )
    answer.headers.update(NOT_KEPT)
    return answer


ROUTES: list[BaseRoute] = [
    Route("/people", people_page),
    Route("/people/{name}", person_page),
    Route("/people/{name}/export", export),
    Route("/people/{name}/erase", erase, methods=["POST"]),
]
