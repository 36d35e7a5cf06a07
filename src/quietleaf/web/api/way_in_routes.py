"""What lets readers in: personal links, and addresses that make a browser a booth."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request

from quietleaf.web.api.asking import PageAsked, Sha256, StationTools
from quietleaf.web.api.records import STRICT, Listed, OpenedOnce, listed
from quietleaf.work.enrol_booth import SeenEnrolment, end_booth, make_enrolment, see_enrolment
from quietleaf.work.personal_links import (
    USUAL_DAYS,
    PersonalLink,
    links_of,
    make_link,
    revoke_link,
)

ROUTER = APIRouter(prefix="/plan", tags=["plan"])


@dataclass(frozen=True, slots=True, kw_only=True)
class Days:
    """For how many days a personal link is good."""

    __pydantic_config__ = STRICT
    days: int = USUAL_DAYS


@ROUTER.get("/readers/{name}/links")
def links(name: str, tools: StationTools, page: PageAsked = 1) -> Listed[PersonalLink]:
    """List a reader's personal links, the newest first; never their secrets."""
    return listed(links_of(name, tools), page)


@ROUTER.post("/readers/{name}/links", status_code=201)
def post_link(name: str, body: Days, request: Request, tools: StationTools) -> OpenedOnce:
    """Make a personal link; its address is told this once."""
    return OpenedOnce(address=f"{_base(request)}/link/{make_link(name, body.days, tools)}")


@ROUTER.delete("/readers/{name}/links/{sha256}", status_code=204)
def delete_link(name: str, sha256: Sha256, tools: StationTools) -> None:
    """Revoke a personal link."""
    revoke_link(name, sha256, tools)


@ROUTER.get("/booths/{key}/enrolment")
def enrolment(key: str, tools: StationTools) -> SeenEnrolment:
    """Say whether some browser is this booth."""
    return see_enrolment(key, tools)


@ROUTER.post("/booths/{key}/enrolment", status_code=201)
def post_enrolment(key: str, request: Request, tools: StationTools) -> OpenedOnce:
    """Make an address that makes one browser this booth, once, within an hour."""
    return OpenedOnce(address=f"{_base(request)}/booth/enrol/{make_enrolment(key, tools)}")


@ROUTER.delete("/booths/{key}/enrolment", status_code=204)
def delete_enrolment(key: str, tools: StationTools) -> None:
    """Let no browser be this booth any more."""
    end_booth(key, tools)


def _base(request: Request) -> str:
    outside: str = request.app.state.outside
    return outside or f"{request.url.scheme}://{request.url.netloc}"
