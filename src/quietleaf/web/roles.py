"""The role-by-route matrix: who may ask for which address; one without a row is for staff."""

from __future__ import annotations

from collections.abc import Collection

from starlette.routing import compile_path

from quietleaf.planning.account import ROLES as ALL_ROLES
from quietleaf.planning.account import Role, Scope

STATIC_FILES = "/static/{path:path}"
EVERYBODY = (
    "/health",
    "/sign-in",
    "/sign-out",
    "/booth",
    "/booth/name",
    "/booth/enrol/{token}",
    "/link/{token}",
    "/stand",
    "/stand/choose",
    "/stand/paper",
    "/stand/paper-missing",
    "/stand/take",
    "/stand/before",
    "/stand/leave",
    "/stand/left",
    "/stand/pass",
    "/stand/help",
    "/stand/message/{message_id}",
    "/stand/room",
    "/stand/room/sound",
    "/stand/room/without",
    "/stand/reading",
    "/stand/reading/last",
    "/stand/reading/before",
    "/stand/reading/in-place",
    "/stand/hand-in",
    "/stand/hand-in/copy",
    "/stand/receipt",
    "/stand/receipt/verdict",
    "/stand/wire",
    "/practice",
    "/practice/begin",
    "/practice/feedback",
    "/practice/copy",
    "/practice/verdict",
    "/practice/sound",
    "/practice/leave",
    "/practice/here",
    "/practice/gone",
    "/trust",
    "/trust/quietleaf-station.crt",
    "/api/health",
    "/api/openapi.json",
    STATIC_FILES,
)
"""Booth pages and personal links, which have secrets of their own, and what names nobody."""

ANYBODY: frozenset[Role] = frozenset(ALL_ROLES)
"""Who has signed in."""
STAFF: frozenset[Role] = ANYBODY - {"reader"}
_DESK: frozenset[Role] = frozenset({"desk"})
REVIEW: frozenset[Role] = frozenset({"reviewer", "desk"})
"""Who decides about a reading."""
_STEWARD: frozenset[Role] = frozenset({"steward"})

ROLES: dict[str, frozenset[Role]] = {
    "/": STAFF,
    "/day/{day}": STAFF,
    "/day/{day}/board": STAFF,
    "/reading/{reading_id}": STAFF,
    "/reading/{reading_id}/files/{name}": STAFF,
    "/reading/{reading_id}/repairs/{number}/before": STAFF,
    "/reading/{reading_id}/repairs/{number}/now": STAFF,
    "/reading/{reading_id}/sound": STAFF,
    "/reading/{reading_id}/cut/{version}": STAFF,
    "/reading/{reading_id}/decide": REVIEW,
    "/reading/{reading_id}/mark": REVIEW,
    "/reading/{reading_id}/take-back": REVIEW,
    "/reading/{reading_id}/clear": REVIEW,
    "/reading/{reading_id}/return": REVIEW,
    "/reading/{reading_id}/plan": STAFF,
    "/reading/{reading_id}/plan/under-way": STAFF,
    "/reading/{reading_id}/plan/decide": _DESK,
    "/reading/{reading_id}/plan/finish": _DESK,
    "/reading/{reading_id}/plan/stop": _DESK,
    "/reading/{reading_id}/plan/use": _DESK,
    "/message/{message_id}/seen": _DESK,
    "/plan": _DESK,
    "/plan/station": _DESK | _STEWARD,
    "/plan/station/own": _DESK | _STEWARD,
    "/plan/programmes/new": _DESK,
    "/plan/programmes/{key}": _DESK,
    "/plan/programmes/{key}/remove": _DESK,
    "/plan/publications/new": _DESK,
    "/plan/publications/{key}": _DESK,
    "/plan/publications/{key}/remove": _DESK,
    "/plan/readers/new": _DESK,
    "/plan/readers/{key}": _DESK,
    "/plan/readers/{key}/remove": _DESK,
    "/plan/readers/{name}/link": _DESK,
    "/plan/readers/{name}/link/{sha256}/revoke": _DESK,
    "/plan/booths/new": _DESK,
    "/plan/booths/{key}": _DESK,
    "/plan/booths/{key}/remove": _DESK,
    "/plan/booths/{key}/enrol": _DESK,
    "/plan/booths/{key}/enrol/end": _DESK,
    "/plan/assignments/new": _DESK,
    "/plan/assignments/{key}": _DESK,
    "/plan/assignments/{key}/remove": _DESK,
    "/account": ANYBODY,
    "/account/password": ANYBODY,
    "/account/factor": ANYBODY,
    "/account/factor/confirm": ANYBODY,
    "/account/factor/remove": ANYBODY,
    "/account/sessions/end": ANYBODY,
    "/account/tokens": STAFF,
    "/account/tokens/{sha256}/end": STAFF,
    "/accounts": _STEWARD,
    "/accounts/new": _STEWARD,
    "/accounts/deeds": _STEWARD,
    "/accounts/{name}": _STEWARD,
    "/accounts/{name}/end": _STEWARD,
    "/accounts/{name}/factor/remove": _STEWARD,
    "/people": _STEWARD,
    "/people/{name}": _STEWARD,
    "/people/{name}/export": _STEWARD,
    "/people/{name}/erase": _STEWARD,
    "/accounts/{name}/tokens": _STEWARD,
    "/accounts/{name}/tokens/{sha256}/end": _STEWARD,
}

