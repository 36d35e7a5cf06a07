"""The desk's plan: an overview, and a form for each programme, publication, reader, booth, turn."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, TypeVar
from urllib.parse import quote
from zoneinfo import available_timezones

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from quietleaf.errors import NotFound, Refused
from quietleaf.planning.booth import Booth
from quietleaf.planning.programme import USUAL_REVIEW
from quietleaf.planning.station import (
    Station,
    assignment_named,
    booth_named,
    programme_named,
)
from quietleaf.planning.words import WEEKDAYS, WordsFor, WordsPart, filled_parts
from quietleaf.storage.zones import zone_named
from quietleaf.web import pages, plan_forms, plan_texts
from quietleaf.web.forms import form_of
from quietleaf.web.plan_forms import FIELD_OF, FormRefused, Values
from quietleaf.web.rendering import list_page, page, page_asked, tools_of
from quietleaf.work.own_station import describe_station, is_example, own_station
from quietleaf.work.plan_assignment import (
    add_assignment,
    change_assignment,
    remove_assignment,
)
from quietleaf.work.plan_booth import add_booth, change_booth, remove_booth
from quietleaf.work.plan_programme import add_programme, change_programme, remove_programme
from quietleaf.work.plan_publication import (
    add_publication,
    change_publication,
    publication_of_key,
    remove_publication,
)
from quietleaf.work.plan_reader import add_reader, change_reader, find_reader, remove_reader
from quietleaf.work.see_plan import (
    WaysIn,
    next_assignment,
    see_booth_ways,
    see_plan,
    see_reader_ways,
)
from quietleaf.work.tools import Tools

STATION_FIELDS = ("name", "zone", "originator")
NAME_TWICE = "planning/name-twice"

_Result = TypeVar("_Result")


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """A form as it is shown.

    Attributes
    ----------
    refusals : mapping of str to str
        A sentence for each field that is refused; under "" what belongs to none.
    first : str
        The field that gets the focus.
    said : str
        What was just done.
    more : mapping
        What else a form's template asks for: choices, a preview.
    """

    values: Values
    address: str
    refusals: Mapping[str, str] = field(default_factory=dict)
    first: str = ""
    said: str = ""
    removable: bool = False
    more: Mapping[str, Any] = field(default_factory=dict)

    def __getattr__(self, name: str) -> Any:
        return self.more.get(name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One kind of thing in the plan, and what its pages do.

    Attributes
    ----------
    fields : tuple of str
        Those at which a refusal can be shown, in the order in which they stand.
    fresh : callable
        Gives the values of a new one's form.
    shown : callable
        Gives the title of a page and the values of its form, or raises NotFound.
    keep : callable
        Adds ("" for a key) or changes one; gives its key.
    more : callable
        Gives what the form's template asks for beside its values.
    """

    name: str
    fields: tuple[str, ...]
    fresh: Callable[[Request, Station], Values]
    shown: Callable[[Station, str], tuple[str, Values]]
    keep: Callable[[Values, str, Station, Tools], str]
    remove: Callable[[str, Tools], None]
    more: Callable[[Station, str, Tools], dict[str, Any]]


async def overview(request: Request) -> Response:
    """Show what comes next, and everything that is planned."""
    plan = await run_in_threadpool(see_plan, page_asked(request), tools_of(request))
    station = plan.station
    done = {"removed": plan_texts.REMOVED, "begun": plan_texts.OWN_DONE}
    return page(
        request,
        "plan/plan.html",
        words=plan_texts,
        plan=plan,
        said=done.get(request.query_params.get("done", ""), ""),
        programmes=list_page(
            request,
            [
                (f"/plan/programmes/{one.key}", one.title, plan_texts.airs_words(one))
                for one in sorted(station.programmes, key=lambda one: one.title.casefold())
            ],
            "programmes",
        ),
        readers=list_page(
            request,
            [
                (f"/plan/readers/{quote(name, safe='')}", name, "")
                for name in sorted(station.readers, key=str.casefold)
            ],
            "readers",
        ),
        booths=list_page(
            request,
            [(f"/plan/booths/{one.key}", one.name, "") for one in station.booths],
            "booths",
        ),
        publications=list_page(
            request,
            [
                (f"/plan/publications/{one.key}", one.title, plan_texts.KINDS[one.kind])
                for one in sorted(station.publications, key=lambda one: one.title.casefold())
            ],
            "publications",
        ),
    )


