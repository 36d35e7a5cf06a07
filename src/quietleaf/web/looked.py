"""When one last looked at the day: kept by the browser, for each account of it.

It holds two moments: up to when the visit before this one went, and when the present one last
looked. What came in since the first is told during the whole visit, also when a page is loaded
again; after half an hour without a look another visit begins.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from starlette.requests import HTTPConnection

from quietleaf.web.entry import current_account

LOOKED_COOKIE = "quietleaf_looked"
KEPT_S = 90 * 24 * 3600
NEW_VISIT = timedelta(minutes=30)
"""Ours: a meal, not a telephone call."""
FIRST_VISIT = "0"
_WRITTEN = re.compile(r"([0-9]{1,11})\.([0-9]{1,11})")


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """Up to when the visit before this one went, and when somebody last looked; aware UTC.

    Attributes
    ----------
    before : datetime or None
        None in the first visit.
    """

    before: datetime | None
    last: datetime


def cookie_name() -> str:
    """Name the cookie of who signed in here: two people at one machine look for themselves."""
    account = current_account()
    if account is None:
        return LOOKED_COOKIE
    return f"{LOOKED_COOKIE}_{hashlib.sha256(account.name.encode()).hexdigest()[:8]}"


def looked_of(request: HTTPConnection, now: datetime) -> Looked | None:
    """Say when whoever asks looked before; None where they did not, or it cannot be read."""
    found = _WRITTEN.fullmatch(request.cookies.get(cookie_name(), ""))
    if found is None:
        return None
    try:
        before, last = (datetime.fromtimestamp(int(part), UTC) for part in found.groups())
    except (ValueError, OverflowError, OSError):
        return None  # a number that is no moment: nobody of ours wrote it
    if not before <= last <= now:
        return None
    if now - last >= NEW_VISIT:
        return Looked(before=last, last=last)
    return Looked(before=before if found[1] != FIRST_VISIT else None, last=last)


def text_of_look(looked: Looked | None, now: datetime) -> str:
    """Write what the browser keeps: somebody looks just now.

    Examples
    --------
    >>> at = datetime(2026, 11, 25, tzinfo=UTC)
    >>> text_of_look(Looked(before=at, last=at), at + timedelta(seconds=90))
    '1795564800.1795564890'
    """
    before = FIRST_VISIT
    if looked is not None and looked.before is not None:
        before = str(int(looked.before.timestamp()))
    return f"{before}.{int(now.timestamp())}"
