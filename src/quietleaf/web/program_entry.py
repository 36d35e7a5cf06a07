"""Who is let in to the API: a program by its token, a page of ours by who signed in there."""

from __future__ import annotations

from collections.abc import Sequence

from starlette.datastructures import Headers

from quietleaf.errors import NotAllowed, QuietleafError, Unavailable
from quietleaf.planning.account import Account, Role, Scope
from quietleaf.storage.tokens import Token
from quietleaf.web.problems import Problem
from quietleaf.web.roles import may

_BEARER = "bearer "
_ASK = {"www-authenticate": 'Bearer realm="quietleaf"'}


def bearer_of(headers: Headers) -> str | None:
    """Give the secret that a program shows (RFC 6750, 2.1); None where it shows none."""
    shown = headers.get("authorization", "")
    return shown[len(_BEARER) :].strip() if shown.lower().startswith(_BEARER) else None


def refused_unknown(secret: str | None) -> Problem:
    """Refuse whoever is nobody: with a token that opens nothing, or without any."""
    if secret is None:
        refusal: QuietleafError = NotAllowed(
            "api/who",
            "The API asks for a token: “Authorization: Bearer …”. An account that has signed in "
            "makes one at /account/tokens.",
        )
    else:
        refusal = NotAllowed(
            "api/token",
            "This token opens nothing: it was never made, has ended or has run out. Make a new one "
            "at /account/tokens.",
        )
    return Problem(refusal, 401, headers=_ASK)


def refused_outside() -> Problem:
    """Refuse who comes by a way on which others can read along."""
    return Problem(
        NotAllowed(
            "api/not-private",
            "The API answers on the station's own machine, and elsewhere over an encrypted "
            "connection to whoever has a token. Ask at the address that begins with https.",
        ),
        403,
    )


def refused_busy(wait_s: int) -> Problem:
    """Refuse who asks too often."""
    return Problem(
        Unavailable("api/wait", f"Too much was asked at once. Wait {wait_s} s, then ask again."),
        429,
        headers={"retry-after": str(wait_s)},
    )


def refused_other_page(headers: Headers) -> Problem | None:
    """Refuse a change that a browser sends for a page that is not ours.

    A session's cookie goes with whatever a browser sends; what a page of ours sends names our
    address as its origin.
    """
    if headers.get("origin", "").partition("://")[2] == headers.get("host", "") != "":
        return None
    return Problem(
        NotAllowed(
            "api/other-site",
            "Signed in by a page, changes are made from the station's own pages alone. A program "
            "shows a token instead: “Authorization: Bearer …”.",
        ),
        403,
    )


def refused_beyond(
    account: Account | None, token: Token | None, scope: Scope, roles: frozenset[Role]
) -> Problem | None:
    """Refuse what a token's scopes, or its account's roles, do not reach."""
    if token is not None and scope not in token.scopes:
        return _beyond(f"the scope {scope!r}", token.scopes)
    if account is not None and not may(account.roles, roles):
        return _beyond(f"one of the roles {', '.join(sorted(roles))}", account.roles)
    return None


def _beyond(needed: str, given: Sequence[str]) -> Problem:
    return Problem(
        NotAllowed(
            "api/beyond",
            f"This needs {needed}; what came has {', '.join(given)}. The steward can give more.",
        ),
        403,
    )