def _new_page(part: Part) -> Callable[[Request], Any]:
    async def show(request: Request) -> Response:
        tools = tools_of(request)
        station = await run_in_threadpool(tools.database.load_station)
        title, address = plan_texts.TITLES_NEW[part.name], f"/plan/{part.name}/new"
        if request.method == "GET":
            values = part.fresh(request, station)
            return await _form(request, part, station, title, address, "", values)
        return await _kept(request, part, station, title, address, "")

    return show


def _page(part: Part) -> Callable[[Request], Any]:
    async def show(request: Request) -> Response:
        tools = tools_of(request)
        key = request.path_params["key"]
        station = await run_in_threadpool(tools.database.load_station)
        title, values = part.shown(station, key)
        address = _address(part, key)
        if request.method == "GET":
            said = plan_texts.KEPT if request.query_params.get("done") == "kept" else ""
            return await _form(request, part, station, title, address, key, values, said=said)
        return await _kept(request, part, station, title, address, key)

    return show


def _remove(part: Part) -> Callable[[Request], Any]:
    async def remove(request: Request) -> Response:
        tools = tools_of(request)
        key = request.path_params["key"]
        await form_of(request)
        station = await run_in_threadpool(tools.database.load_station)
        title, values = part.shown(station, key)
        try:
            await run_in_threadpool(part.remove, key, tools)
        except Refused as refusal:
            refusals = {"": refusal.sentence}
            address = _address(part, key)
            return await _form(
                request, part, station, title, address, key, values, refusals=refusals
            )
        return RedirectResponse("/plan?done=removed", 303)

    return remove


async def _kept(
    request: Request, part: Part, station: Station, title: str, address: str, key: str
) -> Response:
    values = await form_of(request)
    tools = tools_of(request)
    if values.get("do") == "preview":
        return await _form(request, part, station, title, address, key, values)
    refusals, kept = await _refusals(part.fields, lambda: part.keep(values, key, station, tools))
    if kept is None:
        return await _form(request, part, station, title, address, key, values, refusals=refusals)
    return RedirectResponse(f"{_address(part, kept)}?done=kept", 303)


async def _refusals(
    fields: tuple[str, ...], do: Callable[[], _Result]
) -> tuple[dict[str, str], _Result | None]:
    """Do something; give each refusal under the field at which it is shown, else under ""."""
    try:
        return {}, await run_in_threadpool(do)
    except FormRefused as refused:
        return refused.refusals, None
    except Refused as refusal:
        # What has a name twice is named in the first field of its form.
        name = fields[0] if refusal.code == NAME_TWICE else FIELD_OF.get(refusal.code, "")
        return {name if name in fields else "": refusal.sentence}, None


async def _form(
    request: Request,
    part: Part,
    station: Station,
    title: str,
    address: str,
    key: str,
    values: Values,
    *,
    refusals: Mapping[str, str] | None = None,
    said: str = "",
) -> Response:
    refusals = dict(refusals or {})
    more = await run_in_threadpool(part.more, station, key, tools_of(request))
    if values.get("do") == "preview":
        preview, refused = _preview(values, station, tools_of(request))
        more["preview"] = preview
        refusals.update(refused)
    return _shown(
        request,
        f"plan/{part.name}.html",
        title,
        Form(
            values=values,
            address=address,
            refusals=refusals,
            first=next((name for name in part.fields if name in refusals), ""),
            said=said,
            removable=bool(key),
            more=more,
        ),
    )


def _shown(request: Request, template: str, title: str, form: Form) -> Response:
    status = 422 if form.refusals else 200
    return page(request, template, status=status, words=plan_texts, title=title, f=form)


def _preview(
    values: Values, station: Station, tools: Tools
) -> tuple[list[tuple[str, tuple[WordsPart, ...]]], dict[str, str]]:
    today = tools.clock().astimezone(zone_named(station.zone)).date()
    given = WordsFor(
        service=station.name,
        programme=values.get("title") or plan_texts.SOME_TITLE,
        publication=values.get("publication") or plan_texts.PUBLICATION,
        issue_date=today,
        readers=station.readers[:1] or (plan_texts.SOME_READER,),
        part=1,
    )
    shown, refused = [], {}
    for name, heading in (("opening", plan_texts.OPENING), ("closing", plan_texts.CLOSING)):
        try:
            text = plan_forms.checked_words(values.get(name, ""), values.get("serial") == "yes")
            shown.append((heading, filled_parts(text, given)))
        except Refused as refusal:
            refused[name] = refusal.sentence
    return shown, refused


