"""The API as an application: its routes, and how its refusals are told."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from fastapi.routing import APIRoute
from pydantic import TypeAdapter
from starlette.exceptions import HTTPException

from quietleaf.errors import Damaged, Invalid, NotFound, QuietleafError
from quietleaf.web.api import account_routes, plan_routes, review_routes, seen_routes, way_in_routes
from quietleaf.web.api.records import ProblemDetails
from quietleaf.web.forms import LARGEST_FORM_BYTES
from quietleaf.web.pages import status_of
from quietleaf.web.problems import MEDIA_TYPE, Problem, too_large
from quietleaf.web.roles import API, API_ROLES
from quietleaf.work.finishings import Finishings
from quietleaf.work.recorders import Recorders
from quietleaf.work.tools import Tools

ABOUT = (
    "What the desk's pages do, for programs. A token goes with each request: “Authorization: "
    "Bearer …”. It needs the scope that each path names, and its account the role. Moments are "
    "ISO 8601 with their zone; times on the air are the station's own. Lists come in pages of 100. "
    "A refusal is a problem (RFC 9457) with a stable code and a sentence."
)
REFUSALS = {
    401: "No token came, or one that opens nothing.",
    403: "The token's scopes, or its account's roles, do not reach this.",
    404: "Nothing is there under that name.",
    405: "That cannot be done there.",
    409: "It was true before, and is no longer.",
    413: "The request is too large.",
    422: "The request does not hold together.",
    429: "Too much was asked at once.",
    500: "Something stored is damaged, or the fault is Quietleaf's.",
    503: "Something did not answer; trying again may help.",
}


def make_api(tools: Tools, recorders: Recorders, finishings: Finishings, outside: str) -> FastAPI:
    """Make the API of one station."""
    api = FastAPI(
        title="Quietleaf",
        version="1",
        description=ABOUT,
        # No page that would load its looks from elsewhere: the schema alone.
        docs_url=None,
        redoc_url=None,
        max_body_size=LARGEST_FORM_BYTES,
        telemetry={"tracing": False},
        servers=[{"url": "/api"}],
        root_path_in_servers=False,
        generate_unique_id_function=_name_of,
        responses={
            status: {
                "description": told,
                "content": {
                    MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/ProblemDetails"}}
                },
            }
            for status, told in REFUSALS.items()
        },
        exception_handlers={
            QuietleafError: _refused,
            RequestValidationError: _does_not_hold,
            HTTPException: _no_such_path,
            Exception: _broken,
        },
    )
    for part in (seen_routes, review_routes, plan_routes, way_in_routes, account_routes):
        api.include_router(part.ROUTER)
    api.openapi = lambda: api.openapi_schema or _schema(api)  # type: ignore[method-assign]
    api.state.tools = tools
    api.state.recorders = recorders
    api.state.finishings = finishings
    api.state.outside = outside
    return api


def _schema(api: FastAPI) -> dict[str, Any]:
    """Describe the API: what its library tells, the token, and which scope each path needs."""
    schema = FastAPI.openapi(api)
    schema["components"]["schemas"]["ProblemDetails"] = TypeAdapter(ProblemDetails).json_schema()
    schema["components"]["securitySchemes"] = {"token": {"type": "http", "scheme": "bearer"}}
    for path, operations in schema["paths"].items():
        row = f"{API}{path}"
        if row in API_ROLES:
            scope, roles = API_ROLES[row]
            for operation in operations.values():
                operation["security"] = [{"token": []}]
                operation["description"] += (
                    f" Scope: {scope}. Account: {' or '.join(sorted(roles))}."
                )
    return schema


def _name_of(route: APIRoute) -> str:
    return route.name


async def _refused(_request: Request, refusal: Exception) -> Response:
    assert isinstance(refusal, QuietleafError)
    return Problem(refusal, status_of(refusal))


async def _does_not_hold(_request: Request, fault: Exception) -> Response:
    assert isinstance(fault, RequestValidationError)
    places = [_place(found["loc"]) for found in fault.errors()]
    first = fault.errors()[0]
    return Problem(
        Invalid(
            "api/request",
            f"The request does not hold at {places[0]}: {first['msg']}. The schema says what is "
            "needed.",
        ),
        422,
        where=places,
    )


def _place(parts: Sequence[object]) -> str:
    return ".".join(str(part) for part in parts)


async def _no_such_path(_request: Request, fault: Exception) -> Response:
    assert isinstance(fault, HTTPException)
    refusal: QuietleafError = NotFound(
        "api/no-path", "Nothing answers there, or not in that way. The schema lists what does."
    )
    if fault.status_code == 413:
        refusal = too_large()
    if fault.status_code == 400:
        # Its library says so of a body that it cannot take apart.
        refusal = Invalid(
            "api/body", "What came cannot be read as JSON. The schema says what is needed."
        )
        return Problem(refusal, 422, where=["body"])
    return Problem(refusal, fault.status_code, headers=fault.headers)


async def _broken(_request: Request, _fault: Exception) -> Response:
    refusal = Damaged(
        "api/broken",
        "This could not be done, and the fault is Quietleaf's. What happened is written in the "
        "window where Quietleaf runs.",
    )
    return Problem(refusal, 500)
