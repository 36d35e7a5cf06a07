"""What a form sent: read within limits, and from our own pages alone."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from urllib.parse import parse_qsl

from starlette.requests import HTTPConnection, Request

from quietleaf.booth.timeline import Place
from quietleaf.errors import Invalid, NotAllowed

LARGEST_FORM_BYTES = 65_536


async def form_of(request: Request) -> dict[str, str]:
    """Read a form; of a name that came twice the values stand on a line each.

    Raises
    ------
    NotAllowed
        If it was sent from a page of another site.
    Invalid
        If it is larger than any of our forms, or is no UTF-8.
    """
    refuse_other_site(request)
    body = b""
    async for part in request.stream():
        body += part
        if len(body) > LARGEST_FORM_BYTES:
            raise Invalid(
                "web/form-size",
                f"A form holds at most {LARGEST_FORM_BYTES // 1024} kB of text; more came. "
                "Shorten it and send it again.",
            )
    try:
        pairs = parse_qsl(
            body.decode(), keep_blank_values=True, errors="strict", max_num_fields=1000
        )
    except ValueError:
        raise Invalid(
            "web/form-text", "What the form sent cannot be read as text. Type it again."
        ) from None
    values: dict[str, str] = {}
    for name, value in pairs:
        value = value.replace("\r\n", "\n").strip()
        values[name] = f"{values[name]}\n{value}" if name in values else value
    return values


def asked_id_of(path: str, form: Mapping[str, str]) -> str:
    """Name a wish by all that it says, so that the same form sent twice is entered once."""
    told = "\n".join([path, *(f"{name}={form[name]}" for name in sorted(form))])
    return hashlib.sha256(told.encode()).hexdigest()[:32]


def whole_number(text: str) -> int:
    """Read a whole number that a page of ours sent.

    Raises
    ------
    Invalid
        If it is none: the page was changed on its way.
    """
    if not (text.isascii() and text.isdigit() and len(text) < 16):
        raise not_understood()
    return int(text)


def place_of_text(text: str) -> Place:
    """Read a place of a take as a page writes it: ``2:48000``; raises as `whole_number`."""
    take, _, sample = text.partition(":")
    return whole_number(take), whole_number(sample)


def not_understood() -> Invalid:
    """Refuse what no page of ours sends."""
    return Invalid(
        "web/form", "What this page sent cannot be read. Nothing was entered; open it again."
    )


def refuse_other_site(request: HTTPConnection) -> None:
    """Refuse what a page of another site made the browser send.

    Raises
    ------
    NotAllowed
        If the request names an origin other than the address it came to.
    """
    origin = request.headers.get("origin")
    is_other = origin is not None and origin.partition("://")[2] != request.headers.get("host", "")
    # Browsers say so themselves, also where they send no origin.
    if is_other or request.headers.get("sec-fetch-site", "") in ("cross-site", "same-site"):
        raise NotAllowed(
            "web/other-site",
            "This was sent from a page of another site, and is not done. Open the station's own "
            "page and try again.",
        )