async def station_page(request: Request) -> Response:
    """Show and change what the station says of itself."""
    tools = tools_of(request)
    try:
        station = await run_in_threadpool(tools.database.load_station)
    except NotFound:
        return RedirectResponse("/plan/station/own", 303)
    more = {"zones": _zones(), "is_example": is_example(station), "own": False}
    refusals: dict[str, str] = {}
    values: Values = {
        "name": station.name,
        "place": station.place,
        "zone": station.zone,
        "originator": station.originator,
        "tidy": "\n".join(station.tidy_list),
    }
    if request.method == "POST":
        values = await form_of(request)
        tidy = tuple(line.strip() for line in values.get("tidy", "").split("\n") if line.strip())
        refusals, kept = await _refusals(
            STATION_FIELDS, lambda: describe_station(plan_forms.station_of(values), tidy, tools)
        )
        if kept is not None:
            return RedirectResponse("/plan/station?done=kept", 303)
    form = Form(
        values=values,
        address="/plan/station",
        refusals=refusals,
        first=next((name for name in STATION_FIELDS if name in refusals), ""),
        said=plan_texts.KEPT if "done" in request.query_params and not refusals else "",
        more=more,
    )
    return _shown(request, "plan/station.html", plan_texts.STATION, form)


async def own_page(request: Request) -> Response:
    """Begin a station of one's own."""
    tools = tools_of(request)
    values: Values = {}
    refusals: dict[str, str] = {}
    if request.method == "POST":
        values = await form_of(request)
        writer_of = request.app.state.recorders.writer_of
        refusals, begun = await _refusals(
            STATION_FIELDS, lambda: own_station(plan_forms.station_of(values), writer_of, tools)
        )
        if begun is not None:
            return RedirectResponse("/plan?done=begun", 303)
    try:
        there = is_example(await run_in_threadpool(tools.database.load_station))
    except NotFound:
        there = False
    more = {"zones": _zones(), "is_example": there, "own": True}
    form = Form(
        values=values,
        address="/plan/station/own",
        refusals=refusals,
        first=next((name for name in STATION_FIELDS if name in refusals), ""),
        more=more,
    )
    return _shown(request, "plan/station.html", plan_texts.OWN, form)


def _zones() -> list[str]:
    return sorted(name for name in available_timezones() if name[0].isupper() and "/" in name)


def _address(part: Part, key: str) -> str:
    return f"/plan/{part.name}/{quote(key, safe='')}"


def _no_values(_request: Request, _station: Station) -> Values:
    return {}


def _fresh_programme(_request: Request, _station: Station) -> Values:
    return {"review": USUAL_REVIEW}


def _shown_programme(station: Station, key: str) -> tuple[str, Values]:
    programme = programme_named(station, key)
    return programme.title, plan_forms.values_of_programme(programme)


def _keep_programme(values: Values, key: str, _station: Station, tools: Tools) -> str:
    programme = plan_forms.programme_of(values, key)
    return (change_programme if key else add_programme)(programme, tools).key


def _more_programme(station: Station, _key: str, _tools: Tools) -> dict[str, Any]:
    titles = sorted((one.title for one in station.publications), key=str.casefold)
    return {"publications": [(title, title) for title in titles], "weekdays": WEEKDAYS}


def _shown_publication(station: Station, key: str) -> tuple[str, Values]:
    publication = publication_of_key(station, key)
    return publication.title, plan_forms.values_of_publication(publication)


def _keep_publication(values: Values, key: str, _station: Station, tools: Tools) -> str:
    publication = plan_forms.publication_of(values, key)
    return (change_publication if key else add_publication)(publication, tools).key


def _shown_reader(station: Station, key: str) -> tuple[str, Values]:
    return find_reader(station, key), {"name": key}


def _keep_reader(values: Values, key: str, _station: Station, tools: Tools) -> str:
    name = plan_forms.name_of(values)
    return change_reader(key, name, tools) if key else add_reader(name, tools)