API = "/api"
API_ROLES: dict[str, tuple[Scope, frozenset[Role]]] = {
    "/api/days/{day}": ("see", STAFF),
    "/api/readings": ("see", STAFF),
    "/api/readings/{reading_id}": ("see", STAFF),
    "/api/readings/{reading_id}/files/{name}": ("see", STAFF),
    "/api/readings/{reading_id}/review": ("see", STAFF),
    "/api/readings/{reading_id}/decisions": ("clear", REVIEW),
    "/api/readings/{reading_id}/take-back": ("clear", REVIEW),
    "/api/readings/{reading_id}/clear": ("clear", REVIEW),
    "/api/readings/{reading_id}/return": ("clear", REVIEW),
    "/api/readings/{reading_id}/finishing": ("clear", _DESK),
    "/api/messages": ("see", STAFF),
    "/api/messages/{message_id}/seen": ("plan", _DESK),
    "/api/plan/station": ("plan", _DESK | _STEWARD),
    "/api/plan/programmes": ("plan", _DESK),
    "/api/plan/programmes/{key}": ("plan", _DESK),
    "/api/plan/publications": ("plan", _DESK),
    "/api/plan/publications/{key}": ("plan", _DESK),
    "/api/plan/readers": ("plan", _DESK),
    "/api/plan/readers/{name}": ("plan", _DESK),
    "/api/plan/readers/{name}/links": ("plan", _DESK),
    "/api/plan/readers/{name}/links/{sha256}": ("plan", _DESK),
    "/api/plan/booths": ("plan", _DESK),
    "/api/plan/booths/{key}": ("plan", _DESK),
    "/api/plan/booths/{key}/enrolment": ("plan", _DESK),
    "/api/plan/assignments": ("plan", _DESK),
    "/api/plan/assignments/{key}": ("plan", _DESK),
    "/api/accounts": ("accounts", _STEWARD),
    "/api/accounts/{name}": ("accounts", _STEWARD),
    "/api/accounts/{name}/password": ("accounts", _STEWARD),
    "/api/accounts/{name}/tokens": ("accounts", _STEWARD),
    "/api/accounts/{name}/tokens/{sha256}": ("accounts", _STEWARD),
    "/api/deeds": ("accounts", _STEWARD),
    "/api/people": ("accounts", _STEWARD),
    "/api/people/{name}": ("accounts", _STEWARD),
}
"""What programs ask for: the scope that their token needs, and the roles that its account needs."""

UNNAMED = ("/people/{name}/erase", "/api/people/{name}")
"""Of these the audit list keeps no address: a name is in it."""

_ROWS: tuple[tuple[str, frozenset[Role] | None], ...] = (
    *((path, None) for path in EVERYBODY),
    *ROLES.items(),
    *((path, roles) for path, (_, roles) in API_ROLES.items()),
)
_COMPILED = tuple((compile_path(path)[0], path, roles) for path, roles in _ROWS)
NO_ROW = ""


def row_of(path: str) -> tuple[str, frozenset[Role] | None]:
    """Give the row of an address, and who may ask for it; None for everybody.

    Examples
    --------
    >>> row_of("/stand/reading"), row_of("//stand") == (NO_ROW, STAFF)
    (('/stand/reading', None), True)
    >>> row_of("/accounts/new")[0], row_of("/accounts/Ida Marsh")[0]
    ('/accounts/new', '/accounts/{name}')
    """
    for pattern, row, roles in _COMPILED:
        if pattern.match(path):
            return row, roles
    return NO_ROW, STAFF


def may(roles: Collection[Role], wanted: frozenset[Role]) -> bool:
    """Say whether one of these roles is wanted."""
    return not wanted.isdisjoint(roles)


def is_for_programs(path: str) -> bool:
    """Say whether programs ask for this address, and are answered in JSON."""
    return path == API or path.startswith(f"{API}/")


def scope_of(row: str) -> Scope:
    """Give the scope that a token needs for a row; one without is for who keeps accounts."""
    return API_ROLES[row][0] if row in API_ROLES else "accounts"