def _shown_booth(station: Station, key: str) -> tuple[str, Values]:
    name = booth_named(station, key).name
    return name, {"name": name}


def _keep_booth(values: Values, key: str, _station: Station, tools: Tools) -> str:
    name = plan_forms.name_of(values)
    return (change_booth(Booth(key=key, name=name), tools) if key else add_booth(name, tools)).key


def _fresh_assignment(request: Request, station: Station) -> Values:
    asked = request.query_params
    try:
        day = date.fromisoformat(asked.get("air", ""))
        drawn = next_assignment(station, asked.get("programme", ""), day)
    except (ValueError, NotFound):
        return {"programme": asked.get("programme", "")}
    return plan_forms.values_of_assignment(drawn, zone_named(station.zone))


def _shown_assignment(station: Station, key: str) -> tuple[str, Values]:
    assignment = assignment_named(station, key)
    programme = programme_named(station, assignment.programme_key)
    values = plan_forms.values_of_assignment(assignment, zone_named(station.zone))
    return plan_texts.assignment_title(programme, assignment.air_date), values


def _keep_assignment(values: Values, key: str, station: Station, tools: Tools) -> str:
    assignment = plan_forms.assignment_of(values, key, zone_named(station.zone))
    return (change_assignment if key else add_assignment)(assignment, tools).key


def _more_assignment(station: Station, _key: str, _tools: Tools) -> dict[str, Any]:
    programmes = sorted(station.programmes, key=lambda one: one.title.casefold())
    return {
        "programmes": [(one.key, one.title) for one in programmes],
        "readers": [(name, name) for name in sorted(station.readers, key=str.casefold)],
        "booths": [(one.key, one.name) for one in station.booths],
    }


def _more_reader(_station: Station, key: str, tools: Tools) -> dict[str, Any]:
    ways = see_reader_ways(key, tools) if key else None
    return {"ways": ways, "remove_ask": plan_texts.REMOVE_READER_ASK}


def _ways(see: Callable[[str, Tools], WaysIn]) -> Callable[[Station, str, Tools], dict[str, Any]]:
    return lambda _station, key, tools: {"ways": see(key, tools) if key else None}


PARTS = (
    Part(
        name="programmes",
        fields=(
            "title",
            "publication",
            "air_times",
            "slot",
            "shortest",
            "longest",
            "review",
            "opening",
            "closing",
        ),
        fresh=_fresh_programme,
        shown=_shown_programme,
        keep=_keep_programme,
        remove=remove_programme,
        more=_more_programme,
    ),
    Part(
        name="publications",
        fields=("title", "kind", "appears", "year"),
        fresh=_no_values,
        shown=_shown_publication,
        keep=_keep_publication,
        remove=remove_publication,
        more=lambda _station, _key, _tools: {},
    ),
    Part(
        name="readers",
        fields=("name",),
        fresh=_no_values,
        shown=_shown_reader,
        keep=_keep_reader,
        remove=remove_reader,
        more=_more_reader,
    ),
    Part(
        name="booths",
        fields=("name",),
        fresh=_no_values,
        shown=_shown_booth,
        keep=_keep_booth,
        remove=remove_booth,
        more=_ways(see_booth_ways),
    ),
    Part(
        name="assignments",
        fields=(
            "programme",
            "issue_date",
            "air_date",
            "reader",
            "second_reader",
            "booth",
            "reads_day",
            "reads_time",
            "part",
        ),
        fresh=_fresh_assignment,
        shown=_shown_assignment,
        keep=_keep_assignment,
        remove=remove_assignment,
        more=_more_assignment,
    ),
)

ROUTES: list[BaseRoute] = [
    Route("/day/{day}/board", pages.day_board),
    Route("/message/{message_id}/seen", pages.message_seen, methods=["POST"]),
    Route("/plan", overview),
    Route("/plan/station", station_page, methods=["GET", "POST"]),
    Route("/plan/station/own", own_page, methods=["GET", "POST"]),
    *(
        route
        for part in PARTS
        for route in (
            Route(f"/plan/{part.name}/new", _new_page(part), methods=["GET", "POST"]),
            Route(f"/plan/{part.name}/{{key}}", _page(part), methods=["GET", "POST"]),
            Route(f"/plan/{part.name}/{{key}}/remove", _remove(part), methods=["POST"]),
        )
    ),
]
